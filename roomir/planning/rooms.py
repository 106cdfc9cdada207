"""Rooms and materials: described in files, or as the logbook has them."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from roomir.errors import ParameterError
from roomir.report.saving import FilePath, write_whole

if TYPE_CHECKING:  # they need numpy, which `roomir --help` does not
    from roomir.logbook.logbook import Logbook
    from roomir.logbook.values import Room as LoggedRoom
    from roomir.plan.model import StageReading
    from roomir.rooms.description import Room
    from roomir.rooms.materials import Material, Materials


def load_room(
    room: FilePath,
    *,
    materials: FilePath | None = None,
    logbook: FilePath | None = None,
    stage: str | None = None,
) -> tuple[Room, Materials]:
    """Load the room that somebody names.

    Parameters
    ----------
    room : path
        A room file, whose name ends in ``.toml``; else a room of the logbook:
        as the description kept with it says of the last stage that was read,
        or without one as it was read in its last stage.
    materials : path, optional
        A table of materials of the user's own.
    logbook : path, optional
        The logbook, unless it is at its usual place.
    stage : str, optional
        A stage that the description names. Left out, the last one of a file,
        and of a room of the logbook the last one that was read.

    Returns
    -------
    Room
        As described, with remarks on gaps and overlaps.
    Materials
        The table that its names come from.

    Raises
    ------
    RoomirError
        If a file is missing or wrong, every fault naming its key; or if the
        logbook has no such room.
    """
    from roomir.rooms.room_file import load_room as load

    path = Path(room)
    if path.suffix.lower() != ".toml":
        return _from_logbook(str(room), materials=materials, logbook=logbook, stage=stage)
    return load(path, materials=None if materials is None else Path(materials), stage=stage)


def _from_logbook(
    name: str, *, materials: FilePath | None, logbook: FilePath | None, stage: str | None
) -> tuple[Room, Materials]:
    from roomir.plan.readings import room_as_read

    with opened(logbook) as book:
        kept = book.room(name)
        if kept.description:
            title = f"the description of {kept.name}"
            if stage is None:
                read = [one.name for one in book.stages(kept) if book.takes(of=one)]
                stage = present_stage(kept.description, name=title, read=read)
            described, table = described_room(kept.description, name=title, stage=stage)
            return described, table if materials is None else load_materials(materials)
        if stage is not None:
            raise ParameterError(
                f"no description of {kept.name} is kept that names stages",
                code="stage-not-described",
                remedy="give a room file with stages, or leave --stage out",
            )
        last = _last_stage(book, kept)
    if last is None:
        raise ParameterError(
            f"{kept.name} has no stage yet", code="nothing-to-learn", remedy="log a reading of it first"
        )
    room = room_as_read(last, name=kept.name, dimensions_m=kept.dimensions_m)
    return room, load_materials(materials)


def present_stage(text: str, *, name: str, read: Sequence[str]) -> str | None:
    """Tell in which of the stages that a description names the room now is.

    Parameters
    ----------
    text : str
        Of a room file.
    name : str
        What to call it where something is wrong with it.
    read : sequence of str
        Stages that were read, in their order.

    Returns
    -------
    str or None
        The last one read that the description names; ``None`` without any.
    """
    from roomir.rooms.materials import parse_toml
    from roomir.rooms.room_stages import stage_names

    head = parse_toml(text, name=name).get("room")
    named = {one.casefold() for one in (stage_names(head) if isinstance(head, dict) else None) or ()}
    return next((one for one in reversed(read) if one.casefold() in named), None)


def opened(logbook: FilePath | None) -> Logbook:
    """Open a logbook that exists."""
    from roomir.logbook.folder import usual_path
    from roomir.logbook.logbook import Logbook

    return Logbook(usual_path(os.environ) if logbook is None else logbook, create=False)


def _last_stage(book: Logbook, kept: LoggedRoom) -> StageReading | None:
    """Take what was read in the last stage that has takes."""
    from roomir.plan.readings import stage_reading

    for stage in reversed(book.stages(kept)):
        if book.takes(of=stage):
            return stage_reading(book.reading_together(stage), name=f"{kept.name}, {stage.name}")
    return None


def described_room(text: str, *, name: str, stage: str | None = None) -> tuple[Room, Materials]:
    """Make a room of a description that is kept apart from any folder, as with a room of the logbook.

    Parameters
    ----------
    text : str
        Of a room file.
    name : str
        What to call it where something is wrong with it.
    stage : str, optional
        A stage that it names; the last one if left out.

    Raises
    ------
    RoomirError
        For every fault, naming its key; or if it leans on another file.
    """
    from roomir.rooms.materials import parse_toml, standard_materials
    from roomir.rooms.room_file import parse_room

    table = standard_materials()
    room = parse_room(text, name=name, materials=table, stage=stage)
    head = parse_toml(text, name=name)["room"]
    if "materials" in head:
        raise ParameterError(
            f"{name}: room.materials names another file, which is not kept with it",
            code="bad-room",
            remedy="write alpha = [six values] at the surfaces that need it, and leave the key out",
        )
    return room, table


def load_materials(path: FilePath | None = None) -> Materials:
    """Load the table of materials, with the user's own over it."""
    from roomir.rooms.materials import load_materials as load

    return load(None if path is None else Path(path))


def find_materials(words: Sequence[str], *, materials: FilePath | None = None) -> list[Material]:
    """Find materials whose name, mounting or source has every word, or another one for it.

    Examples
    --------
    >>> [one.name for one in find_materials(["parquet"])]
    ['parquet on concrete']
    """
    return load_materials(materials).find(words)


def write_new_room(
    path: FilePath,
    *,
    name: str,
    dimensions_m: tuple[float, float, float],
    floor: str,
    ceiling: str,
    walls: str,
    door_m2: float = 0.0,
    window_m2: float = 0.0,
    materials: Materials,
) -> None:
    """Write a room file for a box.

    Parameters
    ----------
    path : path
        Where it goes; its name ends in ``.toml``.
    name : str
        What the room is called.
    dimensions_m : (float, float, float)
        Length, width, height. [m]
    floor, ceiling, walls : str
        Materials.
    door_m2, window_m2 : float, default 0
        Areas cut out of the walls. [m2]
    materials : Materials
        Where the names are looked up.

    Raises
    ------
    RoomirError
        If a material is unknown, an opening does not fit, or the file cannot be written.
    """
    from roomir.rooms.new_room import Answers, room_text
    from roomir.rooms.room_file import parse_room

    target = Path(path)
    if target.suffix.lower() != ".toml":
        raise ParameterError(
            f"{target} is no name for a room file", code="no-room-file", remedy="let it end in .toml"
        )
    answers = Answers(
        name=name,
        dimensions_m=dimensions_m,
        floor=floor,
        ceiling=ceiling,
        walls=walls,
        door_m2=door_m2,
        window_m2=window_m2,
    )
    text = room_text(answers, materials=materials)
    parse_room(text, name=target.name, materials=materials)  # an opening larger than its wall is told now
    write_whole(target, text.encode("utf-8"))
