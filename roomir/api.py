"""The front door: where files, arithmetic and reports meet. Command line, page and notebooks all use it."""

from __future__ import annotations

import io
import math
import os
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from roomir.audio.files import AnyPath, display_name
from roomir.errors import AudioError, ParameterError
from roomir.reading.reading import Failure, Reading
from roomir.report.room import RoomAdvice, advise_room
from roomir.report.saving import whole_file
from roomir.report.table import to_csv

if TYPE_CHECKING:
    from datetime import datetime

    from matplotlib.figure import Figure

    from roomir.audio.recording import Recording
    from roomir.background.noise import Background
    from roomir.batching.run import BatchProgress, BatchSummary
    from roomir.compare.aim import Aim
    from roomir.compare.change import Climate, Comparison
    from roomir.compare.hear import Audition
    from roomir.compare.history import History, StageReading
    from roomir.compare.near_far import NearFar
    from roomir.logbook.logbook import Logbook
    from roomir.logbook.rescue import Rescued
    from roomir.logbook.together import Doing
    from roomir.report.guide import Guide
    from roomir.report.suggestions import Advice

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
            ``"opening"``, ``"listening"`` or ``"drawing"``; empty before it is begun.
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

    opened, failures = _open_all(paths, channel=channel, bands=bands, progress=progress)
    return take_reading(
        [one.watched("listening") for one in opened],
        failures=failures,
        band_set=bands,
        with_evidence=with_evidence,
        dimensions_m=_checked_dimensions(dimensions_m),
    )


def _checked_dimensions(
    dimensions_m: tuple[float, float, float] | None,
) -> tuple[float, float, float] | None:
    for side_m in dimensions_m or ():
        if not (math.isfinite(side_m) and side_m > 0.0):
            raise ParameterError(
                f"{side_m:g} is no size for a room",
                code="bad-room-size",
                remedy="give metres above zero",
            )
    return dimensions_m


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

    opened, failures = _open_all(paths, channel=channel, bands=bands, progress=progress)
    reading = take_reading(
        [one.watched("listening") for one in opened],
        failures=failures,
        band_set=bands,
        with_evidence=True,
        dimensions_m=_checked_dimensions(dimensions_m),
    )
    return reading, page_figure(reading, [one.watched("drawing") for one in opened])


@dataclass(frozen=True, slots=True, kw_only=True)
class _Opened:
    """A recording, and whom to tell how far a pass through it has come."""

    recording: Recording
    tell: Callable[[str, float], None] | None

    def watched(self, doing: str) -> Recording:
        """Return the recording, telling of every pass through it."""
        from roomir.audio.watched import Watched

        if self.tell is None:
            return self.recording
        return replace(self.recording, sound=Watched(self.recording.sound, tell=partial(self.tell, doing)))


def _open_all(
    paths: AnyPath | Iterable[AnyPath], *, channel: int | None, bands: str, progress: Progress | None
) -> tuple[list[_Opened], tuple[Failure, ...]]:
    # Here and not above: numpy is paid for by those who read, not by `roomir --help`.
    from roomir.audio.load import open_recording
    from roomir.bands.band import BAND_SETS

    files = [paths] if isinstance(paths, str | bytes | os.PathLike) else list(paths)
    if not files:
        raise ParameterError("no recording was named", code="no-takes", remedy="name at least one sound file")
    _check_channel(channel)
    if bands not in BAND_SETS:
        raise _no_such_bands(bands)
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
        opened.append(_Opened(recording=recording, tell=tell))
    return opened, tuple(failures)


def _check_channel(channel: int | None) -> None:
    if channel is not None and channel < 1:
        raise ParameterError(
            f"there is no channel {channel}", code="no-such-channel", remedy="channels are counted from 1"
        )


def _no_such_bands(bands: str) -> ParameterError:
    from roomir.bands.band import BAND_SETS

    return ParameterError(
        f"there is no set of bands called {bands!r}",
        code="no-such-bands",
        remedy=f"choose one of {', '.join(BAND_SETS)}",
    )


def advise(
    paths: AnyPath | Iterable[AnyPath],
    *,
    channel: int | None = None,
    progress: Progress | None = None,
) -> Advice:
    """Read recordings, listen to the background between their claps, and say what to do next.

    Parameters
    ----------
    paths, channel, progress
        As for :func:`read`.

    Returns
    -------
    Advice
        Steps, what buys most first, with the reading they rest on.

    Raises
    ------
    ParameterError
        As for :func:`read`.
    """
    from roomir.reading.take import take_reading
    from roomir.report.suggestions import make_advice

    opened, failures = _open_all(paths, channel=channel, bands="octave", progress=progress)
    reading = take_reading([one.watched("listening") for one in opened], failures=failures)
    return make_advice(reading, background=_background(reading, [one.recording for one in opened]))


