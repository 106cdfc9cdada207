"""One slope or two: looking for a second, slower decay behind the first."""

from __future__ import annotations

import numpy as np

from roomir.decay.likelihood import BlockEnergies, DecayFit, Floats, fit_decay, mean_decay
from roomir.decay.model import DB_PER_NEPER

LEAST_GAIN = 3.0
"""Log-likelihood that a second slope must gain: Akaike's criterion asks 2 of its two parameters,
and blocks of neighbouring times are not quite independent. With 6 the bends of short bass decays
go unseen and pull their times by twice their intervals; with 3 one in a hundred straight decays
is given a second slope, which hardly moves its time."""

_HINT = 2.0
_LEAST_RATIO = 1.15
_SECOND_SHOWS_DB = 9.0
_FIRST_SHOWS_DB = 4.0
_EARLIEST_BEND_S = 0.075
"""A bend any earlier is taken for the end of the first reflections, not for a slope of the room. [s]"""
_FIRST_LASTS_S = 0.045
_STARTS = ((1.1, -18.0), (1.5, -8.0))
_SLOWER = (0.75, 0.5, 0.3)


def find_second_slope(blocks: BlockEnergies, one: DecayFit, *, worth: float) -> tuple[DecayFit | None, float]:
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
    if gain < _HINT:
        return None, gain
    rate = one.log_rate[0, 0]
    pooled, level, noise = _pool(blocks, one, share=share)
    tried = [
        fit_decay(
            pooled,
            group=np.zeros(1, dtype=np.intp),
            shared=np.array([[rate + np.log(up), rate + np.log(slower), level_db / DB_PER_NEPER]]),
            log_level=level,
            log_noise=noise - 1.0,
            settled=1e-2,
        )
        for up, level_db in _STARTS
    ]
    likeliest = max(tried, key=lambda fit: float(fit.log_likelihood[0]))
    if not both_show(pooled, likeliest):
        return None, gain
    both = fit_decay(
        blocks,
        group=one.group,
        shared=likeliest.shared,
        log_level=one.log_level,
        log_noise=one.log_noise,
    )
    gain = float(both.log_likelihood[0] - one.log_likelihood[0]) * share
    if n > 1:
        gain = min(gain, _gain_within_claps(blocks, one, share=share))
    if gain < LEAST_GAIN or not both_show(blocks, both):
        return None, gain
    return both, gain


def _gain_within_claps(blocks: BlockEnergies, one: DecayFit, *, share: float) -> float:
    """Score test of a second slope where every clap has a first slope of its own.

    Spots that ring differently, each straight, look bent when one slope is
    laid over all of them.
    """
    n = one.log_level.size
    own = fit_decay(
        blocks,
        group=np.arange(n),
        shared=np.repeat(one.shared, n, axis=0),
        log_level=one.log_level,
        log_noise=one.log_noise,
    )
    level = np.exp(own.log_level)[:, None]
    gain = 0.0
    for slower in _SLOWER:
        mean, _ = mean_decay(np.exp(own.log_rate[:, 0]) * slower, blocks.edges_s)
        direction = level * mean / own.expectation
        shares = direction * blocks.shape
        taken = (own.jacobian @ shares[:, :, None])[..., 0]
        solved = np.linalg.solve(own.clap_information + 1e-9 * np.eye(3), taken[:, :, None])[..., 0]
        variance = float((shares * direction).sum() - (taken * solved).sum())
        score = float((own.residual * shares).sum())
        if variance > 0.0 and score > 0.0:
            gain = max(gain, 0.5 * score**2 / variance * share)
    return gain


def _pool(blocks: BlockEnergies, one: DecayFit, *, share: float) -> tuple[BlockEnergies, Floats, Floats]:
    """Lay all claps over one another at equal level: a single decay, quick to fit, to look at first.

    Returns
    -------
    blocks : BlockEnergies
        One row.
    log_level, log_noise : array, shape (1,)
        Start of its level and background.
    """
    weight = blocks.shape
    total = np.maximum(weight.sum(axis=0), np.finfo(float).tiny)
    scale = np.exp(-one.log_level)
    energy = (weight * blocks.energy * scale[:, None]).sum(axis=0) / total
    noise = float(weight.sum(axis=1) @ np.exp(one.log_noise - one.log_level)) / float(weight.sum())
    return (
        BlockEnergies(
            edges_s=blocks.edges_s,
            energy=np.maximum(energy, np.finfo(float).tiny)[None],
            shape=(weight.sum(axis=0) * share)[None],
        ),
        np.zeros(1),
        np.log(np.array([noise])),
    )


def both_show(blocks: BlockEnergies, fit: DecayFit) -> bool:
    """Whether both slopes can be seen between start and background, and differ enough to matter."""
    fast, slow = np.exp(fit.log_rate[0])
    if fast / slow < _LEAST_RATIO or fit.log_ratio[0] > 0.0:
        return False
    used = (blocks.shape > 0).any(axis=0)
    start_s = float(blocks.edges_s[:-1][used][0])
    # Where the slower slope takes over.
    bend_s = max(-float(fit.log_ratio[0]) / (fast - slow), 0.0)
    if bend_s < max(_EARLIEST_BEND_S, start_s + _FIRST_LASTS_S):
        return False
    first_shows = DB_PER_NEPER * fast * (bend_s - start_s)
    quietest = float((fit.log_noise - fit.log_level).min())
    over_noise = DB_PER_NEPER * (float(fit.log_ratio[0]) - slow * bend_s - quietest)
    # A background that creeps up looks like a slope that hardly falls; it has to fall in sight.
    end_s = float(blocks.edges_s[1:][used][-1])
    second_shows = min(over_noise, DB_PER_NEPER * slow * (end_s - bend_s))
    return bool(first_shows >= _FIRST_SHOWS_DB and second_shows >= _SECOND_SHOWS_DB)
