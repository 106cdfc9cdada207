"""Short takes for trying the detectors; every figure in them is invented."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from roomir.audio.recording import Recording, SoundInMemory
from roomir.bands.band import OCTAVES
from roomir.claps.find import find_claps
from roomir.faults.fault import Fault
from roomir.faults.in_sound import inspect_sounds
from roomir.synth.takes import SynthTake, make_take

RATE_HZ = 48000


@lru_cache(maxsize=8)
def clapped(
    *, seed: int = 1, decay_time_s: float = 0.5, background_db: float = -55.0, n_claps: int = 2
) -> SynthTake:
    """Make two claps in one room, a second or more apart."""
    return make_take(
        seed=seed,
        sample_rate_hz=RATE_HZ,
        decay_time_s=decay_time_s,
        n_claps=n_claps,
        background_db=background_db,
        level_spread_db=3.0,
        spacing_s=(1.6 * decay_time_s + 0.7, 1.7 * decay_time_s + 0.8),
    )


def rounded(sound: NDArray[np.floating], *, bits: int = 16) -> NDArray[np.float32]:
    """Write a sound in steps as a converter does."""
    steps = 2.0 ** (bits - 1)
    return (np.clip(np.round(sound * steps), -steps, steps - 1.0) / steps).astype(np.float32)


def recorded(sound: NDArray[np.floating], *, rate_hz: int = RATE_HZ, codec: str = "PCM_16") -> Recording:
    """Make a recording of samples."""
    return Recording(
        sound=SoundInMemory(samples=np.asarray(sound, dtype=np.float32), sample_rate_hz=rate_hz),
        source_name="take.wav",
        codec=codec,
    )


def inspected(
    sound: NDArray[np.floating], *, rate_hz: int = RATE_HZ, codec: str = "PCM_16"
) -> tuple[Fault, ...]:
    """Look for faults as a reading does."""
    recording = recorded(sound, rate_hz=rate_hz, codec=codec)
    return inspect_sounds([recording], [find_claps(recording.sound)], bands=OCTAVES)[0]


def codes(faults: tuple[Fault, ...]) -> set[str]:
    """Return the codes of some faults."""
    return {fault.remark.code for fault in faults}