def guide(*, volume_m3: float | None = None, dimensions_m: tuple[float, float, float] | None = None) -> Guide:
    """Give the guide for the first take.

    Parameters
    ----------
    volume_m3 : float, optional
        Volume, to say how far from the phone to clap. [m3]
    dimensions_m : (float, float, float), optional
        Length, width and height instead, to name places on the floor as well. [m]

    Returns
    -------
    Guide
        Sections with their lines.

    Raises
    ------
    ParameterError
        If both sizes are given, or one is not positive.
    """
    from roomir.report.guide import make_guide
    from roomir.rooms.places import places

    if volume_m3 is not None or dimensions_m is not None:
        volume_m3 = _volume_m3(volume_m3=volume_m3, dimensions_m=dimensions_m)
    return make_guide(volume_m3=volume_m3, floor=None if dimensions_m is None else places(dimensions_m))


def _background(reading: Reading, recordings: Sequence[Recording]) -> Background | None:
    from roomir.background.noise import hear_background, joint_background, quiet_stretches
    from roomir.report.next_take import settle_s

    heard = []
    for take, recording in zip(reading.takes, recordings, strict=True):
        onsets_s = [clap.onset_s for clap in take.claps]
        stretches = quiet_stretches(recording.sound, onsets_s=onsets_s, settle_s=settle_s(reading))
        background = hear_background(recording.sound, stretches=stretches)
        if background is not None:
            heard.append(background)
    return joint_background(heard)


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
        volume_m3=_volume_m3(volume_m3=volume_m3, dimensions_m=dimensions_m),
        dimensions_m=dimensions_m,
    )


def _volume_m3(*, volume_m3: float | None, dimensions_m: tuple[float, float, float] | None) -> float:
    if dimensions_m is not None and volume_m3 is None:
        return math.prod(dimensions_m)
    if dimensions_m is not None or volume_m3 is None:
        raise ParameterError(
            "a room has one size: its volume or its dimensions",
            code="bad-room-size",
            remedy="give one of the two",
        )
    return volume_m3


def compare(
    before: Reading,
    after: Reading,
    *,
    paired: bool = False,
    volume_m3: float | None = None,
    dimensions_m: tuple[float, float, float] | None = None,
    positions: tuple[Sequence[str | None], Sequence[str | None]] | None = None,
    climates: tuple[Climate, Climate] | None = None,
) -> Comparison:
    """Set a room in one state against the same room in another.

    Parameters
    ----------
    before, after : Reading
        Readings of recordings.
    paired : bool
        Whether to compare position by position: files whose names differ
        from their neighbours' in the same words (``spot1``, ``spot2``) are of
        the same position on both sides.
    volume_m3 : float, optional
        Volume, for the absorption that was added. [m3]
    dimensions_m : (float, float, float), optional
        Length, width and height instead. [m]
    positions : (sequence of str or None, sequence of str or None), optional
        Name of the position of every take, where it is known apart from the
        names of the files; those of the same name are compared one by one.
    climates : (Climate, Climate), optional
        Air before and after.

    Returns
    -------
    Comparison
        A change for every band, the headline, and what limits them.

    Raises
    ------
    ParameterError
        If both sizes are given, or one is not positive.
    """
    from roomir.compare.change import Climate
    from roomir.compare.compare import compare_readings
    from roomir.compare.positions import names_from_files

    if dimensions_m is not None:
        if volume_m3 is not None:
            raise ParameterError(
                "a room has one size: its volume or its dimensions",
                code="bad-room-size",
                remedy="give one of the two",
            )
        volume_m3 = math.prod(dimensions_m)
    if paired and positions is None:
        names_before, names_after = (
            names_from_files([Path(take.path).stem for take in one.takes]) for one in (before, after)
        )
        positions = names_before, names_after
    return compare_readings(
        before,
        after,
        positions=positions,
        volume_m3=volume_m3,
        climates=climates or (Climate(), Climate()),
    )


@dataclass(frozen=True, slots=True)
class Source:
    """A recording to be opened, and what to call it (the path where nothing else is said)."""

    path: AnyPath
    name: str | None = None


