r"""The difference of two decay times with its 95 % interval.

Everything is done on the logarithm of the decay time. Sides that were heard in
spots of their own are unrelated, and their degrees of freedom are Welch's and
Satterthwaite's (B. L. Welch, Biometrika 34 (1947) 28-35; F. E. Satterthwaite,
Biometrics Bull. 2 (1946) 110-114). Where the same positions were heard on both
sides, the differences of the pairs give the uncertainty: what is peculiar to a
position then cancels.

The logarithms of both sides lie with 95 % confidence in an ellipse, and the
interval of a change in seconds, of a ratio, or of an absorption area is the
least and the greatest value that it takes on that ellipse. So all of them hold
zero, or none of them does.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomir.compare.verdicts import MOST_MORE_SPOTS, MoreSpots, verdict_of
from roomir.decay.combine import LEAST_SPOTS
from roomir.reading.reading import Interval

Floats = NDArray[np.float64]

Z95 = 1.959964
_CONFIDENCE = 0.975

_ANGLES = np.linspace(0.0, 2.0 * np.pi, 2881)
"""Every eighth of a degree: between two of them an extreme is missed by less than a millionth of it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """One decay time of a room in one state, as a comparison needs it.

    Attributes
    ----------
    decay_time_s : float
        Mean over the spots. [s]
    u_relative : float
        Relative standard uncertainty for the room.
    degrees_of_freedom : int or None
        Of ``u_relative``; ``None`` where it is from theory and counts as known.
    u_theory_relative : float
        What theory alone says; never undercut.
    spots : int
        Spots behind it.
    """

    decay_time_s: float
    u_relative: float
    degrees_of_freedom: int | None
    u_theory_relative: float
    spots: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Difference:
    """Two decay times, and the ellipse that holds their logarithms.

    Attributes
    ----------
    before_s, after_s : float
        The decay times set against each other. [s]
    log_ratio : float
        Logarithm of after over before.
    log_half_width : float
        Half of its 95 % interval.
    p_value : float
        How often chance alone shows a difference as large, two-sided.
    ellipse : array, shape (2, 2)
        Columns are the half axes of the 95 % ellipse of the logarithms (after, before).
    positions : int or None
        Positions compared one by one; ``None`` where both sides were heard in spots of their own.
    """

    before_s: float
    after_s: float
    log_ratio: float
    log_half_width: float
    p_value: float
    ellipse: Floats
    positions: int | None = None

    def interval_of(self, quantity: Callable[[Floats, Floats], Floats]) -> Interval:
        """Give the 95 % interval of a quantity that both decay times make.

        Parameters
        ----------
        quantity : callable
            Takes arrays of decay times after and before, shape (n,) [s]; it
            has to rise with one of them and fall with the other.

        Returns
        -------
        (float, float)
            Lower and upper end.
        """
        around = self.ellipse @ np.stack([np.cos(_ANGLES), np.sin(_ANGLES)])
        values = quantity(self.after_s * np.exp(around[0]), self.before_s * np.exp(around[1]))
        return float(values.min()), float(values.max())


def between(*, before: Side, after: Side) -> Difference:
    """Set two sides heard in spots of their own against each other.

    Parameters
    ----------
    before, after : Side
        The sides.

    Returns
    -------
    Difference
        With the wider one of two intervals: from scatter or prior through
        Student's t, and from theory alone.
    """
    log_ratio = math.log(after.decay_time_s / before.decay_time_s)
    u = np.array([after.u_relative, before.u_relative])
    u_theory = np.array([after.u_theory_relative, before.u_theory_relative])
    dof = _degrees_of_freedom(before=before, after=after)
    radius = _student(dof)
    seen, theory = radius * float(np.hypot(*u)), Z95 * float(np.hypot(*u_theory))
    half_axes = radius * u if seen >= theory else Z95 * u_theory
    return Difference(
        before_s=before.decay_time_s,
        after_s=after.decay_time_s,
        log_ratio=log_ratio,
        log_half_width=max(seen, theory),
        p_value=max(
            _p_value(log_ratio, u=float(np.hypot(*u)), dof=dof),
            _p_value(log_ratio, u=float(np.hypot(*u_theory)), dof=None),
        ),
        ellipse=np.diag(half_axes),
    )


