r"""A room model that learns: what the materials are said to absorb, corrected by what the room has shown.

Per octave the unknowns are one log-factor :math:`\theta_m` for the coefficient
of each material (prior: normal, its spread), and one log-factor
:math:`\delta` for the formula (prior: normal, the formula's own spread). A
reading of one stage says

.. math:: \ln T_\mathrm{read} = \ln T_w(\alpha_m e^{\theta_m}) + \delta + e

with e from the reading's interval. The posterior is found by Gauss-Newton and
stated by its curvature, and it is the prior of the next stage; a material that
comes new brings its own prior. Between stages the formula's error wanders by
`WANDER`.

In a box of known size nobody knows beforehand how well it mixes directions:
:math:`\ln T_w = (1 - w) \ln T_\mathrm{Eyring} + w \ln T_\mathrm{mirror}` lies
between a diffuse field and an empty box whose walls mirror. The posterior is
kept for several w side by side, each weighed by how well it foresaw the
readings. Where the size is not known, the formula that applies is taken alone.

Derived here; the scheme is that of the iterated extended Kalman filter with
several models (A. H. Jazwinski, "Stochastic Processes and Filtering Theory"
(1970), chapter 8, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from roomir.bands.band import OCTAVES
from roomir.errors import ParameterError
from roomir.rooms.description import Room
from roomir.rooms.five_formulas import Absorbing, eyring_s
from roomir.rooms.mirror_box import mirror_box_s
from roomir.rooms.prediction import (
    FORMULA_SPREAD,
    MODAL_SPREAD,
    absorbing,
    best_s,
    choose_method,
    known_octaves,
    picked,
    spread_of_formula,
)
from roomir.rooms.statistics import schroeder_frequency_hz

Values = NDArray[np.float64]

WANDER = 0.03
"""Standard deviation of ln T by which the formula's error changes from stage to stage: own choice."""

MIXINGS = (0.0, 0.25, 0.5, 0.75, 1.0)
"""Values of w, equally likely before the first reading."""

LEARNED = "the room's own readings"
"""What is named in place of a formula once the room has been read."""

_ROUNDS = 6
_STEP = 1e-4
_Z95 = 1.959964


@dataclass(frozen=True, slots=True, kw_only=True)
class StageReading:
    """What was read in one stage.

    Attributes
    ----------
    name : str
        The stage.
    decay_time_s : mapping of int to (float, float)
        By index of the octave: decay time and its standard uncertainty as a
        share of it. [s, 1]
    """

    name: str
    decay_time_s: Mapping[int, tuple[float, float]]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Knowledge:
    """What is known of one room, per octave: a mean and a covariance for every mixing.

    Attributes
    ----------
    octaves : tuple of int
        Indices of the octaves.
    names : tuple of str
        Materials met so far, in the order of the unknowns; the last unknown is the formula's.
    mixings : tuple of float
        Values of w; empty before the first reading, ``(nan,)`` where the size is not known.
    weight : array, shape (mixings,)
        Probability of each.
    mean : array, shape (mixings, bands, names + 1)
        Log-factors.
    covariance : array, shape (mixings, bands, names + 1, names + 1)
        Of them.
    stages : tuple of str
        Readings that went in.
    """

    octaves: tuple[int, ...]
    names: tuple[str, ...] = ()
    mixings: tuple[float, ...] = ()
    weight: Values
    mean: Values
    covariance: Values
    stages: tuple[str, ...] = ()

    def factor(self, name: str) -> Values:
        """Mean factor on the coefficient of a material, shape (bands,); 1 where nothing is known."""
        if name not in self.names:
            return np.ones(len(self.octaves))
        return np.asarray(np.exp(self.weight @ self.mean[:, :, self.names.index(name)]))

    @property
    def mixing(self) -> float:
        """Mean of w; nan where the size is not known."""
        return float(self.weight @ np.array(self.mixings)) if self.mixings else math.nan


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Expected:
    """What a room is expected to read.

    Attributes
    ----------
    octaves : tuple of int
        Indices of the octaves.
    decay_time_s : array, shape (bands,)
        Median. [s]
    log_spread : array, shape (bands,)
        Standard deviation of its logarithm.
    method : str
        The formula, or `LEARNED`.
    because : str
        Why this one.
    body : Absorbing
        The room with corrected coefficients.
    """

    octaves: tuple[int, ...]
    decay_time_s: Values
    log_spread: Values
    method: str
    because: str
    body: Absorbing

    @property
    def ci95_s(self) -> Values:
        """95 % interval, shape (bands, 2). [s]."""
        reach = np.exp(_Z95 * self.log_spread)
        return np.stack([self.decay_time_s / reach, self.decay_time_s * reach], axis=1)

    def chance_inside(self, low_s: Values, high_s: Values) -> Values:
        """Probability that each band lies between two times (0 and infinity where there is no limit)."""
        middle = np.log(self.decay_time_s)
        with np.errstate(divide="ignore"):
            ends = [(np.log(end) - middle) / self.log_spread for end in (low_s, high_s)]
        below, above = (np.array([0.5 * math.erfc(-x / math.sqrt(2.0)) for x in end]) for end in ends)
        return np.asarray(above - below)


