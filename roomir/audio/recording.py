"""What the numerics get to hear: sound with a rate and a name, never a path to open."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from roomir.remarks import Remark

Samples = NDArray[np.float32]
"""Sound as float32, shape (n_frames, n_channels), full scale = 1."""


class Sound(Protocol):
    """Sound that can be gone through in blocks and looked up in stretches.

    A short take lies in memory; an hour stays on disk. The numerics see the
    same three numbers and two methods either way.
    """

    @property
    def sample_rate_hz(self) -> int:
        """Frames per second. [Hz]"""
        ...

    @property
    def n_frames(self) -> int:
        """Length in frames."""
        ...

    @property
    def n_channels(self) -> int:
        """Number of channels."""
        ...

    def blocks(self, *, n_frames: int) -> Iterator[Samples]:
        """Yield consecutive blocks of ``n_frames`` (the last may be shorter), from the start."""
        ...

    def stretch(self, *, start: int, stop: int) -> Samples:
        """Return frames ``start`` to ``stop``, both clipped to the sound; shape (n, n_channels)."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SoundInMemory:
    """Sound held as one array.

    Parameters
    ----------
    samples : Samples, shape (n_frames, n_channels)
        Made contiguous float32 and read-only on the way in; a one-dimensional
        array counts as one channel.
    sample_rate_hz : int
        Frames per second. [Hz]
    """

    samples: Samples
    sample_rate_hz: int

    def __post_init__(self) -> None:
        samples = np.array(self.samples, dtype=np.float32, order="C", ndmin=1)
        if samples.ndim == 1:
            samples = samples[:, np.newaxis]
        samples.flags.writeable = False
        object.__setattr__(self, "samples", samples)

    @property
    def n_frames(self) -> int:
        """Length in frames."""
        return int(self.samples.shape[0])

    @property
    def n_channels(self) -> int:
        """Number of channels."""
        return int(self.samples.shape[1])

    def blocks(self, *, n_frames: int) -> Iterator[Samples]:
        """Yield consecutive blocks of ``n_frames``; the last may be shorter."""
        for start in range(0, self.n_frames, n_frames):
            yield self.samples[start : start + n_frames]

    def stretch(self, *, start: int, stop: int) -> Samples:
        """Return frames ``start`` to ``stop``, both clipped to the sound."""
        return self.samples[max(start, 0) : max(min(stop, self.n_frames), 0)]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Recording:
    """A sound and where it came from.

    Attributes
    ----------
    sound : Sound
        The samples.
    source_name : str
        What to call the take in front of the builder: the path as it was given.
    source_sha256 : str or None
        Hash of the file's bytes.
    recorded_at : datetime or None
        When it was recorded (aware), from the file's metadata or its date.
    recorded_at_from : str or None
        ``"metadata"`` or ``"file date"``: how far to believe ``recorded_at``.
    container : str
        Format as the decoder names it, for example ``"WAV"``.
    codec : str
        Sample format or codec as the decoder names it, for example ``"PCM_16"``.
    notes : tuple of Remark
        What the opener noticed, such as a second audio track left aside.
    """

    sound: Sound
    source_name: str
    source_sha256: str | None = None
    recorded_at: datetime | None = None
    recorded_at_from: str | None = None
    container: str = ""
    codec: str = ""
    notes: tuple[Remark, ...] = field(default=())

    @property
    def duration_s(self) -> float:
        """Length. [s]"""
        return self.sound.n_frames / self.sound.sample_rate_hz
