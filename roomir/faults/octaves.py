"""How the octaves of a clap run, in short frames: enough to see a background or two channels change."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomir.bands.band import OCTAVES, Band, carries
from roomir.bands.fourier import rfft
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
    spectrum = rfft(frames * np.hanning(n).astype(np.float32), axis=-1)
    power = np.square(spectrum.real) + np.square(spectrum.imag)
    edges = np.array([[np.ceil(b.low_hz * n / rate), b.high_hz * n / rate + 1.0] for b in octaves]).astype(
        int
    )
    # Every second sum is what lies between two octaves, mostly nothing.
    sums = np.add.reduceat(power[..., : edges[-1, 1]], edges.ravel()[:-1], axis=-1)[..., ::2]
    return OctaveRuns(power=np.moveaxis(sums, -1, 0).astype(np.float64), octaves=octaves, frame_s=n / rate)