def know_nothing(octaves: Sequence[int]) -> Knowledge:
    """Knowledge before any reading: the tables and the formula are right on average."""
    n = len(octaves)
    return Knowledge(
        octaves=tuple(octaves), weight=np.ones(1), mean=np.zeros((1, n, 1)), covariance=np.zeros((1, n, 1, 1))
    )


def at_octaves(knowledge: Knowledge, octaves: Sequence[int]) -> Knowledge:
    """Keep only some octaves."""
    rows = [knowledge.octaves.index(i) for i in octaves]
    return replace(
        knowledge,
        octaves=tuple(octaves),
        mean=knowledge.mean[:, rows],
        covariance=knowledge.covariance[:, rows],
    )


def expect(room: Room, knowledge: Knowledge | None = None) -> Expected:
    """Say what a room is expected to read, given what is known.

    Parameters
    ----------
    room : Room
        In the stage in question.
    knowledge : Knowledge, optional
        From readings of earlier stages; without it the materials' tables and
        the formula that applies, as in :func:`roomir.rooms.prediction.predict`.

    Returns
    -------
    Expected
        Median and spread per octave.
    """
    known = know_nothing(known_octaves(room)) if knowledge is None else knowledge
    known = _met(known, room)
    view = _View(room, known)
    if not known.stages:
        method, because = choose_method(view.body)
    else:
        method, because = LEARNED, f"the model was corrected by {len(known.stages)} of them"
    covariance = view.with_formula(known)
    means, variances = [], []
    for k, w in enumerate(known.mixings or (math.nan,)):
        log_t, slopes = view.log_times(known.mean[k], w)
        means.append(log_t)
        variances.append(np.einsum("bi,bij,bj->b", slopes, covariance[k], slopes))
    middle = known.weight @ np.array(means)
    spread = known.weight @ (np.array(variances) + (np.array(means) - middle) ** 2)
    return Expected(
        octaves=known.octaves,
        decay_time_s=np.exp(middle),
        log_spread=np.sqrt(spread),
        method=method,
        because=because,
        body=view.corrected(np.einsum("k,kbi->bi", known.weight, known.mean)),
    )


def learn(
    room: Room,
    reading: StageReading,
    knowledge: Knowledge | None = None,
    *,
    mixings: Sequence[float] = MIXINGS,
) -> Knowledge:
    """Let a reading of a stage correct what is known.

    Parameters
    ----------
    room : Room
        As it was in that stage.
    reading : StageReading
        Decay times and their uncertainty; octaves without one stay as they are.
    knowledge : Knowledge, optional
        From earlier stages, in their order.
    mixings : sequence of float
        Values of w to weigh against each other from the first reading on.

    Returns
    -------
    Knowledge
        For the next stage.

    Raises
    ------
    ParameterError
        If the reading has no octave that the room has.
    """
    known = know_nothing(known_octaves(room)) if knowledge is None else knowledge
    if not set(reading.decay_time_s) & set(known.octaves):
        raise ParameterError(
            f"the reading of {reading.name} has no band that the room's materials speak of",
            code="nothing-to-learn",
            remedy="read the room with more range, or give its materials more bands",
        )
    known = _met(known, room)
    view = _View(room, known)
    if not known.mixings:
        known = _spread_out(known, mixings if view.is_box else (math.nan,))
    covariance = view.with_formula(known)
    read = np.array(
        [
            math.log(reading.decay_time_s[i][0]) if i in reading.decay_time_s else math.nan
            for i in known.octaves
        ]
    )
    noise = np.array(
        [
            max(reading.decay_time_s[i][1], 1e-3) ** 2 if i in reading.decay_time_s else 1.0
            for i in known.octaves
        ]
    )
    means, covariances, evidence = [], [], []
    for k, w in enumerate(known.mixings):
        mean, after, fits = _update(view, known.mean[k], covariance[k], w, read=read, noise=noise)
        means.append(mean)
        covariances.append(after)
        evidence.append(fits)
    weight = known.weight * np.exp(np.array(evidence) - max(evidence))
    return replace(
        known,
        weight=weight / weight.sum(),
        mean=np.array(means),
        covariance=np.array(covariances),
        stages=(*known.stages, reading.name),
    )


def _update(
    view: _View, prior: Values, covariance: Values, w: float, *, read: Values, noise: Values
) -> tuple[Values, Values, float]:
    """One reading into one mixing: mean, covariance, and the logarithm of how well it was foreseen."""
    has = np.isfinite(read)
    mean, fits = prior, 0.0
    for first in range(_ROUNDS):
        log_t, slopes = view.log_times(mean, w)
        spread = np.einsum("bij,bj->bi", covariance, slopes)
        variance = np.einsum("bi,bi->b", slopes, spread) + noise
        gain = spread / variance[:, np.newaxis]
        off = np.where(has, read - log_t, 0.0)
        if first == 0:
            fits = float(-0.5 * np.sum((off**2 / variance + np.log(variance))[has]))
        moved = np.einsum("bi,bi->b", slopes, prior - mean)
        step = gain * np.where(has, off - moved, 0.0)[:, np.newaxis]
        mean = prior + step
    after = covariance - np.where(has[:, np.newaxis, np.newaxis], np.einsum("bi,bj->bij", gain, spread), 0.0)
    return mean, after, fits


