"""What answers are held against: exact lines through exact decays, and the least possible scatter."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from roomir.bands.band import Band
from roomir.synth.decay import Slope

_K60 = 6.0 * np.log(10.0)


def line_time_s(slopes: Sequence[Slope], *, upper_db: float = -5.0, lower_db: float = -35.0) -> float:
    """Decay time of the least-squares line over a stretch of the backward-integrated mean decay. [s].

    Written out here, apart from the package: energy of ``sum(a exp(-k t))`` still to
    come is ``sum(a/k exp(-k t))``; the line goes through points evenly spaced in time.
    """
    level = np.array([10.0 ** (s.level_db / 10.0) for s in slopes])
    rate = np.array([_K60 / s.decay_time_s for s in slopes])
    time_s = np.linspace(0.0, 1.2 * max(s.decay_time_s for s in slopes), 60_001)
    left = (level / rate) @ np.exp(-np.outer(rate, time_s))
    level_db = 10.0 * np.log10(left / left[0])
    inside = (level_db <= upper_db) & (level_db >= lower_db)
    slope, _ = np.polyfit(time_s[inside], level_db[inside], 1)
    return float(-60.0 / slope)


def relative_bound(
    *, decay_time_s: float, range_db: float, length_s: float, band: Band, claps: int = 1
) -> float:
    """Least relative standard error of a decay time that any unbiased estimate can have.

    Cramer and Rao, from the joint Fisher information for level, decay time and background
    of the squared envelope of Gaussian sound of bandwidth f2 - f1, heard for ``length_s``.
    """
    time_s = (np.arange(20_000) + 0.5) * (length_s / 20_000)
    decay = np.exp(-_K60 / decay_time_s * time_s)
    noise = 10.0 ** (-range_db / 10.0)
    # Derivatives of the logarithm of the mean by log T, log A, log N.
    mean = decay + noise
    by = np.stack([_K60 / decay_time_s * time_s * decay / mean, decay / mean, noise / mean])
    information = band.width_hz * (length_s / 20_000) * (by @ by.T)
    return float(np.sqrt(np.linalg.inv(information)[0, 0] / claps))


def stretch_time_s(energy: np.ndarray, *, rate_hz: float, lower_db: float) -> float:
    """Decay time of the line from -5 dB to ``lower_db`` of an expected energy, direct sound and all. [s]."""
    left = np.cumsum(energy[::-1])[::-1]
    level_db = 10.0 * np.log10(left / left[0] + 1e-30)
    part = slice(int(np.argmax(level_db < -5.0)), int(np.argmax(level_db < lower_db)))
    time_s = np.arange(energy.size)[part] / rate_hz
    slope, _ = np.polyfit(time_s, level_db[part], 1)
    return float(-60.0 / slope)
