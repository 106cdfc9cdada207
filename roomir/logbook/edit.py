"""Changing what is known: names, places in the order, stages of takes, notes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace

from roomir.errors import LogbookError
from roomir.logbook import queries
from roomir.logbook.about import checked_about
from roomir.logbook.database import Database
from roomir.logbook.names import Decide, choose_name, clean_description, clean_name, clean_text
from roomir.logbook.stages import Where, find_or_make, set_size
from roomir.logbook.store import Store
from roomir.logbook.values import About, Room, RoomNotes, Stage, StageNotes, Take

_TAKE_COLUMNS = tuple(one.name for one in fields(About))


def rename_room(store: Store, room: Room, *, to: str, decide: Decide) -> Room:
    """Give a room another name."""
    database, name = store.database, clean_name(to, kind="room")
    there = [one.name for one in queries.rooms(database) if one.id != room.id]
    _refuse_taken(name, kind="room", there=there)
    _refuse_near(name, kind="room", there=there, decide=decide)
    with database.writing():
        _refuse_taken(
            name, kind="room", there=[one.name for one in queries.rooms(database) if one.id != room.id]
        )
        database.change("UPDATE room SET name = ? WHERE id = ?", name, room.id)
    return queries.room(database, name)


def rename_stage(store: Store, stage: Stage, *, to: str, decide: Decide) -> Stage:
    """Give a stage another name."""
    database, name = store.database, clean_name(to, kind="stage")
    room = queries.room(database, stage.room)
    there = [one.name for one in queries.stages(database, room) if one.id != stage.id]
    _refuse_taken(name, kind="stage", there=there)
    _refuse_near(name, kind="stage", there=there, decide=decide)
    with database.writing():
        now = [one.name for one in queries.stages(database, room) if one.id != stage.id]
        _refuse_taken(name, kind="stage", there=now)
        database.change("UPDATE stage SET name = ? WHERE id = ?", name, stage.id)
    return queries.stage_by_id(database, stage.id)


def move_takes(
    store: Store, takes: Sequence[Take], *, room: str, stage: str, decide: Decide
) -> tuple[Take, ...]:
    """Put takes into another stage, which is made where there is none."""
    database = store.database
    where = settle_where(database, Where(room=room, stage=stage), decide=decide)
    first = min(
        (take for take in takes if take.recorded_at), key=lambda take: str(take.recorded_at), default=None
    )
    recorded = None
    if first is not None and first.recorded_at is not None and first.recorded_at_from is not None:
        recorded = (first.recorded_at, first.recorded_at_from)
    with database.writing():
        to = find_or_make(store, where, recorded=recorded, moving=[take.id for take in takes])
        for take in takes:
            database.change(
                "UPDATE take SET stage_id = ? WHERE id = ? AND removal_id IS NULL", to.id, take.id
            )
    return tuple(queries.take_by_id(database, take.id) for take in takes)


def move_stage(store: Store, stage: Stage, *, behind: Stage | None) -> tuple[Stage, ...]:
    """Put a stage behind another one of its room, or first; return the new order."""
    database = store.database
    room = queries.room(database, stage.room)
    with database.writing():
        others = [one for one in queries.stages(database, room) if one.id != stage.id]
        at = 0 if behind is None else [one.id for one in others].index(behind.id) + 1
        for place, one in enumerate([*others[:at], stage, *others[at:]], start=1):
            database.change("UPDATE stage SET place = ? WHERE id = ?", place, one.id)
    return queries.stages(database, room)


def annotate_room(store: Store, room: Room, notes: RoomNotes) -> Room:
    """Change the size, the note or the description of a room."""
    database = store.database
    with database.writing():
        if notes.size is not None:
            set_size(store, replace(room, dimensions_m=None), notes.size)
        if notes.note is not None:
            note = clean_text(notes.note.strip(), what="note")
            database.change("UPDATE room SET note = ? WHERE id = ?", note, room.id)
        if notes.description is not None:
            described = clean_description(notes.description)
            database.change("DELETE FROM description WHERE room_id = ?", room.id)
            if described:
                database.change("INSERT INTO description (room_id, text) VALUES (?, ?)", room.id, described)
    return queries.room(database, room.name)


def annotate_stage(store: Store, stage: Stage, notes: StageNotes) -> Stage:
    """Change date, story or note of a stage."""
    database = store.database
    with database.writing():
        if notes.day is not None:
            database.change("UPDATE stage SET date = ? WHERE id = ?", notes.day.isoformat(), stage.id)
        if notes.done is not None:
            done = clean_text(notes.done.strip(), what="story of the stage")
            database.change("UPDATE stage SET done = ? WHERE id = ?", done, stage.id)
        if notes.note is not None:
            note = clean_text(notes.note.strip(), what="note")
            database.change("UPDATE stage SET note = ? WHERE id = ?", note, stage.id)
    return queries.stage_by_id(database, stage.id)


def annotate_take(store: Store, take: Take, about: About) -> Take:
    """Change what is known about a take beside its sound."""
    about = checked_about(about)
    with store.database.writing():
        store.database.change(
            "UPDATE take SET spot = ?, source_position = ?, microphone_position = ?, made_with = ?,"
            " temperature_c = ?, humidity_percent = ?, note = ? WHERE id = ?",
            *(getattr(about, name) for name in _TAKE_COLUMNS),
            take.id,
        )
    return queries.take_by_id(store.database, take.id)


def settle_where(database: Database, where: Where, *, decide: Decide) -> Where:
    """Settle which room and stage are meant, asking about names that are close to those there are."""
    room, stage = clean_name(where.room, kind="room"), clean_name(where.stage, kind="stage")
    rooms = {one.name: one for one in queries.rooms(database)}
    room = choose_name(room, kind="room", there=rooms, decide=decide)
    if room in rooms:
        stages = [one.name for one in queries.stages(database, rooms[room])]
        stage = choose_name(stage, kind="stage", there=stages, decide=decide)
    return replace(where, room=room, stage=stage)


def _refuse_taken(name: str, *, kind: str, there: Sequence[str]) -> None:
    if name in there:
        raise LogbookError(
            f'there is a {kind} "{name}" already',
            code="name-taken",
            remedy="choose another name, or move the takes there with roomir logbook move",
        )


def _refuse_near(name: str, *, kind: str, there: Sequence[str], decide: Decide) -> None:
    chosen = choose_name(name, kind=kind, there=there, decide=decide)
    if chosen != name:
        _refuse_taken(chosen, kind=kind, there=there)
