"""How the octaves of a clap run, in short frames: enough to see a background or two channels change."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomir.bands.band import OCTAVES, Band, carries
from roomir.faults.heard import Heard

Powers = NDArray[np.float64]

_FRAME_S = 0.02


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OctaveRuns:
    """Power per octave, channel and frame from a clap's onset on.

    Attributes
    ----------
    power : Powers, shape (n_octaves, n_channels, n_frames)
        In frames of about 20 ms.
    octaves : tuple of Band
        From 125 Hz up, as far as the rate carries them.
    frame_s : float
        Length of a frame. [s]
    """

    power: Powers
    octaves: tuple[Band, ...]
    frame_s: float


def run_octaves(heard: Heard) -> OctaveRuns:
    """Transform a clap in frames that do not overlap, each under a Hann window."""
    rate = heard.rate_hz
    n = round(_FRAME_S * rate / 32.0) * 32
    sound = heard.samples[heard.onset : heard.stop].T
    n_frames = sound.shape[1] // n
    octaves = tuple(band for band in OCTAVES[1:] if carries(band, sample_rate_hz=rate))
    frames = sound[:, : n_frames * n].reshape(sound.shape[0], n_frames, n)
    spectrum = np.fft.rfft(frames * np.hanning(n).astype(np.float32), axis=-1)
    power = spectrum.real**2 + spectrum.imag**2
    edges = [(int(np.ceil(b.low_hz * n / rate)), int(b.high_hz * n / rate) + 1) for b in octaves]
    out = np.array(
        [power[..., low : max(high, low + 1)].sum(axis=-1) for low, high in edges], dtype=np.float64
    )
    return OctaveRuns(
        power=out.reshape(len(octaves), sound.shape[0], n_frames), octaves=octaves, frame_s=n / rate
    )
