"""The story of a room out of its logbook: over its stages, and on a page."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from roomir.api.comparing import aim, check_target
from roomir.report.saving import FilePath, write_whole

if TYPE_CHECKING:
    from datetime import datetime

    from matplotlib.figure import Figure

    from roomir.compare.aim import Aim
    from roomir.compare.history import History, StageReading
    from roomir.logbook.logbook import Logbook
    from roomir.logbook.together import Doing
    from roomir.report.planning.next_step import NextStep


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

    write_whole(Path(path), stages_csv(history).encode("utf-8"))


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
    step: NextStep | None = None,
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
    step : NextStep, optional
        What to hang next (:func:`roomir.planning.next_step`).

    Raises
    ------
    RoomirError
        If the file cannot be written.
    """
    from roomir.report.page import room_page
    from roomir.report.unit_system import UNIT_SYSTEMS

    page = room_page(history, aims=aims, units=UNIT_SYSTEMS[units], now=now, step=step)
    write_whole(Path(path), page.encode("utf-8"))


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

    write_whole(Path(path), print_page(Path(page)))
