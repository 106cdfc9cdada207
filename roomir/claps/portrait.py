"""The energy of one stretch of sound, octave by octave, in steps of some milliseconds."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from roomir.audio.recording import Sound
from roomir.bands.band import OCTAVES, Band
from roomir.bands.filters import fast_length
from roomir.bands.fourier import ifft, rfft

Energies = NDArray[np.float64]

_STEP_S = 0.004
_SKIRT = 2.0 ** (1.0 / 6.0)
"""Each band fades out over a third of an octave around its edges, so that it rings little."""

_RING_STEPS = 12
_STRIDE_STEPS = 60


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Portrait:
    """Band energies of a stretch.

    Attributes
    ----------
    energy : Energies, shape (n_bands, n_steps)
        Mean squared pressure per step, summed over channels.
    total : Energies, shape (n_bands, n_steps + 1)
        Its running sum from 0 on.
    bands : tuple of Band
        The octaves from 125 Hz up that the sample rate carries.
    i_onset : int
        The step in which the event begins.
    start : int
        Frame of the recording at which step 0 begins. [frames]
    n_step : int
        Frames per step. [frames]
    step_s : float
        Length of a step. [s]
    """

    energy: Energies
    total: Energies
    bands: tuple[Band, ...]
    i_onset: int
    start: int
    n_step: int
    step_s: float

    @property
    def n_steps(self) -> int:
        """Length in steps."""
        return int(self.energy.shape[1])

    def tiny(self, i_band: int) -> float:
        """Energy below which nothing counts: 130 dB under the band's highest, and never zero."""
        return 1e-13 * float(self.energy[i_band].max()) + 1e-30

    def window_steps(self, i_band: int, *, least_s: float, degrees: float) -> int:
        """Steps that hold at least ``least_s`` and ``degrees`` independent values of the band's energy."""
        seconds = max(least_s, degrees / self.bands[i_band].width_hz)
        return max(1, round(seconds / self.step_s))

    def smoothed(self, i_band: int, *, n_window: int) -> Energies:
        """Mean over ``n_window`` steps from each step on; shape (n_steps - n_window + 1,)."""
        total = self.total[i_band]
        mean: Energies = np.maximum(total[n_window:] - total[:-n_window], 0.0) / n_window
        return mean


def portray(sound: Sound, *, onset: int, before_s: float, stop: int) -> Portrait:
    """Portray a stretch of sound from ``before_s`` before an onset up to ``stop``.

    Parameters
    ----------
    sound : Sound
        Only this stretch of it is looked up.
    onset : int
        Where the event begins; falls on the beginning of a step. [frames]
    before_s : float
        How much to take of what came before. [s]
    stop : int
        First frame that is left out. [frames]

    Returns
    -------
    Portrait
        Whole steps only.

    Notes
    -----
    One Fourier transform of the stretch; the bins of a band, moved down to
    zero frequency, transform back to its complex envelope at the rate that its
    width needs and no more.
    """
    rate = sound.sample_rate_hz
    n_step = max(1, round(_STEP_S * rate))
    n_before = min(round(before_s * rate), onset) // n_step
    n_after = max((min(stop, sound.n_frames) - onset) // n_step, 1)
    start = onset - n_before * n_step
    n_steps = n_before + n_after
    samples = sound.stretch(start=start, stop=start + n_steps * n_step)
    # Room at the end keeps the ringing of a band's filter from wrapping around. In strides, so that
    # the claps of a take share a length and with it the bands' skirts.
    n_padded = fast_length(-(-(n_steps + _RING_STEPS) // _STRIDE_STEPS) * _STRIDE_STEPS)
    spectrum = rfft(samples, n_padded * n_step, axis=0)
    frequency_step_hz = rate / (n_padded * n_step)
    bands = tuple(b for b in OCTAVES[1:] if b.exact_hz < 0.4 * rate)
    energy = np.empty((len(bands), n_steps))
    for i_band, band in enumerate(bands):
        low = int(band.low_hz / _SKIRT / frequency_step_hz)
        high = min(int(band.high_hz * _SKIRT / frequency_step_hz) + 1, spectrum.shape[0])
        gain = _skirts(band=band, low=low, high=high, frequency_step_hz=frequency_step_hz)[:, np.newaxis]
        n_per_step = -(-(high - low) // n_padded)
        envelope = ifft(spectrum[low:high] * gain, n_padded * n_per_step, axis=0)
        power = (envelope.real**2 + envelope.imag**2).sum(axis=1)
        scale = 2.0 * (n_per_step / n_step) ** 2
        per_step = power.reshape(n_padded, n_per_step)[:n_steps].mean(axis=1)
        energy[i_band] = scale * per_step
    total = np.zeros((len(bands), n_steps + 1))
    np.cumsum(energy, axis=1, out=total[:, 1:])
    return Portrait(
        energy=energy,
        total=total,
        bands=bands,
        i_onset=n_before,
        start=start,
        n_step=n_step,
        step_s=n_step / rate,
    )


@lru_cache(maxsize=64)
def _skirts(*, band: Band, low: int, high: int, frequency_step_hz: float) -> NDArray[np.float32]:
    """Amplitude per bin: 1 within the band, falling like a quarter cosine across each edge."""
    gain = np.ones(high - low, dtype=np.float32)
    half = np.log(_SKIRT)
    for edge_hz, sign in ((band.low_hz, 1.0), (band.high_hz, -1.0)):
        first = max(int(edge_hz / _SKIRT / frequency_step_hz) - low, 0)
        last = min(int(edge_hz * _SKIRT / frequency_step_hz) + 1 - low, gain.size)
        frequency_hz = np.maximum(np.arange(low + first, low + last), 1) * frequency_step_hz
        place = np.clip(0.5 + sign * np.log(frequency_hz / edge_hz) / (2.0 * half), 0.0, 1.0)
        gain[first:last] *= np.sin(0.5 * np.pi * place)
    gain.flags.writeable = False
    return gain
