"""The energy of one stretch of sound, octave by octave, in steps of some milliseconds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomir.audio.recording import Sound
from roomir.bands.band import OCTAVES, Band

Energies = NDArray[np.float64]

_STEP_S = 0.004
_SKIRT = 2.0 ** (1.0 / 6.0)
"""Each band fades out over a third of an octave around its edges, so that it rings little."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Portrait:
    """Band energies of a stretch.

    Attributes
    ----------
    energy : Energies, shape (n_bands, n_steps)
        Mean squared pressure per step, summed over channels.
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
        total = np.concatenate([[0.0], np.cumsum(self.energy[i_band])])
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
    from scipy.fft import ifft, next_fast_len, rfft

    rate = sound.sample_rate_hz
    n_step = max(1, round(_STEP_S * rate))
    n_before = min(round(before_s * rate), onset) // n_step
    n_after = max((min(stop, sound.n_frames) - onset) // n_step, 1)
    start = onset - n_before * n_step
    n_steps = n_before + n_after
    samples = sound.stretch(start=start, stop=start + n_steps * n_step)
    # Room at the end keeps the ringing of a band's filter from wrapping around.
    n_padded = next_fast_len(n_steps + 12)
    spectrum = rfft(samples, n_padded * n_step, axis=0)
    frequency_step_hz = rate / (n_padded * n_step)
    bands = tuple(b for b in OCTAVES[1:] if b.exact_hz < 0.4 * rate)
    energy = np.empty((len(bands), n_steps))
    for i_band, band in enumerate(bands):
        low = int(band.low_hz / _SKIRT / frequency_step_hz)
        high = min(int(band.high_hz * _SKIRT / frequency_step_hz) + 1, spectrum.shape[0])
        frequency = np.arange(low, high) * frequency_step_hz
        gain = _gain(frequency, band=band)[:, np.newaxis]
        n_per_step = -(-(high - low) // n_padded)
        envelope = ifft(spectrum[low:high] * gain, n_padded * n_per_step, axis=0)
        power = (envelope.real**2 + envelope.imag**2).sum(axis=1)
        scale = 2.0 * (n_per_step / n_step) ** 2
        per_step = power.reshape(n_padded, n_per_step)[:n_steps].mean(axis=1)
        energy[i_band] = scale * per_step
    return Portrait(
        energy=energy,
        bands=bands,
        i_onset=n_before,
        start=start,
        n_step=n_step,
        step_s=n_step / rate,
    )


def _gain(frequency_hz: NDArray[np.float64], *, band: Band) -> NDArray[np.float32]:
    """Amplitude 1 within the band, falling like a quarter cosine across each edge."""
    x = np.log(np.maximum(frequency_hz, 1e-9))
    half = np.log(_SKIRT)
    rising = np.clip((x - np.log(band.low_hz) + half) / (2.0 * half), 0.0, 1.0)
    falling = np.clip((np.log(band.high_hz) + half - x) / (2.0 * half), 0.0, 1.0)
    return np.asarray(np.sin(0.5 * np.pi * rising) * np.sin(0.5 * np.pi * falling), dtype=np.float32)
