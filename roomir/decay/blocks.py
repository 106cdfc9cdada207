"""Cutting a decay into blocks: fine where it falls, coarse where only the background is left."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from roomir.bands.filters import BandFilter
from roomir.decay.energy import EnergyTrace
from roomir.decay.likelihood import (
    LN_60_DB,
    BlockEnergies,
    DecayFit,
    Floats,
    fit_decay,
)

SHORTEST_CLAP_S = 0.003
"""What the shortest source still sounds for: no decay is read before it has passed. [s]"""

_COARSE_FIRST_S = 0.008
_COARSE_GROWTH = 1.15
_N_FINE = 64
_NOISE_GROWTH = 1.3
_LEAST_NOISE_S = 0.25
_LEAST_NOISE_BT = 20.0
_START_FACTORS = np.log([1.0, 0.5, 2.0])


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


def coarse_fit(
    traces: Sequence[EnergyTrace], *, band_filter: BandFilter
) -> tuple[BlockEnergies, DecayFit] | None:
    """Fit one slope to each trace on growing blocks, to learn how long its decay can be followed.

    Returns
    -------
    (BlockEnergies, DecayFit) or None
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
    rate, level, noise = _first_guess(blocks)
    # The same claps from three starting slopes at once; the likeliest end is kept.
    n_starts = _START_FACTORS.size
    fit = fit_decay(
        BlockEnergies(
            edges_s=edges_s,
            energy=np.tile(blocks.energy, (n_starts, 1)),
            shape=np.tile(blocks.shape, (n_starts, 1)),
        ),
        group=np.arange(n * n_starts),
        shared=(np.tile(rate, n_starts) + np.repeat(_START_FACTORS, n))[:, None],
        log_level=np.tile(level, n_starts),
        log_noise=np.tile(noise, n_starts),
    )
    best = fit.log_likelihood.reshape(n_starts, n).argmax(axis=0) * n + np.arange(n)
    return blocks, select(fit, best)


def select(fit: DecayFit, rows: np.ndarray) -> DecayFit:
    """Return the fits of some claps, where every clap is a group of its own."""
    return DecayFit(
        log_rate=fit.log_rate[rows],
        log_ratio=fit.log_ratio[rows],
        log_level=fit.log_level[rows],
        log_noise=fit.log_noise[rows],
        log_likelihood=fit.log_likelihood[rows],
        information=fit.information[rows],
        residual=fit.residual[rows],
        expectation=fit.expectation[rows],
        efficient=fit.efficient[rows],
    )


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
    width = max(1.0 / width_hz, (crosspoint_s - first_s) / _N_FINE)
    edges = list(np.arange(first_s, crosspoint_s + 0.5 * width, width))
    last = min(end_s, crosspoint_s + max(crosspoint_s, _LEAST_NOISE_S, _LEAST_NOISE_BT / width_hz))
    while edges[-1] + width <= last:
        edges.append(edges[-1] + width)
        width *= _NOISE_GROWTH
    return np.array(edges)
