"""One look at every sample: whether there is anything to work on at all."""

from __future__ import annotations

import numpy as np

from roomir.audio.opened import BLOCK_FRAMES
from roomir.audio.recording import Samples, Sound
from roomir.errors import NothingRecordedError, UnreadableAudioError
from roomir.remarks import Remark

MIN_DURATION_S = 0.05
"""Shortest sound worth looking at: no room falls by 20 dB and lets anyone see it in less. [s]"""

MAX_LEVEL = 1e10
"""Largest magnitude taken for sound, full scale = 1: 32-bit integers written as floats stay below."""

MIN_SWING = 1e-10
"""Least distance between highest and lowest sample taken for sound: 32-bit integers step by more."""


def survey(sound: Sound, *, name: str) -> tuple[Remark, ...]:
    """Go through a sound once and refuse one in which nothing can be heard.

    An offset is left as it is; a sound that is nothing but an offset is refused.

    Returns
    -------
    tuple of Remark
        ``silent-channel`` where one channel among others holds nothing.

    Raises
    ------
    NothingRecordedError
        ``no-samples``, ``too-short``, ``silent`` or ``constant``.
    UnreadableAudioError
        ``not-finite``: NaN or infinity among the samples; ``absurd-level``:
        numbers beyond any sound.
    """
    if sound.n_frames == 0:
        raise NothingRecordedError(
            f"{name}: the file has a header but no sound behind it",
            code="no-samples",
            remedy="record again, and stop the recorder before taking the file off it",
        )
    duration_s = sound.n_frames / sound.sample_rate_hz
    if duration_s < MIN_DURATION_S:
        raise NothingRecordedError(
            f"{name}: the sound is {1000 * duration_s:.2g} ms long; "
            f"a decay needs at least {1000 * MIN_DURATION_S:.0f} ms",
            code="too-short",
            remedy="start the recorder a few seconds before the clap and stop it a few seconds after",
        )
    lowest = np.full(sound.n_channels, np.inf, dtype=np.float32)
    highest = np.full(sound.n_channels, -np.inf, dtype=np.float32)
    n_not_finite = 0
    for block in sound.blocks(n_frames=BLOCK_FRAMES):
        low, high = _extremes(block)
        if not np.isfinite(low).all() or not np.isfinite(high).all():
            n_not_finite += int(np.count_nonzero(~np.isfinite(block)))
        lowest, highest = np.minimum(lowest, low), np.maximum(highest, high)
    if n_not_finite:
        n_samples = sound.n_frames * sound.n_channels
        raise UnreadableAudioError(
            f"{name}: {n_not_finite} of {n_samples} samples are not numbers (NaN or infinity)",
            code="not-finite",
            remedy="export the sound again from the program that made it, as 24-bit WAV",
        )
    loudest = float(np.maximum(np.abs(lowest), np.abs(highest)).max())
    if loudest > MAX_LEVEL:
        raise UnreadableAudioError(
            f"{name}: samples reach {loudest:.0e} times full scale; no sound does",
            code="absurd-level",
            remedy="export the sound again from the program that made it, as 24-bit WAV",
        )
    still = highest - lowest < MIN_SWING
    if still.all():
        raise _nothing_heard(name, float(highest[np.argmax(np.abs(highest))]))
    return tuple(
        Remark(
            code="silent-channel",
            says=f"channel {channel} of {sound.n_channels} holds no sound",
            remedy="check the second microphone, or pick the other channel with --channel",
        )
        for channel in np.flatnonzero(still) + 1
    )


def _extremes(block: Samples) -> tuple[Samples, Samples]:
    # Channel by channel: a reduction along interleaved samples is several times slower.
    columns = [block[:, channel] for channel in range(block.shape[1])]
    return np.array([column.min() for column in columns]), np.array([column.max() for column in columns])


def _nothing_heard(name: str, value: float) -> NothingRecordedError:
    if abs(value) < MIN_SWING:
        return NothingRecordedError(
            f"{name}: the recording is silent, every sample is zero",
            code="silent",
            remedy="let the recording app use the microphone, check that it is not muted, and record again",
        )
    return NothingRecordedError(
        f"{name}: nothing moves in this recording, every sample is {value:.3g}",
        code="constant",
        remedy="the microphone or its cable is dead or unplugged; check them and record again",
    )