def hear(
    comparison: Comparison, *, before: Iterable[Source], after: Iterable[Source], path: FilePath
) -> Audition:
    """Write the same passage before and after to a WAV file, one after the other and equally loud.

    Parameters
    ----------
    comparison : Comparison
        What was read from the recordings.
    before, after : iterable of Source
        The recordings, those without a clap included: chords may be on them.
    path : path
        Must not exist.

    Returns
    -------
    Audition
        What was written.

    Raises
    ------
    RoomirError
        ``nothing-to-hear`` where the sides have nothing in common, or the file cannot be written.
    """
    from roomir.audio.save import wav_bytes
    from roomir.compare.hear import audition

    if Path(path).exists():
        raise ParameterError(
            f"{display_name(path)} exists and will not be overwritten",
            code="exists-already",
            remedy="name a new file that ends in .wav",
        )
    recordings = _recordings(before), _recordings(after)
    made = audition(comparison.before, comparison.after, recordings=recordings)
    _write_whole(Path(path), wav_bytes(made.samples, sample_rate_hz=made.sample_rate_hz))
    return made


def near_far(
    near: Reading,
    far: Reading,
    *,
    near_paths: Iterable[Source],
    far_paths: Iterable[Source],
    near_m: float,
    far_m: float,
    volume_m3: float | None = None,
) -> NearFar:
    """Compare the level of one source near and far with what the decay time of the room says.

    Parameters
    ----------
    near, far : Reading
        What was read from the takes.
    near_paths, far_paths : iterable of Source
        The takes, all recorded at one gain.
    near_m, far_m : float
        Distances from source to microphone. [m]
    volume_m3 : float, optional
        Volume of the room; without it nothing can be predicted. [m3]

    Returns
    -------
    NearFar
        The fall of the level, what was expected, and how they agree.

    Raises
    ------
    ParameterError
        If the distances are not positive, or near is not nearer.
    """
    from roomir.compare.near_far import compare_near_far

    return compare_near_far(
        _recordings(near_paths),
        _recordings(far_paths),
        readings=(near, far),
        near_m=near_m,
        far_m=far_m,
        volume_m3=volume_m3,
    )


def _recordings(sources: Iterable[Source]) -> list[Recording]:
    """Open what can be opened; who read it before has told of the rest."""
    from roomir.audio.load import open_recording

    out = []
    for source in sources:
        with suppress(AudioError, ParameterError):
            recording = open_recording(source.path)
            out.append(replace(recording, source_name=source.name or recording.source_name))
    return out


def stage_in(book: Logbook, *, room: str, stage: str, tell: Doing | None = None) -> StageReading:
    """Take a stage of a room out of a logbook, to be compared.

    Parameters
    ----------
    book : Logbook
        An open logbook.
    room, stage : str
        Their names.
    tell : callable, optional
        Told how it goes where the stage has to be read again.

    Returns
    -------
    StageReading
        The reading over all its takes, with what is known beside it.

    Raises
    ------
    LogbookError
        ``no-such-room``, ``no-such-stage``.
    """
    from roomir.report.stages import stage_reading

    of_stage = book.stage(book.room(room), stage)
    return stage_reading(of_stage, book.reading_together(of_stage, tell=tell), takes=book.takes(of=of_stage))


def history(book: Logbook, *, room: str, tell: Doing | None = None) -> History:
    """Tell the story of a room: every stage against the one before and against the first.

    Parameters
    ----------
    book : Logbook
        An open logbook.
    room : str
        Name of the room.
    tell : callable, optional
        Told how it goes where a stage has to be read again.

    Returns
    -------
    History
        Stages without a take are left out.

    Raises
    ------
    LogbookError
        ``no-such-room``.
    """
    from roomir.compare.history import make_history
    from roomir.report.stages import stage_reading

    of_room = book.room(room)
    stages = []
    for stage in book.stages(of_room):
        takes = book.takes(of=stage)
        if takes:
            stages.append(stage_reading(stage, book.reading_together(stage, tell=tell), takes=takes))
    return make_history(
        of_room.name,
        stages,
        volume_m3=of_room.volume_m3,
        dimensions_m=of_room.dimensions_m,
        note=of_room.note,
    )


def history_aims(history: History, *, target: str | None) -> tuple[Aim, ...]:
    """Hold every stage of a room against a target; empty where none is named.

    Raises
    ------
    ParameterError
        As :func:`aim` does.
    """
    if target is None:
        return ()
    check_target(target, volume_m3=history.volume_m3)
    return tuple(aim(one.reading, target=target, volume_m3=history.volume_m3) for one in history.stages)


def save_history_csv(history: History, path: FilePath) -> None:
    """Write every band of every stage to a CSV file, whole or not at all.

    Parameters
    ----------
    history : History
        The room's story.
    path : path
        Replaced where it exists.

    Raises
    ------
    RoomirError
        If the file cannot be written.
    """
    from roomir.report.table import stages_csv

    _write_whole(Path(path), stages_csv(history).encode("utf-8"))


