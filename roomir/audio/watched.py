"""A sound that tells how far into it somebody is listening."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from roomir.audio.recording import Samples, Sound

TellPart = Callable[[float], None]
"""Told how far a pass through a file or a sound has come, from 0 to 1."""

_STEPS = 100


class Watched:
    """Another sound, unchanged, that tells where it is being looked at.

    Whoever goes through an hour of sound need not know that somebody is
    waiting, and how often it is gone through is nobody else's business: the
    place told goes back to the start whenever the listener does.

    Parameters
    ----------
    sound : Sound
        What is listened to.
    tell : callable
        Called when the place has moved by a hundredth of the sound.
    """

    __slots__ = ("_sound", "_tell", "_told")

    def __init__(self, sound: Sound, *, tell: TellPart) -> None:
        self._sound = sound
        self._tell = tell
        self._told = 0

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
        """Number of channels."""
        return self._sound.n_channels

    def blocks(self, *, n_frames: int) -> Iterator[Samples]:
        """Yield consecutive blocks of ``n_frames``; the last may be shorter."""
        stop = 0
        for block in self._sound.blocks(n_frames=n_frames):
            stop += len(block)
            self._at(stop)
            yield block

    def stretch(self, *, start: int, stop: int) -> Samples:
        """Return frames ``start`` to ``stop``, both clipped to the sound."""
        self._at(stop)
        return self._sound.stretch(start=start, stop=stop)

    def _at(self, frame: int) -> None:
        n_frames = max(self._sound.n_frames, 1)
        step = min(max(frame, 0), n_frames) * _STEPS // n_frames
        if step != self._told:
            self._told = step
            self._tell(step / _STEPS)
