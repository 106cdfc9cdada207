"""The front door: where files, arithmetic and reports meet. Command line, page and notebooks all use it."""

from __future__ import annotations

import math
import os
import tempfile
from collections.abc import Callable, Iterable
from pathlib import Path

from roomir.errors import AudioError, ParameterError, RoomirError
from roomir.reading.reading import Failure, Reading
from roomir.report.room import RoomAdvice, advise_room
from roomir.report.table import to_csv

FilePath = str | os.PathLike[str]

Progress = Callable[[int, int, str], None]
"""Called before each file with its place, counted from 1, how many there are, and its name."""


def read(
    paths: FilePath | Iterable[FilePath],
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
        Told about each file before it is opened.

    Returns
    -------
    Reading
        Files that gave nothing are in its ``failures``; the others are read
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
    from roomir.bands.band import BAND_SETS
    from roomir.reading.take import take_reading

    files = [paths] if isinstance(paths, str | os.PathLike) else list(paths)
    names = [os.fspath(file) for file in files]
    if not names:
        raise ParameterError("no recording was named", code="no-takes", remedy="name at least one sound file")
    if channel is not None and channel < 1:
        raise ParameterError(
            f"there is no channel {channel}", code="bad-channel", remedy="channels are counted from 1"
        )
    if bands not in BAND_SETS:
        raise ParameterError(
            f"there is no set of bands called {bands!r}",
            code="no-such-bands",
            remedy=f"choose one of {', '.join(BAND_SETS)}",
        )
    recordings, failures = [], []
    for i, name in enumerate(names, start=1):
        if progress is not None:
            progress(i, len(names), name)
        try:
            recordings.append(open_recording(name, channel=channel))
        except (AudioError, ParameterError) as error:
            failures.append(Failure(path=name, code=error.code, says=error.says, remedy=error.remedy))
    return take_reading(recordings, failures=tuple(failures), band_set=bands)


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