def draw_history(history: History, *, aims: Sequence[Aim] = (), units: str = "metric") -> Figure:
    """Draw the story of a room: its decay times over the stages, and over frequency.

    Parameters
    ----------
    history : History
        With stages, or with none.
    aims : sequence of Aim
        Every stage against a target, or none.
    units : str
        ``"metric"`` or ``"us"``.

    Returns
    -------
    matplotlib.figure.Figure
        Not shown and not saved.
    """
    from roomir.report.figures.stages import history_figure
    from roomir.report.unit_system import UNIT_SYSTEMS

    return history_figure(history, aims=aims, units=UNIT_SYSTEMS[units])


def write_report(
    history: History,
    path: FilePath,
    *,
    aims: Sequence[Aim] = (),
    units: str = "metric",
    now: datetime | None = None,
) -> None:
    """Write the page of a room: one file that needs nothing else, for screen and paper.

    Parameters
    ----------
    history : History
        The room's story.
    path : path
        An HTML file; replaced where it exists.
    aims : sequence of Aim
        Every stage against a target, or none.
    units : str
        ``"metric"`` or ``"us"``.
    now : datetime, optional
        When the page is written, to stand on it.

    Raises
    ------
    RoomirError
        If the file cannot be written.
    """
    from roomir.report.page import room_page
    from roomir.report.unit_system import UNIT_SYSTEMS

    page = room_page(history, aims=aims, units=UNIT_SYSTEMS[units], now=now)
    _write_whole(Path(path), page.encode("utf-8"))


def write_pdf(page: FilePath, path: FilePath) -> None:
    """Print a page to a PDF file with whatever browser is here.

    Parameters
    ----------
    page : path
        An HTML file.
    path : path
        Replaced where it exists.

    Raises
    ------
    RoomirError
        ``no-browser``, ``cannot-print``, or if the file cannot be written.
    """
    from roomir.report.printing import print_page

    _write_whole(Path(path), print_page(Path(page)))


def draw_comparison(comparison: Comparison, *, units: str = "metric") -> Figure:
    """Draw a comparison: the headline, both decay times, and the change in every band.

    Parameters
    ----------
    comparison : Comparison
        With bands, or with none in common.
    units : str
        ``"metric"`` or ``"us"``.

    Returns
    -------
    matplotlib.figure.Figure
        Not shown and not saved.
    """
    from roomir.report.figures.changes import comparison_figure
    from roomir.report.unit_system import UNIT_SYSTEMS

    return comparison_figure(comparison, units=UNIT_SYSTEMS[units])


def aim(reading: Reading, *, target: str, volume_m3: float | None = None) -> Aim:
    """Hold a reading against a decay time to aim for.

    Parameters
    ----------
    reading : Reading
        The room as it is.
    target : str
        A name that ``roomir targets`` lists, seconds as in ``0.2-0.3``, or a TOML file.
    volume_m3 : float, optional
        Volume of the room, which some targets need. [m3]

    Returns
    -------
    Aim
        Inside, too long, too short or undecided for every band that the target speaks of.

    Raises
    ------
    ParameterError
        If there is no such target, or it needs the volume.

    Examples
    --------
    >>> [one.verdict for one in aim(read("no-such-take.wav"), target="voice booth").bands]
    []
    """
    from roomir.compare.aim import aim_at
    from roomir.rooms.targets import find_target

    return aim_at(find_target(target), reading, volume_m3=volume_m3)


def check_target(target: str, *, volume_m3: float | None = None) -> None:
    """Refuse a target that there is none of, before anything is read for it.

    Raises
    ------
    ParameterError
        As :func:`aim` does.
    """
    from roomir.rooms.targets import find_target

    find_target(target).time_s(volume_m3=volume_m3)


