r"""A fitted decay of one clap in one band, as plain numbers: one or two slopes and a background."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LN_60_DB = 6.0 * float(np.log(10.0))
"""Fall of 60 dB in nepers of energy: k T = 13.8155."""

DB_PER_NEPER = 10.0 / float(np.log(10.0))
"""Decibels per natural unit of energy."""

_LINE_POINTS = 241


@dataclass(frozen=True, slots=True, kw_only=True)
class DecayModel:
    """Squared envelope ``sum(level_i exp(-rate_i t)) + noise``.

    Attributes
    ----------
    rates : tuple of float
        Decay rates, steepest first. [1/s]
    levels : tuple of float
        Squared envelope of each slope at time zero. [full scale squared]
    noise : float
        Mean square of the background. [full scale squared]
    """

    rates: tuple[float, ...]
    levels: tuple[float, ...]
    noise: float

    @property
    def n_slopes(self) -> int:
        """Number of slopes."""
        return len(self.rates)

    @property
    def decay_times_s(self) -> tuple[float, ...]:
        """Time of each slope to fall by 60 dB. [s]"""
        return tuple(LN_60_DB / rate for rate in self.rates)

    def decaying(self, time_s: float) -> float:
        """Squared envelope of the decay alone at ``time_s``."""
        return sum(
            level * math.exp(-rate * time_s) for level, rate in zip(self.levels, self.rates, strict=True)
        )

    def energy_after(self, time_s: float) -> float:
        """Energy of the decay from ``time_s`` on. [full scale squared times s]"""
        return sum(
            level / rate * math.exp(-rate * time_s)
            for level, rate in zip(self.levels, self.rates, strict=True)
        )

    def moment_after(self, time_s: float) -> float:
        """Integral of ``energy_after`` from ``time_s`` on. [full scale squared times s^2]"""
        return sum(
            level / rate**2 * math.exp(-rate * time_s)
            for level, rate in zip(self.levels, self.rates, strict=True)
        )

    def crosspoint_s(self, end_s: float) -> float:
        """Time at which the decay equals the background, at most ``end_s``. [s]"""
        low, high = 0.0, end_s
        if self.noise <= 0.0 or self.decaying(high) >= self.noise:
            return end_s
        if self.n_slopes == 1:
            return max(math.log(self.levels[0] / self.noise) / self.rates[0], 0.0)
        for _ in range(50):
            middle = 0.5 * (low + high)
            if self.decaying(middle) > self.noise:
                low = middle
            else:
                high = middle
        return low

    def range_db(self, *, from_s: float, end_s: float) -> float:
        """Level of the decay at ``from_s`` over the background, or over its own foot where it is cut off."""
        foot = max(self.noise, self.decaying(end_s))
        return 10.0 * math.log10(self.decaying(from_s) / foot)

    def is_cut_off(self, end_s: float) -> bool:
        """Whether the decay has not clearly (6 dB) sunk into the background at ``end_s``."""
        return self.decaying(end_s) > 0.25 * self.noise


def log_decay_time(shared: Floats) -> float:
    r"""Logarithm of the decay time of one or two slopes.

    The time is that of the least-squares line over -5 to -35 dB of the
    backward-integrated, noise-free decay: the T30 of the average over endless
    realisations. One slope is its own line.

    Parameters
    ----------
    shared : array, shape (1,) or (3,)
        Log rate; or log rates of both slopes and log ratio of their levels.

    Returns
    -------
    float
        :math:`\ln T`, T in seconds.
    """
    if shared.shape[0] == 1:
        return float(np.log(LN_60_DB) - shared[0])
    first, second = np.exp(shared[:2])
    ratio = np.exp(min(shared[2], 60.0))
    slowest = min(first, second)
    time_s = np.linspace(0.0, 40.0 / 10.0 * np.log(10.0) / slowest, 4000)
    energy = np.exp(-first * time_s) / first + ratio * np.exp(-second * time_s) / second
    level_db = 10.0 * np.log10(energy / energy[0])
    # Even spacing in time between the exact crossings, so that the line does not
    # jump as points enter and leave the stretch.
    start_s, stop_s = np.interp([5.0, 35.0], -level_db, time_s)
    line_s = start_s + (stop_s - start_s) * (np.arange(_LINE_POINTS) + 0.5) / _LINE_POINTS
    line = np.exp(-first * line_s) / first + ratio * np.exp(-second * line_s) / second
    off = line_s - line_s.mean()
    slope = float(off @ (10.0 * np.log10(line))) / float(off @ off)
    return float(np.log(-60.0 / slope))


def log_decay_time_gradient(shared: Floats) -> Floats:
    """Gradient of :func:`log_decay_time` by its parameters, by central differences."""
    if shared.shape[0] == 1:
        return np.array([-1.0])
    step = 1e-4
    out = np.empty(shared.shape[0])
    for i in range(shared.shape[0]):
        offset = np.zeros(shared.shape[0])
        offset[i] = step
        out[i] = (log_decay_time(shared + offset) - log_decay_time(shared - offset)) / (2.0 * step)
    return out
