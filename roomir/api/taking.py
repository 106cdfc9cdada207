"""From recordings to a reading, and to what it says about a room."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from roomir.api.opening import Progress, open_all
from roomir.api.rooms import checked_dimensions, volume_of_m3
from roomir.audio.files import AnyPath
from roomir.reading.reading import Reading
from roomir.report.room import RoomAdvice, advise_room
from roomir.report.saving import FilePath, write_whole
from roomir.report.table import to_csv

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def read(
    paths: AnyPath | Iterable[AnyPath],
    *,
    channel: int | None = None,
    bands: str = "octave",
    progress: Progress | None = None,
    with_evidence: bool = False,
    dimensions_m: tuple[float, float, float] | None = None,
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
    with_evidence : bool
        Whether the reading keeps what pictures of its decays need.
    dimensions_m : (float, float, float), optional
        Length, width and height of the room, to set the modes of a box beside
        what is heard and to name the walls of a flutter. [m]

    Returns
    -------
    Reading
        Files are called as they were named, with every byte that is no text
        spelt out. Those that gave nothing are in its ``failures``; the others are read
        all the same.

    Raises
    ------
    ParameterError
        If no path is given, ``channel`` is below 1, or a dimension is not positive.

    Examples
    --------
    >>> reading = read("no-such-take.wav")
    >>> len(reading.bands), [failure.path for failure in reading.failures]
    (0, ['no-such-take.wav'])
    """
    from roomir.reading.take import take_reading

    opened, failures = open_all(paths, channel=channel, bands=bands, progress=progress)
    return take_reading(
        [one.watched("listening") for one in opened],
        failures=failures,
        band_set=bands,
        with_evidence=with_evidence,
        dimensions_m=checked_dimensions(dimensions_m),
    )


def read_and_draw(
    paths: AnyPath | Iterable[AnyPath],
    *,
    channel: int | None = None,
    bands: str = "octave",
    progress: Progress | None = None,
    dimensions_m: tuple[float, float, float] | None = None,
) -> tuple[Reading, Figure]:
    """Read as :func:`read` does, and draw all there is to see about it on one page.

    Parameters
    ----------
    paths, channel, bands, progress, dimensions_m
        As for :func:`read`; progress is also told about the drawing.

    Returns
    -------
    Reading
        With its evidence.
    matplotlib.figure.Figure
        The answer, the decay times, the decay in every band, and every take
        with its claps and with what was turned down; 1080 pixels wide at its
        own resolution. Not shown and not saved.

    Raises
    ------
    ParameterError
        As for :func:`read`.
    """
    from roomir.reading.take import take_reading
    from roomir.report.figures import page_figure

    opened, failures = open_all(paths, channel=channel, bands=bands, progress=progress)
    reading = take_reading(
        [one.watched("listening") for one in opened],
        failures=failures,
        band_set=bands,
        with_evidence=True,
        dimensions_m=checked_dimensions(dimensions_m),
    )
    return reading, page_figure(reading, [one.watched("drawing") for one in opened])


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
    return advise_room(
        reading,
        volume_m3=volume_of_m3(volume_m3=volume_m3, dimensions_m=dimensions_m),
        dimensions_m=dimensions_m,
    )


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
    write_whole(Path(path), to_csv(reading).encode("utf-8"))