class _View:
    """A room through the eyes of the model: decay times and slopes for given log-factors."""

    def __init__(self, room: Room, known: Knowledge) -> None:
        self._room = room
        self._names = known.names
        self._octaves = known.octaves
        self._plain = absorbing(room, known.octaves)
        self._walls = tuple(i for i, surface in enumerate(room.surfaces) for _ in surface.patches)
        self.is_box = room.dimensions_m is not None and set(self._plain.facings) == {"x", "y", "z"}
        self.body = self.corrected(np.einsum("k,kbi->bi", known.weight, known.mean))
        self._method, _ = choose_method(self.body)

    def corrected(self, mean: Values) -> Absorbing:
        """The room with its coefficients times the mean factors."""
        index = {name: i for i, name in enumerate(self._names)}
        patches = np.exp(np.stack([mean[:, index[patch.material]] for _, patch in self._room.patches]))
        pieces = np.exp(np.array([mean[:, index[one.material]] for one in self._room.furnishings]))
        plain = self._plain
        return replace(
            plain,
            alphas=plain.alphas * patches,
            pieces_m2=plain.pieces_m2 * pieces.reshape(plain.pieces_m2.shape),
        )

    def log_times(self, mean: Values, w: float) -> tuple[Values, Values]:
        """Logarithm of T and its slopes against every unknown, shapes (bands,) and (bands, unknowns)."""
        base = self._log_time(mean, w)
        slopes = np.zeros_like(mean)
        for i in range(len(self._names)):
            nudged = mean.copy()
            nudged[:, i] += _STEP
            slopes[:, i] = (self._log_time(nudged, w) - base) / _STEP
        slopes[:, -1] = 1.0
        return np.asarray(base + mean[:, -1]), slopes

    def _log_time(self, mean: Values, w: float) -> Values:
        body = self.corrected(mean)
        if math.isnan(w):
            return np.asarray(np.log(best_s(body, self._method)))
        diffuse = np.log(eyring_s(body))
        if w == 0.0 or self._room.dimensions_m is None:
            return np.asarray(diffuse)
        mirror_s = mirror_box_s(body, size_m=self._room.dimensions_m, walls=self._walls)
        return np.asarray(diffuse if mirror_s is None else (1.0 - w) * diffuse + w * np.log(mirror_s))

    def with_formula(self, known: Knowledge) -> Values:
        """Covariance with the formula's part: all of its spread at first, its wandering later."""
        covariance = known.covariance.copy()
        if known.stages:
            covariance[:, :, -1, -1] += WANDER**2
            return covariance
        time_s = best_s(self.body, self._method)
        mids = [k for k, i in enumerate(self._octaves) if OCTAVES[i].nominal_hz in (500, 1000)]
        mid_s = float(np.mean(time_s[mids])) if mids else math.nan
        schroeder_hz = None
        if math.isfinite(mid_s):
            schroeder_hz = schroeder_frequency_hz(volume_m3=self._room.volume_m3, decay_time_s=mid_s)
        if known.mixings and not math.isnan(known.mixings[0]):
            # What unevenness does is in the mixings already.
            modal = [schroeder_hz is not None and OCTAVES[i].exact_hz < schroeder_hz for i in self._octaves]
            covariance[:, :, -1, -1] = np.where(modal, MODAL_SPREAD, FORMULA_SPREAD) ** 2
        else:
            covariance[:, :, -1, -1] = (
                spread_of_formula(self.body, self._octaves, schroeder_hz=schroeder_hz) ** 2
            )
        return covariance


def _spread_out(known: Knowledge, mixings: Sequence[float]) -> Knowledge:
    n = len(mixings)
    return replace(
        known,
        mixings=tuple(mixings),
        weight=np.full(n, 1.0 / n),
        mean=np.repeat(known.mean, n, axis=0),
        covariance=np.repeat(known.covariance, n, axis=0),
    )


def _met(known: Knowledge, room: Room) -> Knowledge:
    """Add the materials of a room that are new, with their own spread and no correlation to what is known."""
    spreads = {patch.material: patch.log_spread for _, patch in room.patches}
    spreads |= {one.material: one.log_spread for one in room.furnishings}
    new = [name for name in sorted(spreads) if name not in known.names]
    if not new:
        return known
    n_old, n_new, bands, mixings = len(known.names), len(new), len(known.octaves), known.mean.shape[0]
    size = n_old + n_new + 1
    mean, covariance = np.zeros((mixings, bands, size)), np.zeros((mixings, bands, size, size))
    kept = [*range(n_old), size - 1]
    mean[:, :, kept] = known.mean
    covariance[np.ix_(range(mixings), range(bands), kept, kept)] = known.covariance
    for i, name in enumerate(new, start=n_old):
        covariance[:, :, i, i] = picked(spreads[name], known.octaves) ** 2
    return replace(known, names=(*known.names, *new), mean=mean, covariance=covariance)
