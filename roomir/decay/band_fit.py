"""All claps of one band fitted together: where the decay starts, how many slopes it has."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from roomir.bands.filters import BandFilter
from roomir.decay.blocks import (
    block_energies,
    coarse_fit,
    earliest_start_s,
    fine_edges,
    without_depth,
)
from roomir.decay.energy import EnergyTrace
from roomir.decay.likelihood import (
    BlockEnergies,
    DecayFit,
    Floats,
    Ints,
    fit_decay,
    mean_decay,
    solve_2x2,
)
from roomir.decay.model import DB_PER_NEPER, DecayModel, log_decay_time_gradient

DISCARDS_S = (0.0, 0.004, 0.009, 0.015, 0.022, 0.03, 0.04, 0.052, 0.066)
"""How much of the beginning may be passed over for direct sound, a long clap and first reflections. [s]"""

LEADING_HZ = 900.0
"""Octaves from 1 kHz on tell the others where the first reflections end. [Hz]"""

_EARLY_WINDOWS_S = (0.006, 0.015, 0.03)
_EARLY_EXCESS = 2.0
_EARLY_LACK = 2.5
_DISCARD_SHARE = 0.55
_DISCARD_DB = 9.0

_SECOND_SLOPE_GAIN = 6.0
"""Log-likelihood that a second slope must gain. Twice this is compared with chi-square of two
degrees of freedom whose level cannot be negative: false in well under 1 % of straight decays."""
_SECOND_SLOPE_RATIO = 1.15
_SECOND_SLOPE_SHOWS_DB = 6.0
_FIRST_SLOPE_SHOWS_DB = 4.0
_EARLIEST_BEND_S = 0.075
"""A bend any earlier is taken for the end of the first reflections, not for a slope of the room. [s]"""
_FIRST_SLOPE_LASTS_S = 0.045
_SECOND_SLOPE_HINT = 2.0
_SECOND_SLOPE_STARTS = ((1.1, -18.0), (1.5, -8.0))
_SLOWER = (0.75, 0.5, 0.3)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BandFit:
    """Fits of one band over the claps that show in it.

    Attributes
    ----------
    band_filter : BandFilter
        The band.
    rows : int array, shape (n_shown,)
        Which of the claps show in this band.
    traces : tuple of EnergyTrace
        Theirs.
    blocks : BlockEnergies
        Their energies from ``start_s`` on.
    start_s : float
        Where the fit starts after the onset. [s]
    discard_s : float
        How much of it was passed over for direct sound and first reflections. [s]
    joint : DecayFit
        One decay shared by all of them.
    own : DecayFit
        One decay for each of them, with as many slopes.
    likeness : array, shape (n_shown, n_shown)
        Correlation of the fine structure of each pair of claps, 0 to 1.
    second_slope_gain : float
        Log-likelihood that a second slope gains, whether or not it was let in.
    """

    band_filter: BandFilter
    rows: Ints
    traces: tuple[EnergyTrace, ...]
    blocks: BlockEnergies
    start_s: float
    discard_s: float
    joint: DecayFit
    own: DecayFit
    likeness: Floats
    second_slope_gain: float

    @property
    def n_slopes(self) -> int:
        """Number of slopes."""
        return self.joint.n_slopes

    def model(self, row: int) -> DecayModel:
        """Return the fitted decay of one clap."""
        return self.own.model(row)


def fit_bands(
    traces: Sequence[Sequence[EnergyTrace | None]], *, filters: Sequence[BandFilter]
) -> tuple[BandFit | None, ...]:
    """Fit all bands of a reading, the wide ones first.

    Direct sound and first reflections end at the same moment in every band, and the wide
    bands, which hold more independent energies in a millisecond, see that moment best: what
    most of them pass over, the others pass over too.

    Parameters
    ----------
    traces : sequence (n_claps) of sequence (n_bands) of EnergyTrace or None
        Every clap in every band; None where the clap's recording cannot carry the band.
    filters : sequence (n_bands) of BandFilter
        The bands.

    Returns
    -------
    tuple of BandFit or None
        One a band; None where no clap shows a decay.
    """
    fits: list[BandFit | None] = [None] * len(filters)
    least_s = 0.0
    wide = [i for i, f in enumerate(filters) if f.band.exact_hz >= LEADING_HZ]
    narrow = [i for i in range(len(filters)) if i not in wide]
    for i in wide:
        fits[i] = _fit_column(traces, i, band_filter=filters[i], least_discard_s=0.0)
    seen = sorted(fit.discard_s for fit in fits if fit is not None)
    if seen:
        least_s = seen[(len(seen) - 1) // 2]
    for i in narrow + wide:
        fit = fits[i]
        if fit is None or fit.discard_s < least_s:
            fits[i] = _fit_column(traces, i, band_filter=filters[i], least_discard_s=least_s)
    return tuple(fits)


def _fit_column(
    traces: Sequence[Sequence[EnergyTrace | None]],
    column: int,
    *,
    band_filter: BandFilter,
    least_discard_s: float,
) -> BandFit | None:
    held = [(row, trace) for row, bands in enumerate(traces) if (trace := bands[column]) is not None]
    if not held:
        return None
    fit = fit_band([trace for _, trace in held], band_filter=band_filter, least_discard_s=least_discard_s)
    if fit is None:
        return None
    rows = np.array([row for row, _ in held], dtype=np.intp)
    return replace(fit, rows=rows[fit.rows])


def fit_band(
    traces: Sequence[EnergyTrace], *, band_filter: BandFilter, least_discard_s: float = 0.0
) -> BandFit | None:
    """Fit the decay of one band over all claps.

    Parameters
    ----------
    traces : sequence of EnergyTrace
        One a clap.
    band_filter : BandFilter
        The band.
    least_discard_s : float
        How much of the beginning to pass over at least, as far as the decay allows. [s]

    Returns
    -------
    BandFit or None
        None where no clap shows a decay of ``LEAST_RANGE_DB`` in this band.
    """
    coarse = coarse_fit(traces, band_filter=band_filter)
    if coarse is None:
        return None
    rows, crosspoints_s, log_rate = coarse.shown, coarse.crosspoint_s[coarse.shown], coarse.log_rate
    if rows.size == 0:
        return None
    shown = tuple(traces[int(row)] for row in rows)
    first_s = earliest_start_s(band_filter)
    edges_s = fine_edges(
        first_s=first_s,
        crosspoint_s=float(crosspoints_s.max()),
        end_s=max(trace.end_s for trace in shown),
        width_hz=band_filter.band.width_hz,
    )
    fine = block_energies(shown, edges_s=edges_s, band_filter=band_filter)
    fine = without_depth(fine, crosspoint_s=crosspoints_s, log_rate=log_rate[rows])
    enough = (fine.shape > 0).sum(axis=1) >= 5
    if not enough.all():
        rows, crosspoints_s = rows[enough], crosspoints_s[enough]
        shown = tuple(t for t, e in zip(shown, enough, strict=True) if e)
        fine = BlockEnergies(edges_s=edges_s, energy=fine.energy[enough], shape=fine.shape[enough])
    if rows.size == 0:
        return None
    discard_s, masked, joint, gain = _choose_start(
        fine,
        least_s=least_discard_s,
        first_s=first_s,
        crosspoint_s=float(np.median(crosspoints_s)),
        log_rate=float(np.median(log_rate[rows])),
        log_level=coarse.log_level[rows],
        log_noise=coarse.log_noise[rows],
    )
    n = rows.size
    own = fit_decay(
        masked,
        group=np.arange(n),
        shared=np.repeat(joint.shared, n, axis=0),
        log_level=joint.log_level,
        log_noise=joint.log_noise,
    )
    return BandFit(
        band_filter=band_filter,
        rows=rows,
        traces=shown,
        blocks=masked,
        start_s=first_s + discard_s,
        discard_s=discard_s,
        joint=joint,
        own=own,
        likeness=likeness(joint, masked.shape),
        second_slope_gain=gain,
    )


def _choose_start(
    blocks: BlockEnergies,
    *,
    first_s: float,
    least_s: float,
    crosspoint_s: float,
    log_rate: float,
    log_level: Floats,
    log_noise: Floats,
) -> tuple[float, BlockEnergies, DecayFit, float]:
    """Start as early as the beginning agrees with the rest of the decay.

    Direct sound, a long clap and the first reflections stand above the
    reverberation; a gap before the first reflection lies below it. Either
    shows as a score: what the first blocks hold over what the fit expects.
    """
    db_per_s = DB_PER_NEPER * float(np.exp(log_rate))
    most_s = min(_DISCARD_SHARE * crosspoint_s - first_s, _DISCARD_DB / db_per_s)
    allowed = [d for d in DISCARDS_S if d <= max(most_s, 0.0)]
    discards = [d for d in allowed if d >= least_s] or allowed[-1:]
    group = np.zeros(log_level.size, dtype=np.intp)
    shared = np.array([[log_rate]])
    best: tuple[float, tuple[float, BlockEnergies, DecayFit, float]] | None = None
    for discard_s in discards:
        start_s = first_s + discard_s
        masked = blocks.starting_at(start_s)
        if best is not None and (masked.shape > 0).any(axis=0).sum() < 6:
            break
        fit = fit_decay(masked, group=group, shared=shared, log_level=log_level, log_noise=log_noise)
        shared, log_level, log_noise = fit.shared, fit.log_level, fit.log_noise
        worth = effective_number(likeness(fit, masked.shape))
        score = _early_score(masked, fit, start_s=start_s, worth=worth)
        second, gain = _second_slope(masked, fit, worth=worth)
        if second is not None:
            fit, score = second, _early_score(masked, second, start_s=start_s, worth=worth)
        if best is None or score < best[0]:
            best = (score, (discard_s, masked, fit, gain))
        if score < 1.0:
            break
    if best is None:  # pragma: no cover - the first start is always tried
        raise AssertionError
    return best[1]


def _early_score(blocks: BlockEnergies, fit: DecayFit, *, start_s: float, worth: float) -> float:
    """Largest standardised score of a level of their own for the first blocks, over its limit.

    ``worth`` is how many unrelated claps the group is worth: claps in one spot
    repeat the same first reflections.
    """
    n_claps = blocks.energy.shape[0]
    first = int(np.searchsorted(blocks.edges_s, start_s - 1e-9))
    width_s = float(blocks.edges_s[first + 1] - blocks.edges_s[first])
    largest = 0.0
    last_tried = first
    for window_s in _EARLY_WINDOWS_S:
        last = int(np.searchsorted(blocks.edges_s[:-1], start_s + max(window_s, 1.5 * width_s)))
        if last == last_tried:
            continue
        last_tried = last
        early = np.zeros_like(blocks.shape)
        early[:, first:last] = 1.0
        score, variance = fit.without_nuisance(early, blocks.shape)
        if variance > 1e-6 * float(blocks.shape[:, first:last].sum()):
            z = float(score / np.sqrt(variance * n_claps / worth))
            largest = max(largest, z / _EARLY_EXCESS, -z / _EARLY_LACK)
    return largest


def _second_slope(blocks: BlockEnergies, one: DecayFit, *, worth: float) -> tuple[DecayFit | None, float]:
    """Fit two slopes where a score test gives reason to; keep them where the likelihood demands them.

    Returns
    -------
    DecayFit or None
        Both slopes, where the gain is high and both can be seen.
    gain : float
        Log-likelihood that a second slope gains, from the score where it was not fitted.
    """
    n = one.log_level.size
    share = worth / n
    likely = []
    level = np.exp(one.log_level)[:, None]
    for slower in _SLOWER:
        mean, _ = mean_decay(np.exp(one.log_rate[:, 0]) * slower, blocks.edges_s)
        score, variance = one.without_nuisance(level * mean / one.expectation, blocks.shape)
        z = float(score / np.sqrt(variance)) if variance > 0.0 else 0.0
        likely.append((0.5 * max(z, 0.0) ** 2 * share, slower))
    gain, slower = max(likely)
    if gain < _SECOND_SLOPE_HINT:
        return None, gain
    starts = [
        [one.log_rate[0, 0] + np.log(up), one.log_rate[0, 0] + np.log(slower), level_db / DB_PER_NEPER]
        for up, level_db in _SECOND_SLOPE_STARTS
    ]
    group = np.zeros(n, dtype=np.intp)
    tried = [
        fit_decay(
            blocks,
            group=group,
            shared=np.array([start]),
            log_level=one.log_level,
            log_noise=one.log_noise - 1.0,
            settled=1e-3,
        )
        for start in starts
    ]
    best = max(tried, key=lambda fit: float(fit.log_likelihood[0]))
    gain = float(best.log_likelihood[0] - one.log_likelihood[0]) * share
    if gain < _SECOND_SLOPE_GAIN or not _both_show(blocks, best):
        return None, gain
    return best, gain


def _both_show(blocks: BlockEnergies, fit: DecayFit) -> bool:
    """Whether both slopes can be seen between start and background, and differ enough to matter."""
    fast, slow = np.exp(fit.log_rate[0])
    if fast / slow < _SECOND_SLOPE_RATIO or fit.log_ratio[0] > 0.0:
        return False
    used = (blocks.shape > 0).any(axis=0)
    start_s = float(blocks.edges_s[:-1][used][0])
    # Where the slower slope takes over.
    bend_s = max(-float(fit.log_ratio[0]) / (fast - slow), 0.0)
    if bend_s < max(_EARLIEST_BEND_S, start_s + _FIRST_SLOPE_LASTS_S):
        return False
    first_shows = DB_PER_NEPER * fast * (bend_s - start_s)
    quietest = float((fit.log_noise - fit.log_level).min())
    second_shows = DB_PER_NEPER * (float(fit.log_ratio[0]) - slow * bend_s - quietest)
    return bool(first_shows >= _FIRST_SLOPE_SHOWS_DB and second_shows >= _SECOND_SLOPE_SHOWS_DB)


def influence(fit: DecayFit, shape: Floats, *, first_slope: bool = False) -> tuple[Floats, Floats]:
    """How each block of each clap moves the log decay time of its group.

    Parameters
    ----------
    fit : DecayFit
        The fit.
    shape : array, shape (n_claps, n_blocks)
        Gamma shapes it was made with.
    first_slope : bool
        Whether the time is that of the first of two slopes alone.

    Returns
    -------
    weights : array, shape (n_claps, n_blocks)
        Change of the group's log decay time per unit of relative residual.
    variance : array, shape (n_groups,)
        Variance of the log decay time if the claps were unrelated, from the efficient information.
    """
    n = fit.n_shared
    if first_slope or n == 1:
        gradient = np.zeros_like(fit.shared)
        gradient[:, 0] = -1.0
    else:
        gradient = np.array([log_decay_time_gradient(row) for row in fit.shared])
    ridge = 1e-9 * np.eye(n)
    direction = np.linalg.solve(fit.information + ridge, gradient[..., None])[..., 0]
    along = direction[fit.group]
    # The efficient score of a clap along this direction: level and background taken out.
    own = solve_2x2(fit.clap_information[:, n:, n:], fit.clap_information[:, n:, :n] @ along[:, :, None])
    coefficients = np.concatenate([along[:, None, :], -own.transpose(0, 2, 1)], axis=2)
    weights = (coefficients @ fit.jacobian)[:, 0] * shape
    return weights, (direction * gradient).sum(axis=1)


def likeness(fit: DecayFit, shape: Floats) -> Floats:
    """Correlation between claps of the weighted residuals of a joint fit, clipped to 0 to 1.

    Claps in one spot share the room's fine structure, so their residuals move
    together; claps in different spots have nothing in common.
    """
    if fit.log_level.size == 1:
        return np.ones((1, 1))
    weights, _ = influence(fit, shape)
    weighted = weights * fit.residual
    cross = weighted @ weighted.T
    norm = np.sqrt(np.maximum(np.diag(cross), np.finfo(float).tiny))
    out = np.clip(cross / np.outer(norm, norm), 0.0, 1.0)
    np.fill_diagonal(out, 1.0)
    return np.asarray(out)


def effective_number(likeness_: Floats) -> float:
    """How many unrelated claps a set is worth: n^2 over the sum of all pairwise correlations."""
    return float(likeness_.shape[0] ** 2 / likeness_.sum())