def batch(
    folder: FilePath,
    output: FilePath,
    *,
    jobs: int | None = None,
    bands: str = "octave",
    channel: int | None = None,
    scheduler: str | None = None,
    progress: BatchProgress | None = None,
) -> BatchSummary:
    """Read every recording below a folder, each by itself, in parallel, and write one table or document.

    An interrupted run goes on where it was stopped when it is called again:
    what has been read lies beside the output until that is written.

    Parameters
    ----------
    folder : path
        Where the recordings lie; folders below it are looked through as well.
    output : path
        Its name ends in ``.csv``, ``.json`` or ``.parquet``; replaced where it exists.
    jobs : int, optional
        Processes to use; as many as there are cores where it is left out.
    bands, channel
        As for :func:`read`.
    scheduler : str, optional
        Address of a Dask scheduler whose workers do it instead; they have to
        see the folder under the same path.
    progress : callable, optional
        Told how many recordings are done, of how many, and the time left [s].

    Returns
    -------
    BatchSummary
        How many were read, and how many files were left aside and why.

    Raises
    ------
    ParameterError
        For a name, a band set or a number that means nothing.
    RoomirError
        No folder, nothing to read, no place to write, or another run at work
        on the same output. A recording that cannot be read raises nothing.
    """
    from roomir.bands.band import BAND_SETS
    from roomir.batching.run import run_batch

    _check_channel(channel)
    if bands not in BAND_SETS:
        raise _no_such_bands(bands)
    return run_batch(
        Path(folder),
        Path(output),
        jobs=jobs,
        bands=bands,
        channel=channel,
        scheduler=scheduler,
        progress=progress,
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
    _write_whole(Path(path), to_csv(reading).encode("utf-8"))


def open_logbook(path: FilePath | None = None, *, create: bool = False) -> Logbook:
    """Open the logbook, where readings are kept by room and stage.

    Parameters
    ----------
    path : path, optional
        Its folder, or its database. Without it ROOMIR_LOGBOOK counts, and
        without that the usual place in the user's data folder.
    create : bool
        Whether to begin one where there is none.

    Returns
    -------
    Logbook
        Close it, or use it in a ``with`` statement.

    Raises
    ------
    LogbookError
        If there is none, or it cannot be used, with the reason.
    """
    from roomir.logbook.folder import usual_path
    from roomir.logbook.logbook import Logbook

    return Logbook(usual_path(os.environ) if path is None else path, create=create)


def export_logbook(book: Logbook, target: FilePath) -> int:
    """Write everything a logbook holds to a new folder, or to a zip file: JSON, CSV and the recordings.

    Parameters
    ----------
    book : Logbook
        An open logbook.
    target : path
        Where nothing is yet; a zip file if it ends in ``.zip``.

    Returns
    -------
    int
        The number of takes.

    Raises
    ------
    LogbookError
        If something is there, or cannot be written, or a recording is missing.
    """
    from roomir.report.logbook_tables import tables

    return book.export(Path(target), tables=tables)


def rescue_logbook(path: FilePath | None, target: FilePath) -> Rescued:
    """Bring out of a damaged logbook what can be, into an export that a new logbook can import.

    Parameters
    ----------
    path : path, optional
        As for :func:`open_logbook`; it is only read.
    target : path
        As for :func:`export_logbook`.

    Returns
    -------
    Rescued
        How much came out.

    Raises
    ------
    LogbookError
        If nothing can be brought out, or it cannot be written.
    """
    from roomir.logbook.folder import usual_path
    from roomir.logbook.rescue import rescue
    from roomir.report.logbook_tables import tables

    return rescue(usual_path(os.environ) if path is None else Path(path), Path(target), tables=tables)


FIGURE_FORMATS = ("png", "svg", "pdf")
"""What a figure can be saved as, by the suffix of its file."""


def figure_format(path: FilePath) -> str:
    """Tell the format of a figure from the name of its file.

    Parameters
    ----------
    path : path
        Where the figure is to go.

    Returns
    -------
    str
        One of `FIGURE_FORMATS`.

    Raises
    ------
    ParameterError
        If the suffix is none of them.

    Examples
    --------
    >>> figure_format("dairy.PNG")
    'png'
    """
    suffix = Path(path).suffix.lower().removeprefix(".")
    if suffix not in FIGURE_FORMATS:
        *most, last = (f".{one}" for one in FIGURE_FORMATS)
        raise ParameterError(
            f"{display_name(path)} is no name for a figure",
            code="no-such-figure-format",
            remedy=f"let the name end in {', '.join(most)} or {last}",
        )
    return suffix


def save_figure(figure: Figure, path: FilePath) -> None:
    """Save a figure to a PNG, SVG or PDF file, whole or not at all.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        What to save.
    path : path
        Its suffix tells the format; replaced where it exists.

    Raises
    ------
    ParameterError
        If the suffix is none of `FIGURE_FORMATS`.
    RoomirError
        If the file cannot be written.
    """
    picture = io.BytesIO()
    figure.savefig(picture, format=figure_format(path), dpi=figure.dpi)
    _write_whole(Path(path), picture.getvalue())


def _write_whole(target: Path, content: bytes) -> None:
    with whole_file(target) as file:
        file.write(content)
