"""Rooms and materials: described in files, or as the logbook has them."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from roomir.errors import ParameterError, RoomirError
from roomir.report.saving import FilePath, write_whole

if TYPE_CHECKING:  # they need numpy, which `roomir --help` does not
    from roomir.logbook.logbook import Logbook
    from roomir.logbook.values import Room as LoggedRoom
    from roomir.plan.model import Knowledge, StageReading
    from roomir.rooms.description import Room
    from roomir.rooms.materials import Material, Materials
    from roomir.rooms.prediction import Prediction


def load_room(
    room: FilePath, *, materials: FilePath | None = None, logbook: FilePath | None = None
) -> tuple[Room, Materials]:
    """Load the room that somebody names.

    Parameters
    ----------
    room : path
        A room file, whose name ends in ``.toml``; else a room of the logbook:
        as the description kept with it says, or without one as it was read in
        its last stage.
    materials : path, optional
        A table of materials of the user's own.
    logbook : path, optional
        The logbook, unless it is at its usual place.

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
        return _from_logbook(str(room), materials=materials, logbook=logbook)
    return load(path, materials=None if materials is None else Path(materials))


def _from_logbook(
    name: str, *, materials: FilePath | None, logbook: FilePath | None
) -> tuple[Room, Materials]:
    from roomir.plan.readings import room_as_read

    with _opened(logbook) as book:
        kept = book.room(name)
        if kept.description:
            described, table = described_room(kept.description, name=f"the description of {kept.name}")
            return described, table if materials is None else load_materials(materials)
        stage = _last_stage(book, kept)
    if stage is None:
        raise ParameterError(
            f"{kept.name} has no stage yet", code="nothing-to-learn", remedy="log a reading of it first"
        )
    room = room_as_read(stage, name=kept.name, dimensions_m=kept.dimensions_m)
    return room, load_materials(materials)


def _opened(logbook: FilePath | None) -> Logbook:
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


def knowledge_of(
    name: FilePath, room: Room, *, reading: FilePath | None, logbook: FilePath | None
) -> Knowledge | None:
    """Gather what is known of a room beside its description.

    Parameters
    ----------
    name : path
        As for :func:`load_room`.
    room : Room
        What that gave.
    reading : path, optional
        The document of a reading to learn from.
    logbook : path, optional
        The logbook, unless it is at its usual place.

    Returns
    -------
    Knowledge or None
        From the document; else, for a room of the logbook that is described
        there, from the reading of its last stage. A room that is taken as it
        was read has nothing more to learn.

    Raises
    ------
    RoomirError
        If the document is none of a reading.
    """
    if reading is not None or Path(name).suffix.lower() == ".toml":
        return learn_from(room, reading)
    from roomir.plan.model import learn

    with _opened(logbook) as book:
        kept = book.room(str(name))
        if not kept.description:
            return None
        try:
            stage = _last_stage(book, kept)
        except RoomirError:  # a last stage without a usable octave has nothing to teach
            return None
    return None if stage is None else learn(room, stage)


def described_room(text: str, *, name: str) -> tuple[Room, Materials]:
    """Make a room of a description that is kept apart from any folder, as with a room of the logbook.

    Parameters
    ----------
    text : str
        Of a room file.
    name : str
        What to call it where something is wrong with it.

    Raises
    ------
    RoomirError
        For every fault, naming its key; or if it leans on another file.
    """
    from roomir.rooms.materials import parse_toml, standard_materials
    from roomir.rooms.room_file import parse_room

    table = standard_materials()
    room = parse_room(text, name=name, materials=table)
    head = parse_toml(text, name=name)["room"]
    if "materials" in head:
        raise ParameterError(
            f"{name}: room.materials names another file, which is not kept with it",
            code="bad-room",
            remedy="write alpha = [six values] at the surfaces that need it, and leave the key out",
        )
    return room, table


def learn_from(room: Room, document: FilePath | None) -> Knowledge | None:
    """Let the document of a reading (``roomir read --json``) correct what a room's description says.

    Parameters
    ----------
    room : Room
        As it was when it was read.
    document : path or None
        The file; nothing is learnt without one.

    Raises
    ------
    RoomirError
        If it is no such document, or has no usable octave.
    """
    if document is None:
        return None
    import json

    from roomir.plan.model import learn
    from roomir.plan.readings import stage_reading
    from roomir.reading.codec import decode
    from roomir.rooms.materials import read_text

    path = Path(document)
    try:
        reading = decode(json.loads(read_text(path)))
    except (ValueError, RecursionError, KeyError, TypeError) as error:
        raise RoomirError(
            f"{path} is no reading: {error}",
            code="no-reading",
            remedy="write one with `roomir read spot1.m4a spot2.m4a --json > reading.json`",
        ) from error
    return learn(room, stage_reading(reading, name=path.name))


def predict(
    room: FilePath,
    *,
    materials: FilePath | None = None,
    logbook: FilePath | None = None,
    with_air: bool = True,
) -> Prediction:
    """Predict what a described room will read.

    Parameters
    ----------
    room, materials, logbook : path
        As for :func:`load_room`.
    with_air : bool, default True
        Whether the air absorbs as well.

    Returns
    -------
    Prediction
        Five formulas per band, the one that applies, and its interval.
    """
    from roomir.rooms.prediction import predict as work_out

    described, _ = load_room(room, materials=materials, logbook=logbook)
    return work_out(described, with_air=with_air)


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
