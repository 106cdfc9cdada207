"""Questions to the database, answered with values. What was removed is in none of them."""

from __future__ import annotations

import json
from datetime import date, datetime

from roomir.errors import LogbookError, RoomirError
from roomir.logbook.database import Database, Row
from roomir.logbook.names import nearest
from roomir.logbook.trouble import damaged
from roomir.logbook.values import About, MidTime, Room, RoomSummary, Stage, StageSummary, Take
from roomir.reading.codec import decode
from roomir.reading.reading import Failure, Reading

_ROOM = """
SELECT room.*, coalesce(description.text, '') AS description
FROM room LEFT JOIN description ON description.room_id = room.id
WHERE removal_id IS NULL
"""
_STAGE = """
SELECT stage.*, room.name AS room_name FROM stage JOIN room ON room.id = stage.room_id
WHERE stage.removal_id IS NULL AND room.removal_id IS NULL
"""
_TAKE = """
SELECT take.*, stage.name AS stage_name, room.name AS room_name, recording.original_sha256,
    newest.mid_s, newest.mid_low_s, newest.mid_high_s, newest.verdict, newest.roomir_version
FROM take
JOIN stage ON stage.id = take.stage_id
JOIN room ON room.id = stage.room_id
JOIN recording ON recording.sha256 = take.sha256
LEFT JOIN reading AS newest ON newest.id = (SELECT max(id) FROM reading WHERE take_id = take.id)
WHERE take.removal_id IS NULL
"""
_TAKE_OF_SOUND = f"{_TAKE} AND recording.sha256 = ?"
_TAKE_OF_ORIGINAL = f"{_TAKE} AND recording.original_sha256 = ?"


_LEAST_HASH = 8
"""Signs of a hash that tell a recording; fewer, if they are figures, are the number of a take."""


# ------------------------------------------------------------------ rooms and stages


def rooms(database: Database) -> tuple[Room, ...]:
    """Return every room by its name."""
    found = database.rows(f"{_ROOM} ORDER BY name, id", make=_room)
    return tuple(found)


def room(database: Database, name: str) -> Room:
    """Return the room of that name.

    Raises
    ------
    LogbookError
        ``no-such-room``, with the rooms there are.
    """
    there = {one.name: one for one in rooms(database)}
    if name not in there:
        raise _not_there("room", name, names=list(there), where="in this logbook", code="no-such-room")
    return there[name]


def stages(database: Database, of: Room) -> tuple[Stage, ...]:
    """Return the stages of a room in their order."""
    found = database.rows(
        f"{_STAGE} AND stage.room_id = ? ORDER BY stage.place, stage.id", of.id, make=_stage
    )
    return tuple(found)


def stage(database: Database, of: Room, name: str) -> Stage:
    """Return the stage of that name in a room.

    Raises
    ------
    LogbookError
        ``no-such-stage``, with the stages there are.
    """
    there = {one.name: one for one in stages(database, of)}
    if name not in there:
        raise _not_there(
            "stage", name, names=list(there), where=f'in the room "{of.name}"', code="no-such-stage"
        )
    return there[name]


def stage_by_id(database: Database, stage_id: int) -> Stage:
    """Return the stage of that row."""
    (found,) = database.rows(f"{_STAGE} AND stage.id = ?", stage_id, make=_stage)
    return found


def _not_there(kind: str, name: str, *, names: list[str], where: str, code: str) -> LogbookError:
    near = nearest(name, names)
    if near is not None:
        remedy = f'did you mean "{near}"?'
    elif names:
        some = ", ".join(f'"{one}"' for one in names[:8])
        remedy = f"there {'is' if len(names) == 1 else 'are'} {some}{' and more' if len(names) > 8 else ''}"
    else:
        remedy = "make it with roomir log"
    return LogbookError(f'there is no {kind} "{name}" {where}', code=code, remedy=remedy)


# ------------------------------------------------------------------ takes


def takes(
    database: Database, *, of_stage: Stage | None = None, of_room: Room | None = None
) -> tuple[Take, ...]:
    """Return takes in the order in which they were recorded; all of them where nothing narrows it."""
    order = "ORDER BY room.name, stage.place, stage.id, take.recorded_at IS NULL, take.recorded_at, take.id"
    if of_stage is not None:
        found = database.rows(f"{_TAKE} AND take.stage_id = ? {order}", of_stage.id, make=_take)
    elif of_room is not None:
        found = database.rows(f"{_TAKE} AND stage.room_id = ? {order}", of_room.id, make=_take)
    else:
        found = database.rows(f"{_TAKE} {order}", make=_take)
    return tuple(found)


def take_by_id(database: Database, take_id: int) -> Take:
    """Return the take of that number.

    Raises
    ------
    LogbookError
        ``no-such-take``.
    """
    for found in database.rows(f"{_TAKE} AND take.id = ?", take_id, make=_take):
        return found
    raise LogbookError(
        f"there is no take number {take_id}",
        code="no-such-take",
        remedy="find the numbers with roomir logbook show --room ROOM",
    )


def take_of_sound(database: Database, sha256: str) -> Take | None:
    """Return the take that has this sound, told by the hash of the file as it came or as it is kept."""
    # Asked in two, so that the index of either column serves.
    for sql in (_TAKE_OF_SOUND, _TAKE_OF_ORIGINAL):
        for found in database.rows(sql, sha256, make=_take):
            return found
    return None


