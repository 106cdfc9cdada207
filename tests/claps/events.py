"""Small sounds whose events are known by construction."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from roomir.audio.recording import SoundInMemory
from roomir.claps.clap import Clap
from roomir.synth.decay import Slope, room_response
from roomir.synth.sources import clap_pulse

RATE_HZ = 48_000


def response(
    *,
    seed: int = 1,
    decay_time_s: float = 0.5,
    direct_db: float = 3.0,
    n_early: int = 6,
    rate_hz: int = RATE_HZ,
    duration_s: float | None = None,
) -> np.ndarray:
    """What one spot of a room makes of a single frame."""
    return room_response(
        rng=np.random.default_rng(seed),
        sample_rate_hz=rate_hz,
        slopes=[Slope(decay_time_s=decay_time_s)],
        duration_s=1.2 * decay_time_s + 0.1 if duration_s is None else duration_s,
        direct_to_reverberant_db=direct_db,
        n_early=n_early,
    )


def clap_in(room: np.ndarray, *, seed: int = 1, rate_hz: int = RATE_HZ) -> np.ndarray:
    """A clap heard in a room, highest magnitude 1."""
    pulse = clap_pulse(rng=np.random.default_rng(seed), sample_rate_hz=rate_hz)
    n = room.size + pulse.size - 1
    wet = np.fft.irfft(np.fft.rfft(pulse, 2 * n) * np.fft.rfft(room, 2 * n), 2 * n)[:n]
    return wet / np.abs(wet).max()


def take(
    events: Sequence[tuple[float, np.ndarray]],
    *,
    duration_s: float,
    background_db: float = -65.0,
    rate_hz: int = RATE_HZ,
    seed: int = 0,
) -> SoundInMemory:
    """Events at their times over a steady background."""
    n = round(duration_s * rate_hz)
    sound = np.random.default_rng(seed).standard_normal(n) * 10.0 ** (background_db / 20.0)
    for at_s, event in events:
        start = round(at_s * rate_hz)
        stop = min(start + event.size, n)
        sound[start:stop] += event[: stop - start]
    return SoundInMemory(samples=0.5 * sound, sample_rate_hz=rate_hz)


def used(claps: Sequence[Clap]) -> list[Clap]:
    """Those whose decay is read."""
    return [clap for clap in claps if clap.used]


def codes(claps: Sequence[Clap]) -> list[str]:
    """Why the others are set aside."""
    return [clap.set_aside_because.code for clap in claps if clap.set_aside_because is not None]
