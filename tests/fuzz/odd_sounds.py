"""Sounds that a file may hold and that no hands ever made."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from tests.audio.sound_files import decay

Made = Callable[[np.random.Generator, int], np.ndarray]


def _claps(rng: np.random.Generator, rate_hz: int) -> np.ndarray:
    """Two bursts in a dead room over a faint background: short, and it gives a reading."""
    n, gap = round(1.3 * rate_hz), round(0.6 * rate_hz)
    time_s = np.arange(gap) / rate_hz
    samples = 2e-5 * rng.standard_normal((n, 1))
    for start in (round(0.05 * rate_hz), round(0.68 * rate_hz)):
        envelope = 0.4 * 10.0 ** (-3.0 * time_s / rng.uniform(0.1, 0.2))
        samples[start : start + gap, 0] += (envelope * rng.standard_normal(gap))[: n - start]
    return np.clip(samples, -1.0, 1.0)


def _click(rng: np.random.Generator, rate_hz: int) -> np.ndarray:
    samples = np.zeros((rate_hz, 1))
    samples[int(rng.integers(rate_hz))] = 1.0
    return samples


def _clicks(rng: np.random.Generator, rate_hz: int) -> np.ndarray:
    samples = np.zeros((rate_hz, 1))
    samples[:: int(rng.integers(1, rate_hz // 2))] = rng.choice([-1.0, 1.0])
    return samples


def _clap_trains(rng: np.random.Generator, rate_hz: int) -> np.ndarray:
    one = _claps(rng, rate_hz)[: round(rng.uniform(0.02, 0.5) * rate_hz)]
    return np.tile(one, (max(1, 2 * rate_hz // len(one)), 1))


def _square(rng: np.random.Generator, rate_hz: int) -> np.ndarray:
    half = int(rng.integers(1, rate_hz // 10))
    return np.where(np.arange(rate_hz) // half % 2, 1.0, -1.0)[:, np.newaxis]


def _tone_and_claps(rng: np.random.Generator, rate_hz: int) -> np.ndarray:
    samples = _claps(rng, rate_hz)
    tone = np.sin(2 * np.pi * rng.uniform(20.0, rate_hz / 2) * np.arange(len(samples)) / rate_hz)
    return np.clip(samples + rng.uniform(0.0, 1.0) * tone[:, np.newaxis], -1.0, 1.0)


def _growing(rng: np.random.Generator, rate_hz: int) -> np.ndarray:
    return _claps(rng, rate_hz)[::-1]


def _bare_decay(rng: np.random.Generator, rate_hz: int) -> np.ndarray:
    """A decay without any background, down to zeros or to the last denormal."""
    time_s = np.arange(rate_hz) / rate_hz
    envelope = 10.0 ** (-3.0 * time_s / rng.uniform(0.001, 0.3))
    return (envelope * rng.standard_normal(rate_hz))[:, np.newaxis]


def _pure_exponential(rng: np.random.Generator, rate_hz: int) -> np.ndarray:
    return (10.0 ** (-3.0 * np.arange(rate_hz) / rate_hz / rng.uniform(0.01, 3.0)))[:, np.newaxis]


def _zeros_behind(rng: np.random.Generator, rate_hz: int) -> np.ndarray:
    samples = _claps(rng, rate_hz)
    samples[int(rng.integers(len(samples))) :] = 0.0
    return samples


def _zeros_between(rng: np.random.Generator, rate_hz: int) -> np.ndarray:
    samples = _claps(rng, rate_hz)
    for start in rng.integers(len(samples), size=6):
        samples[start : start + int(rng.integers(1, rate_hz // 10))] = 0.0
    return samples


def _stuck(rng: np.random.Generator, rate_hz: int) -> np.ndarray:
    samples = _claps(rng, rate_hz)
    start = int(rng.integers(len(samples)))
    samples[start:] = samples[start]
    return samples


def _scaled(exponent: float) -> Made:
    def made(rng: np.random.Generator, rate_hz: int) -> np.ndarray:
        return _claps(rng, rate_hz) * 10.0**exponent

    return made


def _offset(rng: np.random.Generator, rate_hz: int) -> np.ndarray:
    return 0.1 * _claps(rng, rate_hz) + rng.choice([-0.9, 0.9, 1e6])


def _with_one(value: float) -> Made:
    def made(rng: np.random.Generator, rate_hz: int) -> np.ndarray:
        samples = _claps(rng, rate_hz)
        samples[int(rng.integers(len(samples)))] = value
        return samples

    return made


def _short(rng: np.random.Generator, rate_hz: int) -> np.ndarray:
    samples = _claps(rng, rate_hz)
    start = int(rng.integers(len(samples)))
    return samples[start : start + int(rng.uniform(0.04, 0.4) * rate_hz)]


def _clipped(rng: np.random.Generator, rate_hz: int) -> np.ndarray:
    return np.clip(_claps(rng, rate_hz) * 10.0 ** rng.uniform(0.0, 3.0), -1.0, 1.0)


def _inverted_pair(rng: np.random.Generator, rate_hz: int) -> np.ndarray:
    samples = _claps(rng, rate_hz)
    return np.hstack([samples, -samples])


def _many_channels(rng: np.random.Generator, rate_hz: int) -> np.ndarray:
    n = int(rng.choice([3, 8, 64]))
    samples = _claps(rng, rate_hz)[: rate_hz // 2]
    return samples * np.where(rng.random(n) < 0.5, 0.0, 1.0)


def _steps(rng: np.random.Generator, rate_hz: int) -> np.ndarray:
    levels = 10.0 ** rng.uniform(-5.0, 0.0, size=12)
    return (np.repeat(levels, rate_hz // 8) * rng.standard_normal(12 * (rate_hz // 8)))[:, np.newaxis] / 4.0


def _coarse(rng: np.random.Generator, rate_hz: int) -> np.ndarray:
    steps = float(rng.choice([1.0, 2.0, 8.0]))
    return np.round(_claps(rng, rate_hz) * steps) / steps


def _noise(rng: np.random.Generator, rate_hz: int) -> np.ndarray:
    return 0.1 * rng.standard_normal((rate_hz, 1))


def _plain_decay(rng: np.random.Generator, rate_hz: int) -> np.ndarray:
    return decay(rate_hz=rate_hz, duration_s=0.6, seed=int(rng.integers(1000)))


class _OddSounds:
    """Makes a sound by its name, shape (n_frames, n_channels)."""

    def __init__(self, sounds: dict[str, Made]) -> None:
        self._sounds = sounds
        self.names = list(sounds)

    def __call__(self, name: str, rng: np.random.Generator, *, rate_hz: int) -> np.ndarray:
        with np.errstate(all="ignore"):
            made = np.asarray(self._sounds[name](rng, rate_hz)).astype(np.float32)
        return np.atleast_2d(made) if len(made) else np.zeros((1, 1), np.float32)


odd_sound = _OddSounds(
    {
        "claps": _claps,
        "a click": _click,
        "clicks": _clicks,
        "trains of claps": _clap_trains,
        "a square wave": _square,
        "a tone and claps": _tone_and_claps,
        "claps backwards": _growing,
        "a decay over nothing": _bare_decay,
        "a pure exponential": _pure_exponential,
        "zeros behind": _zeros_behind,
        "zeros between": _zeros_between,
        "a stuck converter": _stuck,
        "hardly there": _scaled(-30.0),
        "denormal": _scaled(-41.0),
        "faint": _scaled(-6.0),
        "far too loud": _scaled(15.0),
        "as loud as numbers go": _scaled(38.0),
        "an offset": _offset,
        "one value of 1e20": _with_one(1e20),
        "one NaN": _with_one(float("nan")),
        "one infinity": _with_one(float("inf")),
        "hardly a moment": _short,
        "clipped claps": _clipped,
        "two channels that cancel": _inverted_pair,
        "many channels": _many_channels,
        "steps of noise": _steps,
        "claps in coarse steps": _coarse,
        "noise": _noise,
        "a decay": _plain_decay,
    }
)
