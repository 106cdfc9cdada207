"""From readings of a room, in files or in the logbook, to what is known of it stage by stage."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from roomir.errors import ParameterError, RoomirError
from roomir.planning.rooms import load_room, opened
from roomir.remarks import Remark
from roomir.report.saving import FilePath

if TYPE_CHECKING:  # they need numpy, which `roomir --help` does not
    from roomir.plan.model import Knowledge, StageReading
    from roomir.reading.reading import Reading
    from roomir.rooms.description import Room
    from roomir.rooms.materials import Materials


@dataclass(frozen=True, slots=True, kw_only=True)
class Taught:
    """What was learnt.

    Attributes
    ----------
    knowledge : Knowledge or None
        ``None`` where there was nothing to learn from.
    remarks : tuple of Remark
        Stages that were left out, and why.
    """

    knowledge: Knowledge | None = None
    remarks: tuple[Remark, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """A room that somebody names, and what is known of it.

    Attributes
    ----------
    room : Room
        With remarks on stages that were left out.
    table : Materials
        That its names come from.
    knowledge : Knowledge or None
        From its readings.
    """

    room: Room
    table: Materials
    knowledge: Knowledge | None


def told(
    name: FilePath,
    *,
    materials: FilePath | None = None,
    logbook: FilePath | None = None,
    stage: str | None = None,
    learn_from: Sequence[FilePath] = (),
) -> Told:
    """Load a room and let its readings correct what its description says.

    Parameters
    ----------
    name, materials, logbook, stage : path
        As for :func:`roomir.planning.load_room`.
    learn_from : sequence of path
        As for :func:`knowledge_from`. Without any, a room of the logbook that
        is described there learns from its own stages.

    Raises
    ------
    RoomirError
        If the room, a table or a reading is wrong.
    """
    room, table = load_room(name, materials=materials, logbook=logbook, stage=stage)
    if Path(name).suffix.lower() == ".toml":
        taught = knowledge_from(room, learn_from, logbook=logbook)
    else:
        with opened(logbook) as book:
            described = bool(book.room(str(name)).description)
        if learn_from:
            taught = knowledge_from(room, learn_from, logbook=logbook, ready=not described)
        elif described:
            taught = knowledge_of_stages(room, _logged(str(name), logbook=logbook))
        else:
            taught = Taught()
    room = replace(room, remarks=(*room.remarks, *taught.remarks))
    return Told(room=room, table=table, knowledge=taught.knowledge)


def knowledge_from(
    room: Room, sources: Sequence[FilePath], *, logbook: FilePath | None = None, ready: bool = False
) -> Taught:
    """Let readings correct what a room's description says, stage by stage.

    Parameters
    ----------
    room : Room
        As it is to be predicted; the stages before are in its ``earlier``.
    sources : sequence of path
        Documents of readings (``roomir read --json``), each of the room as it
        is to be predicted, or of the stage written before it as in
        ``bare=bare.json``; or rooms of the logbook, whose stages are found by
        the names the room's file gives them.
    logbook : path, optional
        The logbook, unless it is at its usual place.
    ready : bool, default False
        Whether the room was itself described by a reading, and has nothing to learn.

    Raises
    ------
    RoomirError
        If a source is no reading, has no usable octave, or is of a stage that
        the room's file does not name.
    """
    if not sources:
        return Taught()
    if ready:
        raise ParameterError(
            f"{room.name} is described by what was read in it, so it has learnt already",
            code="learnt-already",
            remedy="leave --learn-from out, or describe the room in a file",
        )
    found: list[tuple[str, StageReading]] = []
    remarks: list[Remark] = []
    for source in sources:
        stage, path = _parted(str(source))
        if path.suffix.lower() == ".json" or path.is_file():
            found.append((stage or room.stage, _document(path)))
            continue
        if stage:
            raise RoomirError(
                f"{path} is no document of a reading",
                code="no-such-file",
                remedy="write STAGE=FILE with a file that ends in .json",
            )
        matched, left_out = _of_stages(room, _logged(str(path), logbook=logbook))
        found += matched
        remarks += left_out
    return Taught(knowledge=_learnt(room, found), remarks=tuple(remarks))


def knowledge_of_stages(room: Room, read: Sequence[tuple[str, Reading]]) -> Taught:
    """Let the readings of a room's stages correct what its description says.

    Parameters
    ----------
    room : Room
        As it is to be predicted; the stages before are in its ``earlier``.
    read : sequence of (str, Reading)
        Stages in their order. Where the description names no stages the last
        one is taken to be the room as described.

    Returns
    -------
    Taught
        With remarks on stages that the description does not name.
    """
    found, remarks = _of_stages(room, read)
    return Taught(knowledge=_learnt(room, found), remarks=remarks)


def _parted(source: str) -> tuple[str, Path]:
    """Part a stage from the file it stands before; a file may have the sign in its own name."""
    stage, sign, path = source.partition("=")
    if not sign or Path(source).is_file():
        return "", Path(source)
    return stage.strip(), Path(path.strip())


def _document(path: Path) -> StageReading:
    import json

    from roomir.plan.readings import stage_reading
    from roomir.reading.codec import decode
    from roomir.rooms.materials import read_text

    text = read_text(path)
    try:
        reading = decode(json.loads(text))
    except (ValueError, RecursionError, RoomirError) as error:
        what = error.says if isinstance(error, RoomirError) else f"it is no JSON ({error})"
        raise RoomirError(
            f"{path} cannot be learnt from: {what}",
            code="no-reading",
            remedy="write one with `roomir read spot1.m4a spot2.m4a --json > reading.json`",
        ) from error
    return stage_reading(reading, name=path.name)


def _logged(name: str, *, logbook: FilePath | None) -> list[tuple[str, Reading]]:
    """Readings of all stages of a room that have takes, in their order."""
    with opened(logbook) as book:
        return [
            (stage.name, book.reading_together(stage))
            for stage in book.stages(book.room(name))
            if book.takes(of=stage)
        ]


def _of_stages(
    room: Room, read: Sequence[tuple[str, Reading]]
) -> tuple[list[tuple[str, StageReading]], tuple[Remark, ...]]:
    """Take the stages that the description names, and say which are left out."""
    if not room.stage:
        if not read:
            return [], ()
        name, reading = read[-1]
        return _taken(room, name, reading)
    described = {one.stage.casefold(): one for one in (*room.earlier, room)}
    found: list[tuple[str, StageReading]] = []
    remarks: list[Remark] = []
    for name, reading in read:
        if name.casefold() not in described:
            remarks.append(
                Remark(
                    code="stage-left-out",
                    says=f"the stage {name} was read, but the room's file does not name it by now",
                    remedy="add it to stages under [room], and since or until to what came and went",
                )
            )
            continue
        taken, left_out = _taken(described[name.casefold()], name, reading)
        found += taken
        remarks += left_out
    return found, tuple(remarks)


def _taken(
    room: Room, name: str, reading: Reading
) -> tuple[list[tuple[str, StageReading]], tuple[Remark, ...]]:
    """Take what can be learnt from one stage; one without a usable octave is said to teach nothing."""
    from roomir.plan.model import check_teaches
    from roomir.plan.readings import stage_reading

    try:
        stage = stage_reading(reading, name=name)
        check_teaches(room, stage)
    except RoomirError as error:
        return [], (Remark(code="stage-left-out", says=error.says, remedy=error.remedy),)
    return [(room.stage, stage)], ()


def _learnt(room: Room, found: Sequence[tuple[str, StageReading]]) -> Knowledge | None:
    """Learn in the order of the stages."""
    from roomir.plan.model import learn

    rooms = (*room.earlier, room)
    places = {one.stage.casefold(): i for i, one in enumerate(rooms)}
    known: Knowledge | None = None
    for stage, reading in found:
        if stage.casefold() not in places:
            raise ParameterError(
                f"{reading.name} is of the stage {stage}, which the room's file does not name by then",
                code="stage-not-described",
                remedy='list it under [room] before the stage to predict: stages = ["bare", "panels"]',
            )
    for stage, reading in sorted(found, key=lambda one: places[one[0].casefold()]):
        known = learn(rooms[places[stage.casefold()]], reading, known)
    return known
