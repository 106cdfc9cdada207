"""What to hang next in a room that has been read: description, reading and target brought together."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from roomir.errors import ParameterError, RoomirError
from roomir.planning.learning import Taught, knowledge_of_stages
from roomir.planning.rooms import described_room, load_room, present_stage
from roomir.planning.treatment import treat_room
from roomir.remarks import Remark
from roomir.report.planning.next_step import NextStep
from roomir.report.saving import FilePath
from roomir.report.wording import said_and_done

if TYPE_CHECKING:  # they need numpy, which `roomir --help` does not
    from matplotlib.figure import Figure

    from roomir.compare.history import History
    from roomir.plan.model import Expected, StageReading
    from roomir.reading.reading import Reading
    from roomir.rooms.description import Room
    from roomir.rooms.materials import Materials

_NOTHING_KNOWN = (
    "Neither a reading nor a description says what the room does now: record claps in it, or describe it."
)
_SIZE_TOLERANCE = 0.05
"""Volumes that differ by less are taken to agree: own choice."""

_NO_TARGET = "Name a target, and here stands what to hang for it."


def next_step(
    history: History,
    *,
    description: str = "",
    room_file: FilePath | None = None,
    target: str | None = None,
    least: str = "area",
    with_players: bool = False,
    dry: FilePath | None = None,
) -> NextStep | None:
    """Work out what to hang next in a room of the logbook.

    The proposal is that of :func:`roomir.planning.treat` for the same room,
    learning from the reading of its last stage.

    Parameters
    ----------
    history : History
        The room over its stages; the last one counts.
    description : str
        The text of its room file, as kept with the room; empty where there is none.
    room_file : path, optional
        A room file to use instead: the room as it was in that stage.
    target : str, optional
        A name that ``roomir targets`` lists, seconds as in ``0.2-0.3``, or a TOML file.
    least : str, default "area"
        ``"area"``, ``"cost"`` or ``"count"``.
    with_players : bool, default False
        Whether the room is to be heard as it is and as proposed.
    dry : path, optional
        A sound without a room for that; the voice of the sample data without one.

    Returns
    -------
    NextStep or None
        None where there is neither a description nor a target. Where nothing
        can be proposed it says what is lacking.

    Raises
    ------
    RoomirError
        If the description, the target or the sound is wrong.
    """
    if room_file is None and not description and target is None:
        return None
    if room_file is None and not description:
        stage, reading = _reading_of(history, stage="")
        from roomir.rooms.materials import standard_materials

        if reading is None:
            return NextStep(stage="", foreseen=None, read={}, lacks=_NOTHING_KNOWN)
        step = NextStep(stage=stage, foreseen=None, read=dict(reading.decay_time_s))
        try:
            room, table = _as_read(history, reading), standard_materials()
        except ParameterError as error:
            lacks = Remark(code=error.code, says=error.says, remedy=error.remedy)
            return replace(step, lacks=said_and_done(lacks))
        taught = Taught()  # what was read is all that this room is made of
    else:
        from roomir.plan.model import expect

        room, table = _described(history, description=description, room_file=room_file)
        stage, reading = _reading_of(history, stage=room.stage)
        read = {} if reading is None else dict(reading.decay_time_s)
        step = NextStep(stage=stage, foreseen=expect(room), read=read)
        taught = knowledge_of_stages(room, [(one.name, one.reading) for one in history.stages])
    step = replace(step, remarks=(*room.remarks, *taught.remarks, *_size_remarks(history, room)))
    if target is None:
        return replace(step, lacks=_NO_TARGET)
    proposal = treat_room(room, table, knowledge=taught.knowledge, target=target, least=least)
    step = replace(step, proposal=proposal)
    if not with_players:
        return step
    from roomir.planning.players import players

    return replace(step, players=players(proposal, dry=dry))


def foreseen_figure(foreseen: Expected, reading: Reading) -> Figure:
    """Draw what was expected of a room against what was then read in it.

    Parameters
    ----------
    foreseen : Expected
        Before the reading.
    reading : Reading
        In octaves.

    Returns
    -------
    matplotlib.figure.Figure
        Not shown and not saved.

    Raises
    ------
    RoomirError
        ``nothing-to-learn`` if no octave of the reading is usable.
    """
    from roomir.plan.readings import stage_reading
    from roomir.report.figures.foreseen import foreseen_figure as draw

    return draw(foreseen, stage_reading(reading, name="the room").decay_time_s)


def read_description(path: FilePath) -> str:
    """Read a room file to be kept with a room of the logbook.

    Returns
    -------
    str
        Its text, which describes a room and leans on no other file.

    Raises
    ------
    RoomirError
        For every fault of it, naming its key.
    """
    from roomir.rooms.materials import read_text

    text = read_text(Path(path))
    described_room(text, name=Path(path).name)
    return text


def _reading_of(history: History, *, stage: str) -> tuple[str, StageReading | None]:
    """Take what was read in a stage, or without its name in the last one: earlier ones are of other rooms."""
    from roomir.plan.readings import stage_reading

    wanted = stage.casefold()
    found = [one for one in history.stages if one.name.casefold() == wanted] if stage else history.stages[-1:]
    if not found:
        return "", None
    try:
        return found[0].name, stage_reading(found[0].reading, name=f"{history.room}, {found[0].name}")
    except RoomirError:
        return "", None


def _described(history: History, *, description: str, room_file: FilePath | None) -> tuple[Room, Materials]:
    """Make the room as it is in the last stage that was read, where the description names it."""
    from roomir.rooms.materials import read_text

    read = [one.name for one in history.stages]
    if room_file is None:
        title = f"the description of {history.room}"
        stage = present_stage(description, name=title, read=read)
        return described_room(description, name=title, stage=stage)
    path = Path(room_file)
    if path.suffix.lower() != ".toml":
        raise ParameterError(
            f"{path} is no room file", code="no-room-file", remedy="name a file that ends in .toml"
        )
    return load_room(path, stage=present_stage(read_text(path), name=str(path), read=read))


def _size_remarks(history: History, room: Room) -> list[Remark]:
    """Say where description and logbook are of different sizes."""
    logged_m3 = history.volume_m3
    if logged_m3 is None or abs(room.volume_m3 / logged_m3 - 1.0) <= _SIZE_TOLERANCE:
        return []
    return [
        Remark(
            code="sizes-differ",
            says=f"the description has {room.volume_m3:.1f} m3, but the logbook {logged_m3:.1f} m3",
            remedy="correct the one that is wrong; here the description counts",
        )
    ]


def _as_read(history: History, reading: StageReading) -> Room:
    from roomir.plan.readings import room_as_read

    return room_as_read(reading, name=history.room, dimensions_m=history.dimensions_m)
