"""Cutting a decay into blocks: fine where it falls, coarse where only the background is left."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from roomir.bands.filters import BandFilter
from roomir.decay.energy import EnergyTrace
from roomir.decay.likelihood import (
    BlockEnergies,
    DecayFit,
    Floats,
    Ints,
    fit_decay,
)
from roomir.decay.model import DB_PER_NEPER, LN_60_DB

SHORTEST_CLAP_S = 0.003
"""What the shortest source still sounds for: no decay is read before it has passed. [s]"""

LEAST_RANGE_DB = 6.0
"""A clap that stands out of its background by less is not fitted in that band. [dB]"""

DEEPEST_DB = 60.0
"""How far below its start a decay is followed. [dB]"""

_LAST_BLOCKS = 3
_LEAST_BLOCKS = 5
_CLEAR_OF_DECAY = 1.15
_COARSE_SKIP_S = 0.025
_LONGEST_SEEN = 60.0 / LEAST_RANGE_DB
_COARSE_FIRST_S = 0.008
_COARSE_GROWTH = 1.15
_N_FINE = 40
_FINEST_S = 0.003
_FINE_UNTIL_S = 0.05
_FINE_GROWTH = 1.25
_NOISE_GROWTH = 1.3
_LEAST_NOISE_S = 0.25
_LEAST_NOISE_BT = 20.0
_COARSE_SETTLED = 0.01


def earliest_start_s(band_filter: BandFilter) -> float:
    """Where the filter has left the direct sound behind, all but -10 dB of it. [s]"""
    return 0.6 * band_filter.delay_s + SHORTEST_CLAP_S


def block_energies(
    traces: Sequence[EnergyTrace], *, edges_s: Floats, band_filter: BandFilter
) -> BlockEnergies:
    """Sum the traces up in blocks; blocks past the end of a trace get no weight."""
    energy = np.array([trace.mean_between(edges_s) for trace in traces])
    worth = np.array([trace.channels_worth for trace in traces])
    ends = np.array([trace.end_s for trace in traces])
    shape = band_filter.effective_width_hz * np.diff(edges_s)[None, :] * worth[:, None]
    inside = edges_s[None, 1:] <= ends[:, None] + 1e-9
    # An empty block in digital silence has no energy at all; the likelihood needs some.
    tiny = np.finfo(float).tiny * 1e20
    return BlockEnergies(edges_s=edges_s, energy=np.maximum(energy, tiny), shape=np.where(inside, shape, 0.0))


def _coarse_edges(*, first_s: float, end_s: float, width_hz: float) -> Floats:
    width = max(1.0 / width_hz, _COARSE_FIRST_S)
    edges = [first_s]
    while edges[-1] + width <= end_s:
        edges.append(edges[-1] + width)
        width *= _COARSE_GROWTH
    return np.array(edges)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CoarseFit:
    """One slope per clap, good enough to know where to look.

    Attributes
    ----------
    shown : int array, shape (n_shown,)
        Claps whose decay stands out of the background.
    crosspoint_s : array, shape (n_claps,)
        Where each decay sinks into its background, or is cut off. [s]
    log_rate, log_level, log_noise : array, shape (n_claps,)
        Fitted logarithms.
    """

    shown: Ints
    crosspoint_s: Floats
    log_rate: Floats
    log_level: Floats
    log_noise: Floats


def coarse_fit(traces: Sequence[EnergyTrace], *, band_filter: BandFilter) -> CoarseFit | None:
    """Fit one slope to each trace on growing blocks, to learn how long its decay can be followed.

    Returns
    -------
    CoarseFit or None
        None where the traces are too short to hold six blocks.
    """
    edges_s = _coarse_edges(
        first_s=earliest_start_s(band_filter),
        end_s=max(trace.end_s for trace in traces),
        width_hz=band_filter.band.width_hz,
    )
    if edges_s.size < 7:
        return None
    blocks = block_energies(traces, edges_s=edges_s, band_filter=band_filter)
    n = len(traces)
    crosspoint_s = np.full(n, -np.inf)
    log_rate, log_level, log_noise = np.zeros(n), np.zeros(n), np.zeros(n)
    # Strong first reflections make the decay look steeper and shorter than it is: of a start
    # behind them and one at the beginning, the one that follows the decay further counts.
    for skip_s in (_COARSE_SKIP_S, 0.0):
        masked = blocks.starting_at(float(edges_s[0]) + skip_s)
        if ((masked.shape > 0).sum(axis=1) < 5).all():
            continue
        fit = _fit_each(masked)
        for row, trace in enumerate(traces):
            stop_s = _followed_until_s(masked, fit, row=row, trace=trace)
            if stop_s is not None and stop_s > crosspoint_s[row] + 1e-9:
                crosspoint_s[row] = stop_s
                log_rate[row] = fit.log_rate[row, 0]
                log_level[row], log_noise[row] = fit.log_level[row], fit.log_noise[row]
    return CoarseFit(
        shown=np.flatnonzero(np.isfinite(crosspoint_s)),
        crosspoint_s=crosspoint_s,
        log_rate=log_rate,
        log_level=log_level,
        log_noise=log_noise,
    )


def _fit_each(blocks: BlockEnergies) -> DecayFit:
    """Fit every clap on its own, from a guess."""
    rate, level, noise = _first_guess(blocks)
    return fit_decay(
        blocks,
        group=np.arange(rate.size),
        shared=rate[:, None],
        log_level=level,
        log_noise=noise,
        settled=_COARSE_SETTLED,
    )


def _followed_until_s(blocks: BlockEnergies, fit: DecayFit, *, row: int, trace: EnergyTrace) -> float | None:
    """Return where one clap's decay sinks into the background; None where it does not stand out."""
    used = blocks.shape[row] > 0
    if used.sum() < 5:
        return None
    first_s = float(blocks.edges_s[:-1][used][0])
    model = fit.model(row)
    stop_s = model.crosspoint_s(trace.end_s)
    # Of a fall this slow next to nothing was seen: it is a background, not a decay.
    if stop_s <= first_s or model.decay_times_s[0] > _LONGEST_SEEN * (stop_s - first_s):
        return None
    return stop_s if model.range_db(from_s=first_s, end_s=trace.end_s) >= LEAST_RANGE_DB else None


