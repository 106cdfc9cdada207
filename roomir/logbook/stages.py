"""Rooms and stages: made on first use, in the order in which they were, and not changed in passing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime

from roomir.errors import ParameterError
from roomir.logbook import queries
from roomir.logbook.store import Store
from roomir.logbook.values import Room, Size, Stage


@dataclass(frozen=True, slots=True, kw_only=True)
class Where:
    """The stage to log to, which is made on first use, and what is known about it.

    Attributes
    ----------
    room, stage : str
        Clean names.
    size : Size
        Of the room; filled in where the logbook does not know it yet.
    date : date or None
        The day of the stage.
    done : str
        What was done to come to it.
    """

    room: str
    stage: str
    size: Size = field(default_factory=Size)
    date: date | None = None
    done: str = ""


def find_or_make(
    store: Store, where: Where, *, recorded: tuple[datetime, str] | None, moving: Sequence[int] = ()
) -> Stage:
    """Return the stage that is meant, made where there is none; whoever calls holds the lock.

    Parameters
    ----------
    store : Store
        The logbook.
    where : Where
        The stage.
    recorded : (datetime, str), optional
        When its first take was recorded, and how that is known.
    moving : sequence of int
        Takes that leave their stages to come here.
    """
    database = store.database
    room = next((one for one in queries.rooms(database) if one.name == where.room), None)
    if room is None:
        room_id = database.change("INSERT INTO room (name, note) VALUES (?, '')", where.room)
        room = Room(id=room_id, name=where.room)
    if where.size != Size():
        refuse_other_size(room, where.size)
        set_size(store, room, where.size)
    stage = next((one for one in queries.stages(database, room) if one.name == where.stage), None)
    if stage is not None:
        refuse_other_stage(stage, where)
        day, done = stage.date or where.date, stage.done or where.done
        database.change("UPDATE stage SET date = ?, done = ? WHERE id = ?", _iso(day), done, stage.id)
        return queries.stage_by_id(database, stage.id)
    place = _make_room_for(store, room, new=_When.of(day=where.date, recorded=recorded), moving=moving)
    stage_id = database.change(
        "INSERT INTO stage (room_id, name, place, date, done, note) VALUES (?, ?, ?, ?, ?, '')",
        *(room.id, where.stage, place, _iso(where.date), where.done),
    )
    return queries.stage_by_id(database, stage_id)


def _iso(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


def refuse_other_size(room: Room, size: Size) -> None:
    """Refuse a size that is not the one the logbook knows.

    Raises
    ------
    ParameterError
        ``other-size``.
    """
    known, given = room.volume_m3, size.cubic_m3
    if known is not None and given is not None and not agrees(known, given):
        raise ParameterError(
            f'the room "{room.name}" has {known:g} m3 in the logbook, not {given:g} m3',
            code="other-size",
            remedy="leave the size out, or correct it with roomir logbook annotate",
        )


def refuse_other_stage(stage: Stage, where: Where) -> None:
    """Refuse a date or a story that is not the one the logbook knows.

    Raises
    ------
    ParameterError
        ``other-stage``.
    """
    for what, known, given in (("date", stage.date, where.date), ("done", stage.done, where.done)):
        if known and given and known != given:
            raise ParameterError(
                f'the stage "{stage.name}" has another --{what} in the logbook: {known}',
                code="other-stage",
                remedy=f"leave --{what} out, or correct it with roomir logbook annotate",
            )


def agrees(known: float | None, given: float) -> bool:
    """Whether two volumes are the same, as exactly as people measure: to half a per cent. [m3]."""
    return known is not None and abs(known - given) <= 0.005 * known


def set_size(store: Store, room: Room, size: Size) -> None:
    """Keep the size of a room; whoever calls holds the lock."""
    same = size.cubic_m3 is not None and agrees(room.volume_m3, size.cubic_m3)
    if same and size.dimensions_m is None and room.dimensions_m is not None:
        return  # dimensions say more than their product
    store.database.change(
        "UPDATE room SET volume_m3 = ?, length_m = ?, width_m = ?, height_m = ? WHERE id = ?",
        *(size.cubic_m3, *(size.dimensions_m or (None, None, None)), room.id),
    )


def _make_room_for(store: Store, room: Room, *, new: _When, moving: Sequence[int]) -> int:
    """Return the place of a new stage: behind every stage that is older, and free.

    Stages get logged out of order. Where it is known when they were
    recorded, that decides; the dates of files tell days apart and no more,
    since copying a file may change its date.
    """
    summaries = queries.summaries(store.database, of_room=room)[0].stages
    place = 1
    for summary in summaries:
        takes = store.database.rows(
            "SELECT id, recorded_at, recorded_at_from FROM take WHERE stage_id = ? AND removal_id IS NULL"
            " AND recorded_at IS NOT NULL ORDER BY recorded_at",
            summary.stage.id,
            make=lambda row: (int(row[0]), (datetime.fromisoformat(row[1]), str(row[2]))),
        )
        first = next((recorded for number, recorded in takes if number not in moving), None)
        if not new.is_before(_When.of(day=summary.stage.date, recorded=first)):
            place = summary.stage.place + 1
    store.database.change(
        "UPDATE stage SET place = place + 1 WHERE room_id = ? AND place >= ?", room.id, place
    )
    return place


@dataclass(frozen=True, slots=True, kw_only=True)
class _When:
    """When a stage was, as far as it is known."""

    day: date | None
    instant: datetime | None

    @classmethod
    def of(cls, *, day: date | None, recorded: tuple[datetime, str] | None) -> _When:
        if day is not None or recorded is None:
            return cls(day=day, instant=None)
        instant, source = recorded
        return cls(day=instant.astimezone().date(), instant=instant if source == "metadata" else None)

    def is_before(self, other: _When) -> bool:
        if self.day is None or other.day is None:
            return False
        if self.day == other.day and self.instant is not None and other.instant is not None:
            return self.instant < other.instant
        return self.day < other.day