def of_pairs(*, before_s: Floats, after_s: Floats, u_relative: Floats) -> Difference:
    """Set the same positions against each other, one by one.

    Parameters
    ----------
    before_s, after_s : array, shape (n_positions,)
        Decay time in each position; at least two. [s]
    u_relative : array, shape (n_positions,)
        Standard uncertainty of each pair's logarithm of the ratio by theory,
        which shares out the weights.

    Returns
    -------
    Difference
        Its decay times are the weighted geometric means over the positions.
    """
    logs = np.stack([np.log(after_s), np.log(before_s)])
    n = logs.shape[1]
    change = logs[0] - logs[1]
    # A position that hardly rises above its noise counts for less; among the others scatter decides.
    weight = 1.0 / np.maximum(u_relative**2, max(float(change.var(ddof=1)), 1e-18))
    weight /= weight.sum()
    mean = logs @ weight
    off = logs - mean[:, np.newaxis]
    covariance = (weight * off) @ off.T / (n - 1)
    u = math.sqrt(max(float(covariance[0, 0] + covariance[1, 1] - 2.0 * covariance[0, 1]), 0.0))
    radius = _student(n - 1)
    values, vectors = np.linalg.eigh(covariance)
    log_ratio = float(mean[0] - mean[1])
    return Difference(
        before_s=float(np.exp(mean[1])),
        after_s=float(np.exp(mean[0])),
        log_ratio=log_ratio,
        log_half_width=radius * u,
        p_value=_p_value(log_ratio, u=u, dof=n - 1),
        ellipse=radius * vectors * np.sqrt(np.maximum(values, 0.0)),
        positions=n,
    )


def _degrees_of_freedom(*, before: Side, after: Side) -> float | None:
    """Welch and Satterthwaite, for the ratio or the difference in seconds, whichever has fewer."""
    fewest: float | None = None
    for of_seconds in (False, True):
        variances = [
            (side.u_relative * (side.decay_time_s if of_seconds else 1.0)) ** 2 for side in (before, after)
        ]
        lost = sum(
            variance**2 / side.degrees_of_freedom
            for variance, side in zip(variances, (before, after), strict=True)
            if side.degrees_of_freedom is not None
        )
        if lost > 0.0:
            dof = sum(variances) ** 2 / lost
            fewest = dof if fewest is None else min(fewest, dof)
    return fewest


def _student(dof: float | None) -> float:
    if dof is None:
        return Z95
    from scipy.special import stdtrit

    return float(stdtrit(dof, _CONFIDENCE))


def _p_value(log_ratio: float, *, u: float, dof: float | None) -> float:
    from scipy.special import ndtr, stdtr

    if log_ratio == 0.0:
        return 1.0
    if u == 0.0:
        return 0.0
    score = -abs(log_ratio) / u
    return float(2.0 * (ndtr(score) if dof is None else stdtr(dof, score)))


def more_spots_needed(
    *, before: Side, after: Side, log_ratio: float, half_width: float, positions: int | None = None
) -> MoreSpots:
    """Work out how many more spots would turn "cannot tell" into a verdict.

    Parameters
    ----------
    before, after : Side
        The sides.
    log_ratio, half_width : float
        Logarithm of after over before, and half of its 95 % interval, as they are.
    positions : int, optional
        Positions compared one by one, if they were.

    Returns
    -------
    MoreSpots
        For more spots after alone (the state before may be gone for good), and
        for as many more on both sides.
    """
    counts = range(1, MOST_MORE_SPOTS + 1)
    if positions is not None:
        u_one = half_width / _student(positions - 1) * math.sqrt(positions)
        pairs = (
            k
            for k in counts
            if _settles(log_ratio, _student(positions + k - 1) * u_one / math.sqrt(positions + k))
        )
        return MoreSpots(after_only=None, on_each_side=next(pairs, None))

    def needed(with_before: int) -> int | None:
        tries = (
            k
            for k in counts
            if _settles(
                log_ratio,
                between(before=_with(before, k * with_before), after=_with(after, k)).log_half_width,
            )
        )
        return next(tries, None)

    return MoreSpots(after_only=needed(0), on_each_side=needed(1))


def _settles(log_ratio: float, half_width: float) -> bool:
    return verdict_of(log_ratio, half_width=half_width) != "cannot tell"


def _with(side: Side, more: int) -> Side:
    """Return what a side would be with more spots that scatter as the present ones do."""
    if more == 0:
        return side
    n = side.spots + more
    shrink = math.sqrt(side.spots / n)
    return Side(
        decay_time_s=side.decay_time_s,
        u_relative=side.u_relative * shrink,
        degrees_of_freedom=n - 1 if n >= LEAST_SPOTS else None,
        u_theory_relative=side.u_theory_relative * shrink,
        spots=n,
    )
