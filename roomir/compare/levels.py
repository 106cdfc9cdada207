"""How loud claps and playing are in a recording, for takes made at one gain."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from roomir.audio.recording import Recording
from roomir.compare.passages import recording_of
from roomir.reading.reading import Reading

Floats = NDArray[np.float64]

LEAST_SOUNDS = 3
"""Claps, or seconds of playing, on each side, below which their scatter says nothing."""

_LOW_HZ = 300.0
_LEAD_S = 0.005
_FLOOR = 0.1
_OVER_FLOOR_DB = 10.0
_BLOCK_S = 1.0


def clap_levels_db(recordings: Sequence[Recording], reading: Reading) -> Floats:
    """Energy of every used clap, direct sound and reverberation together, background taken off. [dB]"""
    out = []
    for take in reading.takes:
        recording = recording_of(take, recordings)
        for clap in () if recording is None else take.claps:
            if recording is None or not clap.used:
                continue
            times = [
                f.decay_time_s for f in clap.bands if f.decay_time_s is not None and f.band.exact_hz > _LOW_HZ
            ]
            length_s = min(clap.stop_s - clap.onset_s, max(times, default=0.5))
            energy = _energy(recording, start_s=clap.onset_s - _LEAD_S, stop_s=clap.onset_s + length_s)
            quiet_s = min(0.3, clap.onset_s)
            noise = _energy(recording, start_s=clap.onset_s - quiet_s, stop_s=clap.onset_s - _LEAD_S)
            left = energy.sum() - (noise.mean() * energy.size if noise.size else 0.0)
            if left > 0.0:
                out.append(10.0 * math.log10(left / recording.sound.sample_rate_hz))
    return np.array(out)


def playing_levels_db(recordings: Sequence[Recording]) -> Floats:
    """Level of every second that stands clear of the background. [dB]"""
    out: list[float] = []
    for recording in recordings:
        n = round(_BLOCK_S * recording.sound.sample_rate_hz)
        energy = _energy(recording, start_s=0.0, stop_s=recording.duration_s)
        blocks = energy[: energy.size // n * n].reshape(-1, n).mean(axis=1)
        if blocks.size < LEAST_SOUNDS:
            continue
        floor = float(np.quantile(blocks, _FLOOR))
        sounding = blocks[blocks > floor * 10.0 ** (_OVER_FLOOR_DB / 10.0)]
        # Steady playing has no quiet second: then all of it counts.
        out += [10.0 * math.log10(one) for one in (sounding if sounding.size else blocks) if one > 0.0]
    return np.array(out)


def _energy(recording: Recording, *, start_s: float, stop_s: float) -> Floats:
    """Squared sound without the bass, which says more of trucks than of the source; summed over channels."""
    from scipy.signal import butter, sosfilt

    rate = recording.sound.sample_rate_hz
    start, stop = (max(round(time_s * rate), 0) for time_s in (start_s, stop_s))
    stretch = recording.sound.stretch(start=start, stop=stop).astype(np.float64)
    if not stretch.size:
        return np.empty(0)
    passed = sosfilt(butter(4, _LOW_HZ, "highpass", fs=rate, output="sos"), stretch, axis=0)
    return np.asarray((passed**2).sum(axis=1))
