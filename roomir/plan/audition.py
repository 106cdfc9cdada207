r"""Hear a room before it is built: a dry sound in a response made from decay times.

The response is the direct sound after :math:`r / c` and noise under an exponential
envelope per octave (J.-D. Polack, Acustica 76 (1992) 257-272). In a diffuse field the
energy of the reverberation over that of the direct sound is :math:`16 \pi r^2 / (Q A)`
(H. Kuttruff, "Room Acoustics", chapter 5), less what decays before the direct sound
comes (M. Barron and L.-J. Lee, J. Acoust. Soc. Am. 84 (1988) 618-628); with
:math:`A = 24 \ln(10) V / (c T)` the power of the noise at the emission of the sound is
the same for every decay time.

A draw of noise decays a little faster or slower than its envelope, and an octave holds
some of its neighbours. So each draw is read by roomir itself, and its envelopes are
corrected until they read as asked.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomir.audio.recording import Recording, SoundInMemory
from roomir.bands.band import OCTAVES
from roomir.errors import ParameterError
from roomir.reading.take import take_reading

Floats = NDArray[np.float64]

_NEPERS = 6.0 * math.log(10.0)
_LEAD_S = 0.05
"""Silence before the direct sound, so that filters find its beginning. [s]"""

_EDGE_OCTAVES = 0.2
"""Width of the crossfade between octaves. [octaves]"""

_CLOSE = 0.003
_ROUNDS = 8


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RoomResponse:
    """A response that was made.

    Attributes
    ----------
    samples : array, shape (n,)
        The direct sound alone would be 1.
    sample_rate_hz : int
        Rate. [Hz]
    asked_s : tuple of float
        Decay times asked for, 63 Hz to 8 kHz. [s]
    read_s : tuple of (float or None)
        What roomir reads from it. [s]
    read_ci95_s : tuple of ((float, float) or None)
        With its interval for the spot. [s]
    """

    samples: Floats
    sample_rate_hz: int
    asked_s: tuple[float, ...]
    read_s: tuple[float | None, ...]
    read_ci95_s: tuple[tuple[float, float] | None, ...]


def make_response(
    decay_time_s: Sequence[float],
    *,
    volume_m3: float,
    distance_m: float,
    directivity: float,
    sound_speed: float,
    sample_rate_hz: int,
    seed: int,
) -> RoomResponse:
    """Make the response of a room from its decay times.

    Parameters
    ----------
    decay_time_s : sequence of 8 floats
        For 63 Hz to 8 kHz. [s]
    volume_m3 : float
        Volume. [m3]
    distance_m : float
        From source to microphone. [m]
    directivity : float
        Directivity factor Q of the source towards the microphone.
    sound_speed : float
        Speed of sound. [m/s]
    sample_rate_hz : int
        At least 16 kHz. [Hz]
    seed : int
        The same seed gives the same noise.

    Returns
    -------
    RoomResponse
        It, and what roomir reads from it.

    Raises
    ------
    ParameterError
        If a figure is not positive, or the rate too low.
    """
    asked = np.array(decay_time_s, dtype=np.float64)
    if asked.shape != (len(OCTAVES),) or not (np.isfinite(asked).all() and (asked > 0.0).all()):
        raise ParameterError("eight positive decay times are needed, 63 Hz to 8 kHz", code="not-positive")
    if not (volume_m3 > 0.0 and distance_m > 0.0 and directivity > 0.0):
        raise ParameterError("volume, distance and directivity have to be positive", code="not-positive")
    if sample_rate_hz < 16_000:
        raise ParameterError(
            f"{sample_rate_hz} Hz is too low a sampling rate to hear a room with",
            code="rate-too-low-to-hear",
            remedy="take a dry recording at 44.1 or 48 kHz",
        )
    longest_s = 1.2 * float(asked.max()) + _LEAD_S
    noise = np.random.default_rng(seed).standard_normal(round(longest_s * sample_rate_hz))
    # Energy of noise of variance s2 from time 0 on: s2 fs T / (6 ln 10); over the direct sound's 1.
    power = 4.0 * math.pi * distance_m**2 * sound_speed / (directivity * volume_m3 * sample_rate_hz)
    delay_s = distance_m / sound_speed
    envelopes = asked.copy()
    best: RoomResponse | None = None
    off = math.inf
    for _ in range(_ROUNDS):
        samples = _response(noise, envelopes, power=power, delay_s=delay_s, rate=sample_rate_hz)
        response = _read_back(samples, asked, rate=sample_rate_hz)
        ratios = np.array([1.0 if t is None else t / a for t, a in zip(response.read_s, asked, strict=True)])
        worst = float(np.abs(np.log(ratios)).max())
        if worst < off:
            best, off = response, worst
        if worst < _CLOSE:
            break
        # Not all the way at once: neighbours share their edges and would overshoot together.
        envelopes *= np.clip(ratios, 0.7, 1.4) ** -0.8
    assert best is not None
    return best


def _response(noise: Floats, envelopes: Floats, *, power: float, delay_s: float, rate: int) -> Floats:
    from scipy import fft

    time_s = np.arange(noise.size) / rate
    n = fft.next_fast_len(noise.size + rate // 10, real=True)
    weights = _crossfades(np.arange(n // 2 + 1, dtype=np.float64) * np.float64(rate / n))
    spectrum = np.zeros(n // 2 + 1, dtype=np.complex128)
    for weight, decay_time_s in zip(weights, envelopes, strict=True):
        train = noise * np.exp(-0.5 * _NEPERS * (time_s + delay_s) / decay_time_s)
        spectrum += weight * fft.rfft(train, n)
    late = math.sqrt(power) * fft.irfft(spectrum, n)[: noise.size]
    samples = np.concatenate([np.zeros(round(_LEAD_S * rate)), late])
    samples[round(_LEAD_S * rate)] += 1.0
    return samples


def _crossfades(frequency_hz: Floats) -> Floats:
    """Weights of the octaves, shape (8, n), that sum to one: steep, or a long octave fills its neighbours."""
    at = np.log2(np.maximum(frequency_hz, 1e-3))
    edges = np.log2([band.high_hz for band in OCTAVES[:-1]])[:, np.newaxis]
    rise = np.sin(0.5 * np.pi * np.clip((at - edges) / _EDGE_OCTAVES + 0.5, 0.0, 1.0)) ** 2
    above, below = np.vstack([np.ones_like(at), rise]), np.vstack([rise, np.zeros_like(at)])
    return np.asarray(above - below, dtype=np.float64)


def _read_back(samples: Floats, asked: Floats, *, rate: int) -> RoomResponse:
    loud = samples / np.abs(samples).max() * 0.5
    recording = Recording(
        sound=SoundInMemory(samples=loud.astype(np.float32), sample_rate_hz=rate), source_name="response"
    )
    figures = {one.figures.band.nominal_hz: one.figures for one in take_reading([recording]).bands}
    found = [figures.get(band.nominal_hz) for band in OCTAVES]
    return RoomResponse(
        samples=samples,
        sample_rate_hz=rate,
        asked_s=tuple(map(float, asked)),
        read_s=tuple(None if one is None else one.decay_time_s for one in found),
        read_ci95_s=tuple(None if one is None else one.spot_ci95_s for one in found),
    )


def in_room(dry: Floats, response: RoomResponse) -> Floats:
    """Let a dry sound be heard in a room: their convolution, at the same rate.

    Parameters
    ----------
    dry : array, shape (n,)
        At the response's rate.
    response : RoomResponse
        The room.
    """
    from scipy.signal import fftconvolve

    start = round(_LEAD_S * response.sample_rate_hz)
    return np.asarray(fftconvolve(dry, response.samples[start:]), dtype=np.float64)
