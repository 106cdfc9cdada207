"""Short sounds that set a room ringing: hand claps, balloon pops, boards clapped together.

Each function gives the pressure of the source alone, as a microphone in a
room without walls would record it. Convolve it with a room's response to
hear it there. The shapes are models, not recordings: a clap is a burst of
noise coloured by the cavity between the palms, a pop is the N-shaped wave of
a sphere of compressed air set free.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from roomir.errors import ParameterError

Pulse = NDArray[np.float64]
"""Sound of a source, shape (n,), largest magnitude 1."""

_SPEED_OF_SOUND_M_PER_S = 343.0


def clap_pulse(
    *,
    rng: np.random.Generator,
    sample_rate_hz: int,
    cavity_hz: float | None = None,
    length_s: float | None = None,
) -> Pulse:
    """Make the sound of one hand clap.

    Parameters
    ----------
    rng : numpy.random.Generator
        Where the variation between claps comes from.
    sample_rate_hz : int
        Frames per second. [Hz]
    cavity_hz : float, optional
        Resonance of the air between the palms; 500 to 2200 Hz where it is not
        given (cupped hands lie low, flat fingers high). [Hz]
    length_s : float, optional
        Time in which the burst falls by 60 dB; 6 to 25 ms where it is not given. [s]

    Returns
    -------
    Pulse, shape (n,)
        Pressure, largest magnitude 1; the sound begins within 0.3 ms.

    Raises
    ------
    ParameterError
        If the rate, the resonance or the length is not positive.

    Notes
    -----
    Little energy lies below about 250 Hz, as with real hands.
    """
    rate = _checked_rate(sample_rate_hz)
    cavity = float(np.exp(rng.uniform(np.log(500.0), np.log(2200.0)))) if cavity_hz is None else cavity_hz
    length = float(rng.uniform(0.006, 0.025)) if length_s is None else length_s
    _check_positive(cavity_hz=cavity, length_s=length)
    time_s = np.arange(max(int(1.3 * length * rate), 8)) / rate
    rise_s = float(rng.uniform(0.05e-3, 0.25e-3))
    envelope = (1.0 - np.exp(-time_s / rise_s)) * 10.0 ** (-3.0 * time_s / length)
    slap = rng.standard_normal(time_s.size) * envelope * np.exp(-time_s / (0.15 * length))
    damping = float(rng.uniform(0.8, 2.0)) * 6.9 / length
    ring = np.sin(2.0 * np.pi * cavity * time_s + rng.uniform(-0.5, 0.5)) * np.exp(-damping * time_s)
    noise = rng.standard_normal(time_s.size) * envelope
    air = _band_shaped(noise, low_hz=0.6 * cavity, high_hz=4.0 * cavity, rate=rate)
    # Nothing of the burst may come before its own onset, which shaping by spectrum would allow.
    air *= envelope / (envelope + 0.05)
    mix = slap * rng.uniform(0.4, 1.0) + ring * envelope * rng.uniform(0.3, 1.0) + air * rng.uniform(0.8, 1.6)
    return _normalised(_without_bass(mix, low_hz=0.35 * cavity, rate=rate))


def pop_pulse(
    *,
    rng: np.random.Generator,
    sample_rate_hz: int,
    diameter_m: float | None = None,
) -> Pulse:
    """Make the sound of a bursting balloon.

    Parameters
    ----------
    rng : numpy.random.Generator
        Where the variation between balloons comes from.
    sample_rate_hz : int
        Frames per second. [Hz]
    diameter_m : float, optional
        Size of the balloon; 0.2 to 0.4 m where it is not given. [m]

    Returns
    -------
    Pulse, shape (n,)
        Pressure, largest magnitude 1.

    Raises
    ------
    ParameterError
        If the rate or the diameter is not positive.

    Notes
    -----
    Far from a sphere of slightly compressed air that is set free at once,
    the pressure is a straight fall from ``+p`` to ``-p`` that lasts
    ``diameter / c`` (linear acoustics). The skin takes a while to tear, which
    rounds the corners and adds a little noise.
    """
    rate = _checked_rate(sample_rate_hz)
    diameter = float(rng.uniform(0.2, 0.4)) if diameter_m is None else diameter_m
    _check_positive(diameter_m=diameter)
    crossing_s = diameter / _SPEED_OF_SOUND_M_PER_S
    tearing_s = float(rng.uniform(0.1, 0.25)) * crossing_s
    time_s = np.arange(int(12.0 * crossing_s * rate) + 8) / rate
    wave = np.where(time_s <= crossing_s, 1.0 - 2.0 * time_s / crossing_s, 0.0)
    n_corner = max(int(tearing_s * rate), 1)
    corner = np.exp(-np.arange(4 * n_corner) / n_corner)
    wave = np.convolve(wave, corner / corner.sum())[: time_s.size]
    skin = rng.standard_normal(time_s.size) * np.exp(-time_s / (0.7 * crossing_s))
    return _normalised(wave + rng.uniform(0.03, 0.12) * skin)


def board_pulse(*, rng: np.random.Generator, sample_rate_hz: int) -> Pulse:
    """Make the sound of two boards clapped together.

    Parameters
    ----------
    rng : numpy.random.Generator
        Where the variation between blows comes from.
    sample_rate_hz : int
        Frames per second. [Hz]

    Returns
    -------
    Pulse, shape (n,)
        Pressure, largest magnitude 1: a crack, and bending modes from about
        300 Hz up that die within some milliseconds.

    Raises
    ------
    ParameterError
        If the rate is not positive.
    """
    rate = _checked_rate(sample_rate_hz)
    time_s = np.arange(int(0.03 * rate)) / rate
    crack = rng.standard_normal(time_s.size) * np.exp(-time_s / rng.uniform(0.3e-3, 0.9e-3))
    modes = np.zeros_like(time_s)
    for frequency in np.exp(rng.uniform(np.log(300.0), np.log(min(6000.0, 0.4 * rate)), size=9)):
        modes += rng.uniform(0.2, 1.0) * _ring(
            time_s, frequency_hz=float(frequency), decay_s=0.6 / frequency**0.75
        )
    rise = 1.0 - np.exp(-time_s / 0.08e-3)
    return _normalised(rise * (crack + 0.35 * modes))


def _ring(time_s: Pulse, *, frequency_hz: float, decay_s: float) -> Pulse:
    """One mode struck at time zero."""
    return np.sin(2.0 * np.pi * frequency_hz * time_s) * np.exp(-time_s / decay_s)


def _band_shaped(noise: Pulse, *, low_hz: float, high_hz: float, rate: int) -> Pulse:
    """Colour noise by a smooth hump between two frequencies, energy kept."""
    frequency = np.fft.rfftfreq(noise.size, 1.0 / rate)
    with np.errstate(divide="ignore"):
        gain = 1.0 / np.sqrt(1.0 + (low_hz / frequency) ** 4 + (frequency / high_hz) ** 2)
    shaped = np.fft.irfft(np.fft.rfft(noise) * gain, noise.size)
    energy = float(np.sum(shaped**2))
    return shaped * float(np.sqrt(np.sum(noise**2) / energy)) if energy > 0.0 else noise


def _without_bass(sound: Pulse, *, low_hz: float, rate: int) -> Pulse:
    """Take out what lies below ``low_hz`` with two causal first-order high passes."""
    n_pad = int(2.0 * rate / low_hz)
    n = sound.size + n_pad
    frequency = np.fft.rfftfreq(2 * n, 1.0 / rate)
    highpass = (1j * frequency / low_hz / (1.0 + 1j * frequency / low_hz)) ** 2
    return np.fft.irfft(np.fft.rfft(sound, 2 * n) * highpass, 2 * n)[:n]


def _normalised(sound: Pulse) -> Pulse:
    return sound / float(np.max(np.abs(sound)))


def _checked_rate(sample_rate_hz: int) -> int:
    _check_positive(sample_rate_hz=sample_rate_hz)
    return sample_rate_hz


def _check_positive(**values: float) -> None:
    for name, value in values.items():
        if not value > 0.0:
            raise ParameterError(f"{name} has to be above zero, not {value}", code="not-positive")
