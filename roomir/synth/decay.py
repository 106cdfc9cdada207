"""Decays whose truth is known: Gaussian sound under exponential envelopes.

The reverberation of a room is, past its first reflections, Gaussian noise under
an exponential envelope (Polack, "Modifying chambers to play billiards", Acustica
76 (1992) 257-272; the model behind the scatter formulas of ISO 3382-2:2008, 7).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
_LN_60_DB = 6.0 * float(np.log(10.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Slope:
    """One exponential part of a decay.

    Attributes
    ----------
    decay_time_s : float
        Time to fall by 60 dB. [s]
    level_db : float
        Level at time zero, of the squared envelope. [dB]
    """

    decay_time_s: float
    level_db: float = 0.0


def envelope_power(time_s: Floats, *, slopes: Sequence[Slope]) -> Floats:
    """Expected squared sound pressure at ``time_s``, the sum of its slopes; zero before time zero."""
    power = sum(
        10.0 ** (s.level_db / 10.0) * np.exp(-_LN_60_DB * np.maximum(time_s, 0.0) / s.decay_time_s)
        for s in slopes
    )
    return np.where(time_s < 0.0, 0.0, power)


def room_response(
    *,
    rng: np.random.Generator,
    sample_rate_hz: int,
    slopes: Sequence[Slope],
    duration_s: float,
    direct_to_reverberant_db: float | None = None,
    n_early: int = 0,
    early_s: float = 0.03,
) -> Floats:
    """Draw the response of a room in one spot: direct sound, early reflections, reverberation.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance; the same state gives the same response.
    sample_rate_hz : int
        Rate. [Hz]
    slopes : sequence of Slope
        The reverberation, with unit variance at time zero for a level of 0 dB.
    duration_s : float
        Length of the response. [s]
    direct_to_reverberant_db : float, optional
        Energy of the direct sound over that of the reverberation; no direct
        sound where it is missing. [dB]
    n_early : int
        Number of early reflections, each 3 to 12 dB below the direct sound, at
        random within ``early_s``.
    early_s : float
        Time after the direct sound within which early reflections lie. [s]

    Returns
    -------
    array, shape (n,)
        Response, direct sound at frame 0.
    """
    time_s = np.arange(round(duration_s * sample_rate_hz)) / sample_rate_hz
    power = envelope_power(time_s, slopes=slopes)
    response = rng.standard_normal(time_s.size) * np.sqrt(power)
    if direct_to_reverberant_db is not None:
        # Against the expectation, not the draw: a loud draw must not raise the direct sound.
        amplitude = np.sqrt(power.sum() * 10.0 ** (direct_to_reverberant_db / 10.0))
        response[0] += amplitude
        places = rng.uniform(0.002, early_s, n_early)
        levels = amplitude * 10.0 ** (-rng.uniform(3.0, 12.0, n_early) / 20.0)
        frames = np.round(places * sample_rate_hz).astype(np.intp)
        np.add.at(response, frames, levels * rng.choice([-1.0, 1.0], n_early))
    return response
