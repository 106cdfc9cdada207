"""Opening the files that somebody named, and telling those who wait."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Protocol

from roomir.audio.files import AnyPath, display_name
from roomir.errors import AudioError, ParameterError
from roomir.reading.reading import Failure

if TYPE_CHECKING:
    from roomir.audio.recording import Recording


class Progress(Protocol):
    """Somebody who waits, and is told what is going on."""

    def __call__(self, place: int, n_files: int, name: str, doing: str = "", part: float = 0.0, /) -> None:
        """Take the news.

        Parameters
        ----------
        place, n_files : int
            Which file it is, counted from 1, and how many there are.
        name : str
            What the file is called, fit for one line.
        doing : str
            ``"opening"``, ``"listening"`` or ``"drawing"``; empty before it is begun.
        part : float
            How far the present pass through it has come, from 0 to 1. A sound
            is gone through more than once.
        """
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """A recording, and whom to tell how far a pass through it has come."""

    recording: Recording
    tell: Callable[[str, float], None] | None

    def watched(self, doing: str) -> Recording:
        """Return the recording, telling of every pass through it."""
        from roomir.audio.watched import Watched

        if self.tell is None:
            return self.recording
        return replace(self.recording, sound=Watched(self.recording.sound, tell=partial(self.tell, doing)))


def open_all(
    paths: AnyPath | Iterable[AnyPath], *, channel: int | None, bands: str, progress: Progress | None
) -> tuple[list[Opened], tuple[Failure, ...]]:
    """Open every file that can be opened, and say of the others why they cannot."""
    # Here and not above: numpy is paid for by those who read, not by `roomir --help`.
    from roomir.audio.load import open_recording
    from roomir.bands.band import BAND_SETS

    files = [paths] if isinstance(paths, str | bytes | os.PathLike) else list(paths)
    if not files:
        raise ParameterError("no recording was named", code="no-takes", remedy="name at least one sound file")
    check_channel(channel)
    if bands not in BAND_SETS:
        raise no_such_bands(bands)
    opened, failures = [], []
    for i, file in enumerate(files, start=1):
        name = display_name(file)
        tell = None if progress is None else partial(progress, i, len(files), name)
        if tell is not None:
            tell()
        try:
            recording = open_recording(
                file, channel=channel, tell=None if tell is None else partial(tell, "opening")
            )
        except (AudioError, ParameterError) as error:
            failures.append(Failure(path=name, code=error.code, says=error.says, remedy=error.remedy))
            continue
        opened.append(Opened(recording=recording, tell=tell))
    return opened, tuple(failures)


def check_channel(channel: int | None) -> None:
    """Refuse a channel that nothing has."""
    if channel is not None and channel < 1:
        raise ParameterError(
            f"there is no channel {channel}", code="no-such-channel", remedy="channels are counted from 1"
        )


def no_such_bands(bands: str) -> ParameterError:
    """Say which sets of bands there are."""
    from roomir.bands.band import BAND_SETS

    return ParameterError(
        f"there is no set of bands called {bands!r}",
        code="no-such-bands",
        remedy=f"choose one of {', '.join(BAND_SETS)}",
    )


def recordings_of(sources: Iterable[Source]) -> list[Recording]:
    """Open what can be opened; who read it before has told of the rest."""
    from roomir.audio.load import open_recording

    out = []
    for source in sources:
        with suppress(AudioError, ParameterError):
            recording = open_recording(source.path)
            out.append(replace(recording, source_name=source.name or recording.source_name))
    return out


@dataclass(frozen=True, slots=True)
class Source:
    """A recording to be opened, and what to call it (the path where nothing else is said)."""

    path: AnyPath
    name: str | None = None
