"""Files whose samples lie there unpacked, and FLAC: read in this process, in place where long.

Everything that has to be unpacked by a more talkative or less tried decoder
goes to a process apart (:mod:`roomir.audio.foreign`).
"""

from __future__ import annotations

import contextlib
import os
from typing import TYPE_CHECKING, BinaryIO

import numpy as np

from roomir.audio.layout import Layout
from roomir.audio.long_sound import MAX_BYTES_IN_MEMORY, SoundInFile
from roomir.audio.opened import BLOCK_FRAMES, Opened, check_format
from roomir.audio.recording import SoundInMemory
from roomir.remarks import Remark

if TYPE_CHECKING:
    import soundfile

_CONTAINERS = frozenset({"WAV", "WAVEX", "RF64", "W64", "AIFF", "CAF", "AU", "FLAC"})
_SUBTYPES = frozenset({"PCM_S8", "PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE", "ULAW", "ALAW"})
_ENDLESS_FRAMES = 1 << 36
"""From here on a FLAC header says "I don't know" (its field has 36 bits)."""


def open_here(file: BinaryIO, layout: Layout, *, name: str) -> Opened | str:
    """Open an unpacked file, or say in the decoder's words why it isn't one.

    Returns
    -------
    Opened
        The sound, in memory up to ``MAX_BYTES_IN_MEMORY`` and in place beyond.
    str
        Instead, why another decoder should try.

    Raises
    ------
    UnreadableAudioError
        ``impossible-format`` or ``too-long``.
    """
    import soundfile

    file.seek(0)
    # A descriptor of its own: a long sound keeps it when the caller's file is closed.
    descriptor = os.dup(file.fileno())
    kept = False
    try:
        handle = soundfile.SoundFile(descriptor, closefd=False)
        try:
            if handle.format not in _CONTAINERS or handle.subtype not in _SUBTYPES:
                return f"{handle.format} {handle.subtype}"
            if handle.frames >= _ENDLESS_FRAMES - 1:
                return "the header doesn't know the length"
            check_format(
                name=name,
                sample_rate_hz=handle.samplerate,
                n_channels=handle.channels,
                n_frames=handle.frames,
            )
            sound: SoundInMemory | SoundInFile | None
            if handle.frames * handle.channels * 4 <= MAX_BYTES_IN_MEMORY:
                sound = _load(handle)
            elif handle.format != "FLAC" or _can_be_read_through(handle):
                kept = True
                sound = SoundInFile(handle, descriptor=descriptor)
            else:
                sound = None
            if sound is None:
                return "the file ends before its sound does"
            return Opened(
                sound=sound,
                container=handle.format,
                codec=handle.subtype,
                dates=(*layout.dates, handle.date),
                notes=_cut_short(layout, duration_s=sound.n_frames / sound.sample_rate_hz),
            )
        finally:
            if not kept:
                handle.close()
    except soundfile.LibsndfileError as error:
        return str(error.error_string)
    finally:
        if not kept:
            with contextlib.suppress(OSError):
                os.close(descriptor)


def _load(handle: soundfile.SoundFile) -> SoundInMemory | None:
    samples = np.empty((handle.frames, handle.channels), dtype=np.float32)
    for start in range(0, len(samples), BLOCK_FRAMES):
        room = samples[start : start + BLOCK_FRAMES]
        if len(handle.read(out=room)) < len(room):
            return None
    return SoundInMemory(samples=samples, sample_rate_hz=handle.samplerate)


def _can_be_read_through(handle: soundfile.SoundFile) -> bool:
    """Whether a packed file holds as much as it says; damage raises the decoder's error."""
    n_read = 0
    while n_block := len(handle.read(BLOCK_FRAMES, dtype="float32", always_2d=True)):
        n_read += n_block
    handle.seek(0)
    return bool(n_read == handle.frames)


def _cut_short(layout: Layout, *, duration_s: float) -> tuple[Remark, ...]:
    if layout.part_present >= 1.0 or duration_s == 0.0:
        return ()
    return (cut_short_remark(duration_s=duration_s, announced_s=duration_s / layout.part_present),)


def cut_short_remark(*, duration_s: float, announced_s: float) -> Remark:
    """Say that a file ends before its sound does."""
    return Remark(
        code="cut-short",
        says=f"the file is cut short: {duration_s:.1f} of {announced_s:.1f} s are there, and were read",
        remedy="copy it from the recorder again if the claps at its end matter",
    )
