"""Where a decay may be read from: behind direct sound, clap and first reflections."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from roomir.decay.blocks import Prepared
from roomir.decay.influence import effective_number, likeness
from roomir.decay.likelihood import BlockEnergies, DecayFit, Floats, fit_decay
from roomir.decay.model import DB_PER_NEPER

DISCARDS_S = (0.0, 0.004, 0.009, 0.015, 0.022, 0.03, 0.04, 0.052, 0.066)
"""How much of the beginning may be passed over. [s]"""

_WINDOWS_S = (0.006, 0.015, 0.03)
_EXCESS = 2.0
_LACK = 2.5
_ALONE = 2.0
_MATTERS = np.array([0.7, 0.5, 0.4])
"""Excess of each window, in nepers, below which it is left in: no room starts quite straight, and
its own beginning belongs to its decay time."""
_DISCARD_SHARE = 0.55
_DISCARD_DB = 9.0
_LEAST_BLOCKS = 6
_NEAR_DB = 20.0
_NEAR_S = 0.06
_CLEAR_OF_DECAY = 1.15
_LOCALLY_SETTLED = 1e-2
"""A score with slope, level and background taken out hardly minds how well these are settled."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EarlyScores:
    """Score and variance of a level of their own for the first blocks, one a window.

    Their quotient estimates that level over what the fit expects, in nepers.
    """

    score: Floats
    variance: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Start:
    """One slope fitted from one start on.

    Attributes
    ----------
    discard_s : float
        How much was passed over. [s]
    blocks : BlockEnergies
        What is left.
    fit : DecayFit
        One slope, shared by all claps.
    worth : float
        How many unrelated claps the group is worth.
    """

    discard_s: float
    blocks: BlockEnergies
    fit: DecayFit
    worth: float


def disagreement(bands: Sequence[EarlyScores]) -> float:
    """Largest score over its limit: below 1 the beginning belongs to the decay.

    The bands are asked together, and each alone with a wider limit: what one of
    them clearly holds must not drown in the others. An excess or a lack counts
    where it is both beyond chance and large enough to matter.
    """
    scores = np.array([band.score for band in bands])
    variances = np.array([band.variance for band in bands])
    z = (scores / np.sqrt(variances)).sum(axis=0) / np.sqrt(len(bands))
    together = _over_limit(z, scores.sum(axis=0) / variances.sum(axis=0))
    alone = [
        _over_limit(band.score / np.sqrt(band.variance) / _ALONE, band.score / band.variance)
        for band in bands
    ]
    return max(together, *alone)


def _over_limit(z: Floats, excess: Floats) -> float:
    return float(np.minimum(np.maximum(z / _EXCESS, -z / _LACK), np.abs(excess) / _MATTERS).max())


def choose_starts(bands: Sequence[Prepared]) -> list[Start]:
    """Start as early as the beginning agrees with the rest of the decay, in all bands alike.

    Direct sound, a long clap and the first reflections stand above the
    reverberation; a gap before the first reflection lies below it. Either
    shows as a score: what the first blocks hold over what the fit expects.
    Direct sound and first reflections end at the same moment in every band,
    so the bands are asked together: their scores are summed.

    Parameters
    ----------
    bands : sequence of Prepared
        Bands of one reading.

    Returns
    -------
    list of Start
        One a band.
    """
    tried: list[list[Start]] = [[] for _ in bands]
    best, lowest = 0, np.inf
    for step, discard_s in enumerate(DISCARDS_S):
        moved = False
        for band, starts in zip(bands, tried, strict=True):
            if step == 0 or _allows(band, discard_s):
                starts.append(_start(band, discard_s=discard_s, before=starts[-1] if starts else None))
                moved = True
        if not moved:
            break
        # A band that cannot start later has had its say.
        together = disagreement(
            [
                _beginning(band, starts[-1])
                for band, starts in zip(bands, tried, strict=True)
                if starts[-1].discard_s == discard_s
            ]
        )
        if together < lowest:
            best, lowest = step, together
        if together < 1.0:
            break
    return [[start for start in starts if start.discard_s <= DISCARDS_S[best] + 1e-9][-1] for starts in tried]


def start_up_to(band: Prepared, *, discard_s: float) -> Start:
    """Return the start of one band that others have chosen, or the last one that its decay allows."""
    allowed = [d for d in DISCARDS_S[1:] if d <= discard_s + 1e-9 and _allows(band, d)]
    return _start(band, discard_s=allowed[-1] if allowed else 0.0, before=None)


