"""One slope or two: looking for a second, slower decay behind the first."""

from __future__ import annotations

import numpy as np

from roomir.decay.likelihood import BlockEnergies, DecayFit, fit_decay, mean_decay
from roomir.decay.model import DB_PER_NEPER

LEAST_GAIN = 6.0
"""Log-likelihood that a second slope must gain. Twice this is compared with chi-square of two
degrees of freedom whose level cannot be negative: false in well under 1 % of straight decays."""

_HINT = 2.0
_LEAST_RATIO = 1.15
_SECOND_SHOWS_DB = 6.0
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
    starts = [
        [one.log_rate[0, 0] + np.log(up), one.log_rate[0, 0] + np.log(slower), level_db / DB_PER_NEPER]
        for up, level_db in _STARTS
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
    if gain < LEAST_GAIN or not both_show(blocks, best):
        return None, gain
    return best, gain


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
    second_shows = DB_PER_NEPER * (float(fit.log_ratio[0]) - slow * bend_s - quietest)
    return bool(first_shows >= _FIRST_SHOWS_DB and second_shows >= _SECOND_SHOWS_DB)
