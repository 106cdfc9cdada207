"""Sound that stays on disk, however long it is, and is read a stretch at a time.

Nothing here is mapped into memory: what has been looked at is let go again,
so an hour of sound costs no more than the stretch in hand.
"""

from __future__ import annotations

import contextlib
import os
import threading
import weakref
from collections.abc import Iterator
from typing import TYPE_CHECKING, BinaryIO

import numpy as np

from roomir.audio.recording import Samples, Sound

if TYPE_CHECKING:
    import soundfile

MAX_BYTES_IN_MEMORY = 64 << 20
"""Takes up to this size, as float32, are held in memory. [bytes]"""


class RawSound:
    """Sound in a temporary file of interleaved float32, removed with this object.

    Parameters
    ----------
    file : binary file
        Open for reading, nameless or removing itself when closed; owned by
        this object from now on.
    sample_rate_hz : int
        Frames per second. [Hz]
    n_channels : int
        Number of channels.
    n_frames : int
        Length in frames.
    """

    __slots__ = ("__weakref__", "_file", "_lock", "_n_channels", "_n_frames", "_sample_rate_hz")

    def __init__(self, file: BinaryIO, *, sample_rate_hz: int, n_channels: int, n_frames: int) -> None:
        self._file = file
        self._sample_rate_hz = sample_rate_hz
        self._n_channels = n_channels
        self._n_frames = n_frames
        self._lock = threading.Lock()
        weakref.finalize(self, file.close)

    @property
    def sample_rate_hz(self) -> int:
        """Frames per second. [Hz]"""
        return self._sample_rate_hz

    @property
    def n_frames(self) -> int:
        """Length in frames."""
        return self._n_frames

    @property
    def n_channels(self) -> int:
        """Number of channels."""
        return self._n_channels

    def blocks(self, *, n_frames: int) -> Iterator[Samples]:
        """Yield consecutive blocks of ``n_frames``; the last may be shorter."""
        for start in range(0, self._n_frames, n_frames):
            yield self.stretch(start=start, stop=start + n_frames)

    def stretch(self, *, start: int, stop: int) -> Samples:
        """Return frames ``start`` to ``stop``, both clipped to the sound."""
        start = min(max(start, 0), self._n_frames)
        stop = max(min(stop, self._n_frames), start)
        samples = np.empty((stop - start, self._n_channels), dtype=np.float32)
        with self._lock:
            self._file.seek(start * self._n_channels * samples.itemsize)
            n_bytes = _fill(self._file, samples)
        return samples[: n_bytes // (self._n_channels * samples.itemsize)]


def _fill(file: BinaryIO, samples: Samples) -> int:
    """Read into ``samples`` until it is full or the file ends; return the bytes read."""
    if samples.size == 0:
        return 0
    room = samples.data.cast("B")
    n_bytes = 0
    while n_bytes < len(room):
        n_read = file.readinto(room[n_bytes:])  # type: ignore[attr-defined]
        if not n_read:
            break
        n_bytes += n_read
    return n_bytes


class SoundInFile:
    """Sound read in place from a file whose samples can be sought exactly.

    Parameters
    ----------
    handle : soundfile.SoundFile
        Open for reading; owned by this object from now on.
    descriptor : int
        The descriptor ``handle`` reads from, closed after it.
    """

    __slots__ = ("__weakref__", "_handle", "_lock", "_n_frames", "_next")

    def __init__(self, handle: soundfile.SoundFile, *, descriptor: int) -> None:
        self._handle = handle
        self._n_frames = int(handle.frames)
        self._next = 0
        self._lock = threading.Lock()
        weakref.finalize(self, _close, handle, descriptor)

    @property
    def sample_rate_hz(self) -> int:
        """Frames per second. [Hz]"""
        return int(self._handle.samplerate)

    @property
    def n_frames(self) -> int:
        """Length in frames."""
        return self._n_frames

    @property
    def n_channels(self) -> int:
        """Number of channels."""
        return int(self._handle.channels)

    def blocks(self, *, n_frames: int) -> Iterator[Samples]:
        """Yield consecutive blocks of ``n_frames``; the last may be shorter."""
        for start in range(0, self._n_frames, n_frames):
            yield self.stretch(start=start, stop=start + n_frames)

    def stretch(self, *, start: int, stop: int) -> Samples:
        """Return frames ``start`` to ``stop``, both clipped to the sound."""
        start = min(max(start, 0), self._n_frames)
        stop = max(min(stop, self._n_frames), start)
        with self._lock:
            # Seeking in FLAC decodes; going on where the last stretch ended costs nothing.
            if start != self._next:
                self._handle.seek(start)
            samples: Samples = self._handle.read(stop - start, dtype="float32", always_2d=True)
            self._next = start + len(samples)
        return samples


def _close(handle: soundfile.SoundFile, descriptor: int) -> None:
    handle.close()
    with contextlib.suppress(OSError):
        os.close(descriptor)


class OneChannel:
    """One channel of another sound.

    Parameters
    ----------
    sound : Sound
        Where to take it from.
    channel : int
        Which one, counted from 1.
    """

    __slots__ = ("_column", "_sound")

    def __init__(self, sound: Sound, *, channel: int) -> None:
        self._sound = sound
        self._column = channel - 1

    @property
    def sample_rate_hz(self) -> int:
        """Frames per second. [Hz]"""
        return self._sound.sample_rate_hz

    @property
    def n_frames(self) -> int:
        """Length in frames."""
        return self._sound.n_frames

    @property
    def n_channels(self) -> int:
        """Number of channels: one."""
        return 1

    def blocks(self, *, n_frames: int) -> Iterator[Samples]:
        """Yield consecutive blocks of ``n_frames``; the last may be shorter."""
        for block in self._sound.blocks(n_frames=n_frames):
            yield self._pick(block)

    def stretch(self, *, start: int, stop: int) -> Samples:
        """Return frames ``start`` to ``stop``, both clipped to the sound."""
        return self._pick(self._sound.stretch(start=start, stop=stop))

    def _pick(self, samples: Samples) -> Samples:
        return np.ascontiguousarray(samples[:, self._column : self._column + 1])
