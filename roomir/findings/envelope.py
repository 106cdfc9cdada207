r"""The fine envelope of a decay: how loud it is in each moment over what the fit expects there.

The energy of band-limited Gaussian sound in a window of length W is, to a good
approximation, gamma distributed around its expectation (Bendat and Piersol,
"Random Data"). For an ideal band of width B its relative variance is

.. math:: \frac{1}{\nu} = \frac{1}{W} \int_{-W}^{W} \Big(1 - \frac{|s|}{W}\Big)
          \Big(\frac{\sin \pi B s}{\pi B s}\Big)^2 ds

and the amplitude, the root of the energy, has the mean
:math:`\Gamma(\nu + 1/2) / (\Gamma(\nu) \sqrt{\nu})`. So it is known how much a
diffuse decay fluctuates by chance, and what fluctuates more does not do so by
chance.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from roomir.decay.band_fit import BandFit
from roomir.decay.likelihood import Floats, Ints
from roomir.decay.model import DecayModel

STEP_S = 0.001
"""Spacing of the windows. [s]"""

SHORTEST_WINDOW_S = 0.002
"""A hand clap sounds for some milliseconds; a shorter window would cut it into pieces. [s]"""

_WINDOW_BT = 1.25
_HIGHEST = 4.0
_LEAST_SHARE = 0.5
_TREND_TERMS = 3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FineEnvelope:
    """One band of a reading, moment by moment, one row a spot.

    Attributes
    ----------
    column : int
        Place of the band among the reading's.
    nominal_hz : float
        Name of the band. [Hz]
    spots : int array, shape (n_spots,)
        Which spots of the reading the rows are.
    start_s : float
        Time of the first window's middle after the onset. [s]
    ratio : array, shape (n_spots, n)
        Energy in the windows over what the fit expects there.
    share : array, shape (n_spots, n)
        Part of the expectation that is decay and no background; zero where
        less than half of it is, or nothing is heard any more.
    level : array, shape (n_spots, n)
        Decay that the fit expects, 1 where it is highest.
    score : array, shape (n_spots, n)
        Amplitude over its mean, in standard deviations, times ``share``;
        slow trends taken out.
    likeness : array, shape (n_lags,)
        Correlation by chance of windows 0, 1, 2... steps apart.
    """

    column: int
    nominal_hz: float
    spots: Ints
    start_s: float
    ratio: Floats
    share: Floats
    level: Floats
    score: Floats
    likeness: Floats


def fine_envelope(fit: BandFit, *, column: int, spot: Ints) -> FineEnvelope | None:
    """Divide the claps' energies in one band by their fits, and put those of one spot together.

    Parameters
    ----------
    fit : BandFit
        The band.
    column : int
        Place of the band among the reading's.
    spot : int array, shape (n_claps,)
        Spot of every clap of the reading.

    Returns
    -------
    FineEnvelope or None
        None where the decay is over after a few windows.
    """
    width_hz = fit.band_filter.band.width_hz
    window_s = max(SHORTEST_WINDOW_S, _WINDOW_BT / width_hz)
    models = [fit.model(row) for row in range(len(fit.traces))]
    stops_s = [
        min(model.crosspoint_s(trace.end_s), trace.end_s)
        for model, trace in zip(models, fit.traces, strict=True)
    ]
    start_s = fit.start_s + 0.5 * window_s
    n = int((max(stops_s) - 0.5 * window_s - start_s) / STEP_S)
    if n < _TREND_TERMS + 2:
        return None
    time_s: Floats = start_s + STEP_S * np.arange(n, dtype=np.float64)
    spots = np.unique(spot[fit.rows])
    ratio, share, level = (np.zeros((spots.size, n)) for _ in range(3))
    worth = np.zeros(spots.size)
    for i, one in enumerate(spots):
        rows = np.flatnonzero(spot[fit.rows] == one)
        weight = np.zeros(n)
        for row in rows:
            trace, model = fit.traces[row], models[row]
            energy = (trace.until(time_s + 0.5 * window_s) - trace.until(time_s - 0.5 * window_s)) / window_s
            decaying = _decaying(model, time_s)
            expected = decaying + model.noise
            own = decaying / np.maximum(expected, np.finfo(float).tiny)
            own[(own < _LEAST_SHARE) | (time_s > stops_s[row] - 0.5 * window_s)] = 0.0
            ratio[i] += own * energy / np.maximum(expected, np.finfo(float).tiny)
            share[i] += own**2
            level[i] += decaying / decaying[0]
            weight += own
        ratio[i] = np.divide(ratio[i], weight, out=np.ones(n), where=weight > 0.0)
        share[i] = np.divide(share[i], weight, out=np.zeros(n), where=weight > 0.0)
        worth[i] = np.mean([fit.traces[row].channels_worth for row in rows]) * _claps_worth(
            fit.likeness[np.ix_(rows, rows)]
        )
    likeness, shape = window_statistics(window_bt=window_s * width_hz, step_bt=STEP_S * width_hz)
    return FineEnvelope(
        column=column,
        nominal_hz=fit.band_filter.band.nominal_hz,
        spots=spots,
        start_s=start_s,
        ratio=ratio,
        share=share,
        level=level / level[:, :1],
        score=np.array([_score(r, s, shape=shape * w) for r, s, w in zip(ratio, share, worth, strict=True)]),
        likeness=likeness,
    )


def _decaying(model: DecayModel, time_s: Floats) -> Floats:
    parts = [level * np.exp(-rate * time_s) for level, rate in zip(model.levels, model.rates, strict=True)]
    return np.asarray(np.sum(parts, axis=0))


def _claps_worth(likeness: Floats) -> float:
    """How many unrelated claps the mean over some of one spot is worth."""
    return float(likeness.shape[0] ** 2 / np.maximum(likeness.sum(), likeness.shape[0]))


def _score(ratio: Floats, share: Floats, *, shape: float) -> Floats:
    mean = math.exp(math.lgamma(shape + 0.5) - math.lgamma(shape)) / math.sqrt(shape)
    deviation = math.sqrt(max(1.0 - mean**2, 1e-12))
    # One reflection, however strong, is one window: what repeats has to decide.
    z = np.minimum((np.sqrt(np.maximum(ratio, 0.0)) - mean) / deviation, _HIGHEST)
    at = np.linspace(-1.0, 1.0, ratio.size)
    terms = np.vander(at, _TREND_TERMS) * share[:, None]
    trend, *_ = np.linalg.lstsq(terms, share * z, rcond=None)
    return np.asarray(share * z - terms @ trend)


@lru_cache(maxsize=64)
def window_statistics(*, window_bt: float, step_bt: float) -> tuple[Floats, float]:
    """Correlation of windows that follow one another, and the gamma shape of one.

    Parameters
    ----------
    window_bt, step_bt : float
        Length and spacing of the windows times the bandwidth.

    Returns
    -------
    (array, float)
        Correlation at 0, 1, 2... steps as far as it matters, and the shape.
    """
    s = np.linspace(-window_bt, window_bt, 801)
    overlap = (1.0 - np.abs(s) / window_bt) / window_bt
    n_lags = math.ceil((window_bt + 1.0) / step_bt)
    shifted = s[None, :] + step_bt * np.arange(n_lags + 1)[:, None]
    covariance = np.trapezoid(overlap * np.sinc(shifted) ** 2, s, axis=1)
    likeness = covariance / covariance[0]
    likeness.flags.writeable = False
    return likeness, float(1.0 / covariance[0])