def _first_guess(blocks: BlockEnergies) -> tuple[Floats, Floats, Floats]:
    """Guess log rate, log level and log noise of each clap from its backward-integrated blocks."""
    width = np.diff(blocks.edges_s)
    middle = 0.5 * (blocks.edges_s[1:] + blocks.edges_s[:-1])
    guesses = []
    for energy, shape in zip(blocks.energy, blocks.shape, strict=True):
        used = shape > 0
        e, w, t = energy[used], width[used], middle[used]
        if e.size < 4:
            guesses.append((np.log(LN_60_DB), 0.0, -1.0))
            continue
        late = slice(max(e.size - max(3, e.size // 6), 1), None)
        noise = min(float(np.average(e[late], weights=w[late])), float(e.max()) * 0.5)
        left = np.cumsum((np.maximum(e - noise, 0.0) * w)[::-1])[::-1]
        fallen = int(np.argmax(left < 0.1 * left[0])) or e.size - 1
        rate = np.log(10.0) / max(t[fallen] - t[0], w[0])
        level = rate * float(left[0]) * np.exp(rate * blocks.edges_s[0])
        guesses.append((np.log(rate), np.log(max(level, 1e-300)), np.log(max(noise, 1e-300))))
    rate_, level_, noise_ = np.array(guesses, dtype=float).T
    return rate_, level_, noise_


def fine_edges(*, first_s: float, crosspoint_s: float, end_s: float, width_hz: float) -> Floats:
    """Edges for the final fit.

    Parameters
    ----------
    first_s : float
        Earliest start. [s]
    crosspoint_s : float
        Where the longest decay sinks into the background, or is cut off. [s]
    end_s : float
        End of the longest trace. [s]
    width_hz : float
        Bandwidth: no block is shorter than its inverse. [Hz]
    """
    least = 1.0 / width_hz
    widest = max(least, (crosspoint_s - first_s) / _N_FINE)
    width = min(max(least, _FINEST_S), widest)
    edges = [first_s]
    while edges[-1] < crosspoint_s - 0.5 * width:
        edges.append(edges[-1] + width)
        # The first blocks have to show where direct sound and first reflections end.
        if edges[-1] - first_s > _FINE_UNTIL_S:
            width = min(_FINE_GROWTH * width, widest)
    width = widest
    last = min(end_s, crosspoint_s + max(crosspoint_s, _LEAST_NOISE_S, _LEAST_NOISE_BT / width_hz))
    while edges[-1] + width <= last:
        edges.append(edges[-1] + width)
        width *= _NOISE_GROWTH
    return np.array(edges)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Prepared:
    """One band cut into blocks for the final fit, with a guess to start from.

    Attributes
    ----------
    band_filter : BandFilter
        The band.
    rows : int array, shape (n_shown,)
        Which of the claps show in this band.
    traces : tuple of EnergyTrace
        Theirs.
    blocks : BlockEnergies
        Theirs, from the earliest start on.
    crosspoint_s : float
        Median time at which they sink into the background, or are cut off. [s]
    log_rate : float
        Median of their coarse log rates.
    log_level, log_noise : array, shape (n_shown,)
        Their coarse logarithms.
    """

    band_filter: BandFilter
    rows: Ints
    traces: tuple[EnergyTrace, ...]
    blocks: BlockEnergies
    crosspoint_s: float
    log_rate: float
    log_level: Floats
    log_noise: Floats


def prepare(traces: Sequence[EnergyTrace | None], *, band_filter: BandFilter) -> Prepared | None:
    """Find the claps that show in one band and cut their decays into blocks.

    Parameters
    ----------
    traces : sequence of EnergyTrace or None
        One a clap; None where its recording cannot carry the band.
    band_filter : BandFilter
        The band.

    Returns
    -------
    Prepared or None
        None where no clap shows a decay of ``LEAST_RANGE_DB``.
    """
    held = [(row, trace) for row, trace in enumerate(traces) if trace is not None]
    if not held:
        return None
    coarse = coarse_fit([trace for _, trace in held], band_filter=band_filter)
    if coarse is None or coarse.shown.size == 0:
        return None
    edges_s = fine_edges(
        first_s=earliest_start_s(band_filter),
        crosspoint_s=float(coarse.crosspoint_s[coarse.shown].max()),
        end_s=max(held[int(i)][1].end_s for i in coarse.shown),
        width_hz=band_filter.band.width_hz,
    )
    blocks = block_energies([held[int(i)][1] for i in coarse.shown], edges_s=edges_s, band_filter=band_filter)
    long_enough = (blocks.shape > 0).sum(axis=1) >= _LEAST_BLOCKS
    shown = coarse.shown[long_enough]
    if shown.size == 0:
        return None
    blocks = BlockEnergies(
        edges_s=edges_s, energy=blocks.energy[long_enough], shape=blocks.shape[long_enough]
    )
    return Prepared(
        band_filter=band_filter,
        rows=np.array([held[int(i)][0] for i in shown], dtype=np.intp),
        traces=tuple(held[int(i)][1] for i in shown),
        blocks=_without_depth(
            blocks, crosspoint_s=coarse.crosspoint_s[shown], log_rate=coarse.log_rate[shown]
        ),
        crosspoint_s=float(np.median(coarse.crosspoint_s[shown])),
        log_rate=float(np.median(coarse.log_rate[shown])),
        log_level=coarse.log_level[shown],
        log_noise=coarse.log_noise[shown],
    )


def _without_depth(blocks: BlockEnergies, *, crosspoint_s: Floats, log_rate: Floats) -> BlockEnergies:
    """Leave out what lies deeper than ``DEEPEST_DB`` below the start but still above the background.

    The decay time is a matter of the first 35 dB. A tail 60 dB down may ring on at another rate
    (a neighbouring room, one mode), and with all its length would outvote them.
    """
    first_s = float(blocks.edges_s[0])
    depth_s = DEEPEST_DB / (DB_PER_NEPER * np.exp(log_rate))
    start, stop = blocks.edges_s[None, :-1], blocks.edges_s[None, 1:]
    deep = (stop > first_s + depth_s[:, None]) & (start < _CLEAR_OF_DECAY * crosspoint_s[:, None])
    # A decay that the end cuts off has no background behind it; its last blocks say at least
    # how low the background must lie.
    n_used = (blocks.shape > 0).sum(axis=1)
    deep &= np.arange(blocks.shape.shape[1])[None, :] < (n_used - _LAST_BLOCKS)[:, None]
    return BlockEnergies(
        edges_s=blocks.edges_s, energy=blocks.energy, shape=np.where(deep, 0.0, blocks.shape)
    )
