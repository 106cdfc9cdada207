"""The front door: where files, arithmetic and reports meet. Command line, page and notebooks all use it."""

from __future__ import annotations

import math
import os
import tempfile
from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path
from typing import Protocol

from roomir.audio.files import AnyPath, display_name
from roomir.errors import AudioError, ParameterError, RoomirError
from roomir.reading.reading import Failure, Reading
from roomir.report.room import RoomAdvice, advise_room
from roomir.report.table import to_csv

FilePath = str | os.PathLike[str]


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
            ``"opening"`` or ``"listening"``; empty before it is begun.
        part : float
            How far the present pass through it has come, from 0 to 1. A sound
            is gone through more than once.
        """
        ...


def read(
    paths: AnyPath | Iterable[AnyPath],
    *,
    channel: int | None = None,
    bands: str = "octave",
    progress: Progress | None = None,
) -> Reading:
    """Read the decay times of a room from recordings of claps.

    Parameters
    ----------
    paths : path or iterable of paths
        Recordings of one room in one state; each file is a take, usually in
        a spot of its own.
    channel : int, optional
        The channel to use, counted from 1; without it channels with the same
        sound are one, and others are combined by energy.
    bands : str
        ``"octave"`` (63 Hz to 8 kHz) or ``"third-octave"`` (50 Hz to 10 kHz).
    progress : callable, optional
        Told about each file before it is opened, and how far it is while it
        is opened and listened to.

    Returns
    -------
    Reading
        Files are called as they were named, with every byte that is no text
        spelt out. Those that gave nothing are in its ``failures``; the others are read
        all the same.

    Raises
    ------
    ParameterError
        If no path is given, or ``channel`` is below 1.

    Examples
    --------
    >>> reading = read("no-such-take.wav")
    >>> len(reading.bands), [failure.path for failure in reading.failures]
    (0, ['no-such-take.wav'])
    """
    # Here and not above: numpy is paid for by those who read, not by `roomir --help`.
    from roomir.audio.load import open_recording
    from roomir.audio.watched import Watched
    from roomir.bands.band import BAND_SETS
    from roomir.reading.take import take_reading

    files = [paths] if isinstance(paths, str | bytes | os.PathLike) else list(paths)
    if not files:
        raise ParameterError("no recording was named", code="no-takes", remedy="name at least one sound file")
    if channel is not None and channel < 1:
        raise ParameterError(
            f"there is no channel {channel}", code="no-such-channel", remedy="channels are counted from 1"
        )
    if bands not in BAND_SETS:
        raise ParameterError(
            f"there is no set of bands called {bands!r}",
            code="no-such-bands",
            remedy=f"choose one of {', '.join(BAND_SETS)}",
        )
    recordings, failures = [], []
    for i, file in enumerate(files, start=1):
        name = display_name(file)
        opening = _teller(progress, i, len(files), name, doing="opening")
        listening = _teller(progress, i, len(files), name, doing="listening")
        if progress is not None:
            progress(i, len(files), name)
        try:
            recording = open_recording(file, channel=channel, tell=opening)
        except (AudioError, ParameterError) as error:
            failures.append(Failure(path=name, code=error.code, says=error.says, remedy=error.remedy))
            continue
        if listening is not None:
            recording = replace(recording, sound=Watched(recording.sound, tell=listening))
        recordings.append(recording)
    return take_reading(recordings, failures=tuple(failures), band_set=bands)


def _teller(
    progress: Progress | None, place: int, n_files: int, name: str, *, doing: str
) -> Callable[[float], None] | None:
    if progress is None:
        return None
    return lambda part: progress(place, n_files, name, doing, part)


def room_advice(
    reading: Reading,
    *,
    volume_m3: float | None = None,
    dimensions_m: tuple[float, float, float] | None = None,
) -> RoomAdvice:
    """Work out what a reading says about a room of known size.

    Parameters
    ----------
    reading : Reading
        The room in the state in question.
    volume_m3 : float, optional
        Volume; needed unless ``dimensions_m`` is given. [m3]
    dimensions_m : (float, float, float), optional
        Length, width and height. [m]

    Returns
    -------
    RoomAdvice
        Schroeder frequency, reverberation distance, and where to stand.

    Raises
    ------
    ParameterError
        If neither or both sizes are given, or one is not positive.
    """
    if dimensions_m is not None and volume_m3 is None:
        volume_m3 = math.prod(dimensions_m)
    elif dimensions_m is not None or volume_m3 is None:
        raise ParameterError(
            "a room has one size: its volume or its dimensions",
            code="bad-room-size",
            remedy="give one of the two",
        )
    return advise_room(reading, volume_m3=volume_m3, dimensions_m=dimensions_m)


def save_csv(reading: Reading, path: FilePath) -> None:
    """Write the bands of a reading to a CSV file, whole or not at all.

    Parameters
    ----------
    reading : Reading
        What to write.
    path : path
        Replaced where it exists.

    Raises
    ------
    RoomirError
        If the file cannot be written.
    """
    target = Path(path)
    try:
        # Beside the target, so that moving it into place cannot cross a file system.
        with tempfile.NamedTemporaryFile(
            "w", encoding="utf-8", newline="", dir=target.parent, prefix=".roomir-", delete=False
        ) as file:
            file.write(to_csv(reading))
        try:
            Path(file.name).replace(target)
        except OSError:
            Path(file.name).unlink()
            raise
    except OSError as error:
        raise RoomirError(
            f"{target} cannot be written: {error.strerror or error}",
            code="cannot-write",
            remedy="name a file in a folder you may write to",
        ) from error