def find_take(database: Database, wanted: str, *, among: tuple[Take, ...]) -> Take:
    """Return the take that somebody means by its number, its file's name or the beginning of its hash.

    Raises
    ------
    LogbookError
        ``no-such-take``, or ``ambiguous-take`` with the numbers it can be.
    """
    if wanted.isdecimal() and len(wanted) < _LEAST_HASH:
        return take_by_id(database, int(wanted))
    found = [take for take in among if take.name == wanted]
    if not found and len(wanted) >= _LEAST_HASH:
        found = [
            take
            for take in among
            if take.sha256.startswith(wanted.lower()) or take.original_sha256.startswith(wanted.lower())
        ]
    if len(found) == 1:
        return found[0]
    if not found:
        raise LogbookError(
            f'there is no take "{wanted}"',
            code="no-such-take",
            remedy="find the numbers with roomir logbook show --room ROOM",
        )
    raise LogbookError(
        f'"{wanted}" can be any of {len(found)} takes: {", ".join(str(take.id) for take in found[:12])}',
        code="ambiguous-take",
        remedy="give the number",
    )


def reading_of(database: Database, of: Take) -> Reading | None:
    """Return the newest reading of a take, None where it gave none."""
    row = database.one("SELECT document FROM reading WHERE take_id = ? ORDER BY id DESC LIMIT 1", of.id)
    return None if row is None else decoded(database, row["document"])


def decoded(database: Database, document: str) -> Reading:
    """Return a reading as it was kept.

    Raises
    ------
    LogbookError
        ``logbook-damaged`` where that is no reading any more.
    """
    try:
        return decode(json.loads(document))
    except (ValueError, RecursionError, RoomirError) as error:
        raise damaged(database.path) from error


# ------------------------------------------------------------------ lists


def summaries(database: Database, *, of_room: Room | None = None) -> tuple[RoomSummary, ...]:
    """Return every room with its stages in order, and what they come to, in two questions."""
    of_rooms = rooms(database) if of_room is None else (of_room,)
    by_room: dict[int, list[StageSummary]] = {one.id: [] for one in of_rooms}
    sql = """
    SELECT stage.*, room.name AS room_name, count(take.id) AS n_takes,
        count(take.failure_code) AS n_failed,
        min(take.recorded_at) AS first_recorded_at, max(take.recorded_at) AS last_recorded_at,
        together.takes AS read_together, group_concat(take.id) AS take_ids,
        together.mid_s, together.mid_low_s, together.mid_high_s, together.verdict, together.spots
    FROM stage
    JOIN room ON room.id = stage.room_id
    LEFT JOIN take ON take.stage_id = stage.id AND take.removal_id IS NULL
    LEFT JOIN stage_reading AS together ON together.stage_id = stage.id
    WHERE stage.removal_id IS NULL AND room.removal_id IS NULL AND (? IS NULL OR room.id = ?)
    GROUP BY stage.id ORDER BY stage.place, stage.id
    """
    narrowed = None if of_room is None else of_room.id
    found = database.rows(sql, narrowed, narrowed, make=lambda row: (row["room_id"], _stage_summary(row)))
    for room_id, summary in found:
        by_room[room_id].append(summary)
    return tuple(RoomSummary(room=one, stages=tuple(by_room[one.id])) for one in of_rooms)


def together_key(take_ids: list[int]) -> str:
    """Return how a reading of several takes says which they were."""
    return ",".join(map(str, sorted(take_ids)))


def _stage_summary(row: Row) -> StageSummary:
    take_ids = [int(one) for one in row["take_ids"].split(",")] if row["take_ids"] else []
    is_current = row["read_together"] is not None and row["read_together"] == together_key(take_ids)
    return StageSummary(
        stage=_stage(row),
        n_takes=row["n_takes"],
        n_failed=row["n_failed"],
        first_recorded_at=_instant(row["first_recorded_at"]),
        last_recorded_at=_instant(row["last_recorded_at"]),
        mid=_mid(row) if is_current else None,
        spots=row["spots"] if is_current else None,
    )


# ------------------------------------------------------------------ rows to values


def _room(row: Row) -> Room:
    sides = (row["length_m"], row["width_m"], row["height_m"])
    return Room(
        id=row["id"],
        name=row["name"],
        volume_m3=row["volume_m3"],
        dimensions_m=None if None in sides else sides,
        note=row["note"],
        description=row["description"],
    )


def _stage(row: Row) -> Stage:
    return Stage(
        id=row["id"],
        room=row["room_name"],
        name=row["name"],
        place=row["place"],
        date=None if row["date"] is None else date.fromisoformat(row["date"]),
        done=row["done"],
        note=row["note"],
    )


def _take(row: Row) -> Take:
    logged_at = _instant(row["logged_at"])
    assert logged_at is not None
    failure = None
    if row["failure_code"] is not None:
        failure = Failure(
            path=row["name"],
            **{one: row[f"failure_{one}"] for one in ("code", "says", "remedy")},
        )
    return Take(
        id=row["id"],
        room=row["room_name"],
        stage=row["stage_name"],
        sha256=row["sha256"],
        original_sha256=row["original_sha256"],
        name=row["name"],
        about=About(
            spot=row["spot"],
            source_position=row["source_position"],
            microphone_position=row["microphone_position"],
            made_with=row["made_with"],
            temperature_c=row["temperature_c"],
            humidity_percent=row["humidity_percent"],
            note=row["note"],
        ),
        recorded_at=_instant(row["recorded_at"]),
        recorded_at_from=row["recorded_at_from"],
        logged_at=logged_at,
        channel=row["channel"],
        band_set=row["band_set"],
        failure=failure,
        mid=None if row["verdict"] is None else _mid(row),
        roomir_version=row["roomir_version"],
    )


def _mid(row: Row) -> MidTime:
    ends = (row["mid_low_s"], row["mid_high_s"])
    return MidTime(decay_time_s=row["mid_s"], ci95_s=None if None in ends else ends, verdict=row["verdict"])


def _instant(text: str | None) -> datetime | None:
    return None if text is None else datetime.fromisoformat(text)
