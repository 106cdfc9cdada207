"""Events inside a decay that are no arrivals of their own: a hammer blow next door, a second, softer clap.

Such an event sets the room ringing once more: from one moment on every band holds more energy than its
decay leaves it, by a part of its own, and that excess dies away as the room does. Gains that ride on the
decay leave other courses; the likelier of the two is named.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from roomir.decay.band_fit import BandFit
from roomir.decay.likelihood import Floats
from roomir.faults.scores import LEAST_BANDS, AskedBand, score_courses

SURE = 7.0
"""Significance from which an event is believed, without the band that speaks loudest."""

LEAST_MOVE = 0.02
"""An event that moves no decay time by this part is let be."""

MOMENTS_S = np.concatenate([np.arange(0.04, 0.15, 0.015), 0.16 * 1.1 ** np.arange(35)])
"""When it may begin after the clap. [s]"""

_CLEAR_OF_START_S = 0.02
_CLEAR_OF_END_S = 0.05
_HIGHEST = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HiddenEvent:
    """A second event in the decay of one clap.

    Attributes
    ----------
    row : int
        The clap.
    after_s : float
        When it begins after the clap. [s]
    gain : float
        Log-likelihood that it gains over all bands.
    moves : tuple (n_bands) of float
        By what part it lengthens (or shortens, below zero) what the fit reads; 0 where it was not asked.
    """

    row: int
    after_s: float
    gain: float
    moves: tuple[float, ...]


def find_hidden(bands: Sequence[AskedBand | None], *, n_claps: int) -> dict[int, HiddenEvent]:
    """Find the clearest second event in the decay of each clap, by row."""
    score = np.zeros((n_claps, len(bands), MOMENTS_S.size))
    variance, shift = np.zeros_like(score), np.zeros_like(score)
    for column, band in enumerate(bands):
        if band is None:
            continue
        courses = _excesses(band.fit)
        own_score, own_variance = score_courses(band, courses, mind_slopes=_MIND)
        score[band.rows, column] = own_score[band.asked]
        variance[band.rows, column] = own_variance[band.asked]
        shift[band.rows, column] = (courses @ band.influence[:, :, None])[band.asked, :, 0]
    each = score / np.sqrt(np.maximum(variance, 1e-9))
    n_asked = (variance > 0.0).sum(axis=1)
    agreed = (each.sum(axis=1) - each.max(axis=1)) / np.sqrt(np.maximum(n_asked - 1, 1))
    agreed = np.where(n_asked >= LEAST_BANDS, agreed, 0.0)
    out = {}
    for row in range(n_claps):
        best = int(np.argmax(agreed[row]))
        heights = np.maximum(score[row, :, best], 0.0) / np.maximum(variance[row, :, best], 1e-9)
        moves = np.clip(heights, 0.0, _HIGHEST) * shift[row, :, best]
        if agreed[row, best] >= SURE and np.abs(moves).max() >= LEAST_MOVE:
            out[row] = HiddenEvent(
                row=row,
                after_s=float(MOMENTS_S[best]),
                gain=float(0.5 * (np.maximum(each[row, :, best], 0.0) ** 2).sum() - n_asked[row, best]),
                moves=tuple(float(move) for move in moves),
            )
    return out


_MIND = np.ones(MOMENTS_S.size, dtype=np.bool_)


def _excesses(fit: BandFit) -> Floats:
    """What an event at each moment adds to each decay; shape (n_claps, n_moments, n_blocks).

    Per unit of its height over what the decay has left at that moment.
    """
    own, edges = fit.own, fit.blocks.edges_s
    middle = 0.5 * (edges[1:] + edges[:-1])
    log_mean = np.log(own.expectation)
    at_moment = np.array([np.interp(MOMENTS_S, middle, row) for row in log_mean])
    since = np.maximum(middle[None, :] - MOMENTS_S[:, None], 0.0)
    rate = np.exp(own.log_rate[:, 0])
    log_excess = at_moment[:, :, None] - log_mean[:, None, :] - rate[:, None, None] * since
    part = np.clip((edges[1:] - MOMENTS_S[:, None]) / np.diff(edges), 0.0, 1.0)
    ends = np.array([trace.end_s for trace in fit.traces])
    allowed = (fit.start_s + _CLEAR_OF_START_S < MOMENTS_S) & (ends[:, None] - _CLEAR_OF_END_S > MOMENTS_S)
    used = (fit.blocks.shape > 0)[:, None, :] & allowed[:, :, None]
    return np.where(used, part * np.exp(np.minimum(log_excess, _HIGHEST)), 0.0)
