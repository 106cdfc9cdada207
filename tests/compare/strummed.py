"""Chords in invented rooms."""

from __future__ import annotations

import numpy as np
from scipy.signal import fftconvolve

from roomir.audio.recording import Recording, SoundInMemory
from roomir.synth.decay import Slope, room_response

RATE_HZ = 16_000
CHORDS_HZ = {
    "C": (130.8, 164.8, 196.0, 261.6, 329.6),
    "G": (98.0, 123.5, 146.8, 196.0, 392.0),
    "Am": (110.0, 164.8, 220.0, 261.6, 329.6),
    "F": (87.3, 130.8, 174.6, 220.0, 349.2),
    "E": (82.4, 123.5, 164.8, 207.7, 246.9),
    "Bb": (116.5, 174.6, 233.1, 293.7),
    "Eb": (155.6, 196.0, 233.1, 311.1),
    "Cm": (130.8, 155.6, 196.0, 261.6),
}


def strum(rng: np.random.Generator, chord: str, *, length_s: float) -> np.ndarray:
    """One chord, string after string, each with six partials that die away."""
    time_s = np.arange(round(length_s * RATE_HZ)) / RATE_HZ
    out = np.zeros(time_s.size)
    for string, hz in enumerate(CHORDS_HZ[chord]):
        since_s = time_s - 0.01 * string
        for partial in range(1, 7):
            tone = np.sin(2.0 * np.pi * hz * partial * since_s + rng.uniform(0.0, 6.0))
            out += np.where(
                since_s >= 0.0, tone * np.exp(-since_s * (1.0 + 0.4 * partial)) / partial**1.2, 0.0
            )
    return out


def played(chords: str, *, decay_time_s: float, seed: int, tempo: float = 1.0) -> Recording:
    """A take of chords, a second each, in a room."""
    rng = np.random.default_rng(seed)
    beats = [strum(rng, one, length_s=tempo * (1.0 + 0.03 * rng.standard_normal())) for one in chords.split()]
    dry = np.concatenate([np.zeros(RATE_HZ), *beats, np.zeros(RATE_HZ)])
    response = room_response(
        rng=rng,
        sample_rate_hz=RATE_HZ,
        slopes=[Slope(decay_time_s=decay_time_s, level_db=0.0)],
        duration_s=1.5 * decay_time_s,
    )
    response *= 0.7 / np.sqrt((response**2).sum())
    response[0] += 1.0
    wet = fftconvolve(dry, response)
    wet = 0.5 * wet / np.abs(wet).max() + 1e-4 * rng.standard_normal(wet.size)
    sound = SoundInMemory(samples=wet.astype(np.float32), sample_rate_hz=RATE_HZ)
    return Recording(sound=sound, source_name=f"chords {seed}.wav")
