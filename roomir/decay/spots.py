"""Telling spots apart: claps made in one place share the fine structure of their decay."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from roomir.decay.band_fit import BandFit
from roomir.decay.likelihood import Floats, Ints

SAME_SPOT_LIKENESS = 0.35
"""Correlation above which two claps count as made in one spot. Unrelated spots stay below it
with the few dozen independent blocks of a dry room; a hand moved by 10 cm stays above."""

HIGHEST_HZ = 1500.0
"""Higher bands lose their likeness when the hands move by a few centimetres. [Hz]"""


def find_spots(fits: Sequence[BandFit], *, n_claps: int) -> Ints:
    """Number the spots that the claps were made in.

    Parameters
    ----------
    fits : sequence of BandFit
        The bands of one reading.
    n_claps : int
        Number of claps; each band names the rows it could use.

    Returns
    -------
    int array, shape (n_claps,)
        Spot of each clap, numbered from zero in order of first appearance.
        Claps that show in no common band are taken for different spots.
    """
    low = [fit for fit in fits if fit.band_filter.band.exact_hz < HIGHEST_HZ]
    cross = np.zeros((n_claps, n_claps))
    power = np.zeros((n_claps, n_claps))
    for fit in low or fits:
        products, squares = _fine_structure(fit)
        where = np.ix_(fit.rows, fit.rows)
        cross[where] += products
        power[where] += squares
    alike = cross / np.sqrt(np.maximum(power * power.T, np.finfo(float).tiny))
    return _components(alike > SAME_SPOT_LIKENESS)


def _fine_structure(fit: BandFit) -> tuple[Floats, Floats]:
    """Sums over blocks of products of residuals, and of one's squares where the other is heard too."""
    own = fit.own
    heard = 1.0 - np.exp(own.log_noise)[:, None] / own.expectation
    heard = np.where(fit.blocks.shape > 0, np.maximum(heard, 0.0), 0.0)
    weight = np.sqrt(fit.blocks.shape) * heard
    weighted = weight * own.residual
    # What background noise adds to the residuals of a faint clap is not likeness lost: only
    # blocks that both claps are heard in count, each by how well.
    return weighted @ weighted.T, (weighted**2) @ (heard > 0.5).T.astype(float)


def _components(linked: np.ndarray) -> Ints:
    n = linked.shape[0]
    spot = np.full(n, -1, dtype=np.intp)
    n_spots = 0
    for first in range(n):
        if spot[first] >= 0:
            continue
        waiting = [first]
        spot[first] = n_spots
        while waiting:
            here = waiting.pop()
            for other in np.flatnonzero(linked[here] & (spot < 0)):
                spot[other] = n_spots
                waiting.append(int(other))
        n_spots += 1
    return spot