def _allows(band: Prepared, discard_s: float) -> bool:
    """Whether enough of the decay is left when so much of its beginning is passed over."""
    db_per_s = DB_PER_NEPER * float(np.exp(band.log_rate))
    first_s = float(band.blocks.edges_s[0])
    if discard_s > min(_DISCARD_SHARE * band.crosspoint_s - first_s, _DISCARD_DB / db_per_s):
        return False
    used = (band.blocks.starting_at(first_s + discard_s).shape > 0).any(axis=0)
    return int(used.sum()) >= _LEAST_BLOCKS


def _start(band: Prepared, *, discard_s: float, before: Start | None) -> Start:
    worth = _worth(band) if before is None else before.worth
    blocks = band.blocks.starting_at(float(band.blocks.edges_s[0]) + discard_s)
    fit = fit_decay(
        blocks,
        group=np.zeros(band.log_level.size, dtype=np.intp),
        shared=np.array([[band.log_rate]]) if before is None else before.fit.shared,
        log_level=band.log_level if before is None else before.fit.log_level,
        log_noise=band.log_noise if before is None else before.fit.log_noise,
    )
    return Start(discard_s=discard_s, blocks=blocks, fit=fit, worth=worth)


def _beginning(band: Prepared, start: Start) -> EarlyScores:
    """Hold the first blocks of a start against what follows them."""
    fit = start.fit
    near = _near(start.blocks, band, start_s=float(band.blocks.edges_s[0]) + start.discard_s)
    if near is not start.blocks:
        fit = fit_decay(
            near,
            group=fit.group,
            shared=fit.shared,
            log_level=fit.log_level,
            log_noise=fit.log_noise,
            settled=_LOCALLY_SETTLED,
        )
    return early_scores(near, fit, worth=start.worth)


def _near(blocks: BlockEnergies, band: Prepared, *, start_s: float) -> BlockEnergies:
    """Leave of a decay only its next ``_NEAR_DB`` and the background.

    The beginning is held against what follows it at once: a decay that bends
    further down is no reason to pass over its first slope.
    """
    start, stop = blocks.edges_s[:-1], blocks.edges_s[1:]
    used = np.where(blocks.shape > 0, blocks.energy, 0.0) * np.exp(-band.log_level)[:, None]
    over = np.where(start < band.crosspoint_s, used.sum(axis=0), 0.0) * (stop - start)
    left = np.cumsum(over[::-1])[::-1]
    fallen = np.flatnonzero(left < 10.0 ** (-_NEAR_DB / 10.0) * left[0])
    near_s = float(start[fallen[0]]) if fallen.size else np.inf
    deep = (stop > max(near_s, start_s + _NEAR_S)) & (start < _CLEAR_OF_DECAY * band.crosspoint_s)
    near = BlockEnergies(
        edges_s=blocks.edges_s, energy=blocks.energy, shape=np.where(deep[None, :], 0.0, blocks.shape)
    )
    return near if int((near.shape > 0).any(axis=0).sum()) >= _LEAST_BLOCKS else blocks


def _worth(band: Prepared) -> float:
    """How many unrelated claps the claps of a band are worth, seen from the earliest start."""
    n = band.log_level.size
    if n == 1:
        return 1.0
    own = fit_decay(
        band.blocks,
        group=np.arange(n),
        shared=np.full((n, 1), band.log_rate),
        log_level=band.log_level,
        log_noise=band.log_noise,
        settled=1e-2,
    )
    return effective_number(likeness(own, band.blocks.shape))


def early_scores(blocks: BlockEnergies, fit: DecayFit, *, worth: float) -> EarlyScores:
    """Ask whether the first blocks want a level of their own.

    ``worth`` is how many unrelated claps the group is worth: claps in one spot
    repeat the same first reflections.
    """
    share = worth / blocks.energy.shape[0]
    first = int(np.argmax((blocks.shape > 0).any(axis=0)))
    start_s = float(blocks.edges_s[first])
    width_s = float(blocks.edges_s[first + 1]) - start_s
    scores = np.zeros(len(_WINDOWS_S))
    variances = np.zeros(len(_WINDOWS_S))
    for i, window_s in enumerate(_WINDOWS_S):
        last = int(np.searchsorted(blocks.edges_s[:-1], start_s + max(window_s, 1.5 * width_s)))
        early = np.zeros_like(blocks.shape)
        early[:, first:last] = 1.0
        score, variance = fit.without_nuisance(early, blocks.shape)
        scores[i], variances[i] = share * score, share * variance
    return EarlyScores(score=scores, variance=np.maximum(variances, np.finfo(float).tiny))
