"""The course of a recording's energy, a millisecond at a time, in one pass and little memory."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomir.audio.recording import Samples, Sound

Energies = NDArray[np.float64]

_STEP_S = 0.001
_LAG_S = 1.0 / 8000.0
_BLOCK_STEPS = 2048


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Envelope:
    """Energy of the pre-emphasised sound in consecutive steps of about a millisecond.

    Attributes
    ----------
    energy : Energies, shape (n_steps,)
        Sum over channels and frames of the squared difference to the frame
        one lag earlier; the last, unfinished step is left out.
    n_step : int
        Frames per step. [frames]
    sample_rate_hz : int
        Frames per second. [Hz]
    """

    energy: Energies
    n_step: int
    sample_rate_hz: int

    @property
    def step_s(self) -> float:
        """Length of a step. [s]."""
        return self.n_step / self.sample_rate_hz


def lag_frames(*, sample_rate_hz: int) -> int:
    """Distance of the pre-emphasis: an eighth of a millisecond, at least one frame."""
    return max(1, round(_LAG_S * sample_rate_hz))


def changes(sound: Sound, *, start: int, stop: int, lag: int, from_silence: bool = False) -> Samples:
    """Pre-emphasise a stretch: each frame less the one ``lag`` earlier.

    Parameters
    ----------
    sound : Sound
        Looked up from ``start - lag`` on.
    start, stop : int
        First frame, and the first one left out. [frames]
    lag : int
        Distance of the difference. [frames]
    from_silence : bool, default False
        What lies before the recording's first frame: silence, or that frame
        held, which makes no step.

    Returns
    -------
    Samples, shape (n, n_channels)
        ``stop - start`` frames or as many as there are.
    """
    joined = sound.stretch(start=start - lag, stop=stop)
    n_missing = min(lag - start, lag)
    if n_missing > 0:
        before = np.repeat(joined[:1], n_missing, axis=0)
        joined = np.concatenate([np.zeros_like(before) if from_silence else before, joined])
    return joined[lag:] - joined[:-lag]


def onset_envelope(sound: Sound) -> Envelope:
    """Follow the energy of a sound from its first frame to its last.

    Parameters
    ----------
    sound : Sound
        Gone through once, in blocks of about two seconds.

    Returns
    -------
    Envelope
        ``n_frames / n_step`` values, whatever the number of channels.

    Notes
    -----
    The difference over 1/8 ms rises by 6 dB per octave up to 4 kHz, as the
    background in a room falls, and leaves 50 Hz hum 28 dB below 1 kHz. It is
    the same filter at every sample rate.
    """
    rate = sound.sample_rate_hz
    n_step = max(1, round(_STEP_S * rate))
    lag = lag_frames(sample_rate_hz=rate)
    parts: list[Energies] = []
    before: Samples = np.zeros((lag, sound.n_channels), dtype=np.float32)
    first = True
    for block in sound.blocks(n_frames=_BLOCK_STEPS * n_step):
        if first:
            # A take that begins in the middle of things must not begin with a step.
            before = np.repeat(block[:1], lag, axis=0)
            first = False
        joined = np.concatenate([before, block])
        change = joined[lag:] - joined[:-lag]
        n_steps = change.shape[0] // n_step
        rows = change[: n_steps * n_step].reshape(n_steps, n_step * change.shape[1])
        parts.append(np.einsum("ij,ij->i", rows, rows).astype(np.float64))
        before = joined[-lag:]
    energy = np.concatenate(parts) if parts else np.zeros(0)
    return Envelope(energy=energy, n_step=n_step, sample_rate_hz=rate)
