"""Keeping a take: the recording is on the disk before the database says that it is kept."""

from __future__ import annotations

import json
import sqlite3
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from pathlib import Path

from roomir.errors import LogbookError, ParameterError
from roomir.logbook import queries
from roomir.logbook.database import cannot_write
from roomir.logbook.recordings import Kept
from roomir.logbook.store import Store
from roomir.logbook.values import About, Room, Size, Stage, Take, mid_time
from roomir.reading.codec import encode
from roomir.reading.reading import Failure, Reading

STEPS = (
    "lock taken", "recording written", "recording synced", "recording renamed", "folder synced",
    "rows written", "committed",
)  # fmt: skip
"""Boundaries at which somebody who keeps a take can be stopped, in their order."""


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """One take on its way in.

    Attributes
    ----------
    path : Path
        The file.
    name : str
        What to call it.
    about : About
        What is known beside its sound.
    channel : int or None
        The channel that is read.
    band_set : str
        The bands it is read in.
    reading : Reading or None
        What was read.
    failure : Failure or None
        Why nothing was.
    """

    path: Path
    name: str
    about: About
    channel: int | None
    band_set: str
    reading: Reading | None
    failure: Failure | None


@dataclass(frozen=True, slots=True, kw_only=True)
class NewTake:
    """The row of a take that is to be made, as `Take` has it."""

    stage_id: int
    name: str
    about: About
    recorded: tuple[datetime, str] | None
    logged_at: datetime
    channel: int | None
    band_set: str
    failure: Failure | None


class KeptBeforeError(Exception):
    """Somebody has kept this sound while it was being read."""

    def __init__(self, take: Take) -> None:
        super().__init__(take.id)
        self.take = take


def keep_take(store: Store, arrival: Arrival, *, where: Where, recorded: tuple[datetime, str] | None) -> Take:
    """Keep one take with its recording and reading: all of it or nothing.

    Raises
    ------
    KeptBeforeError
        If the logbook has this sound by now.
    LogbookError
        If it cannot be written, or the file has changed since it was read.
    UnreadableAudioError
        If the file cannot be copied.
    """
    database = store.database
    try:
        with database.writing():
            store.at("lock taken")
            store.recordings.sweep()
            kept = store.recordings.take_in(arrival.path, name=arrival.name)
            _refuse_another(arrival, kept=kept)
            for sha256 in (kept.sha256, kept.original_sha256):
                if (before := queries.take_of_sound(database, sha256)) is not None:
                    raise KeptBeforeError(before)
            stage = find_or_make(store, where, recorded=recorded)
            now = store.now()
            new = NewTake(
                stage_id=stage.id,
                name=arrival.name,
                about=arrival.about,
                recorded=recorded,
                logged_at=now,
                channel=arrival.channel,
                band_set=arrival.band_set,
                failure=arrival.failure,
            )
            take_id = insert_take(store, new, kept=kept)
            if arrival.reading is not None:
                add_reading(store, take_id=take_id, reading=arrival.reading, read_at=now)
            store.at("rows written")
    except OSError as error:
        raise cannot_write(store.recordings.folder, error) from error
    except sqlite3.IntegrityError as error:
        raise LogbookError(
            f"{arrival.name} cannot be kept: a rule of the logbook forbids it ({error})",
            code="logbook-damaged",
            remedy="run roomir logbook check",
        ) from error
    store.at("committed")
    return queries.take_by_id(database, take_id)


def _refuse_another(arrival: Arrival, *, kept: Kept) -> None:
    read = arrival.reading.takes[0].sha256 if arrival.reading is not None else None
    if read is not None and read != kept.original_sha256:
        raise LogbookError(
            f"{arrival.name} has changed while it was read",
            code="changed-meanwhile",
            remedy="wait until it is copied or recorded to its end, then log it again",
        )


def insert_take(store: Store, take: NewTake, *, kept: Kept) -> int:
    """Add the rows of a take and its recording; whoever calls holds the lock. Return its number."""
    database, about, failure = store.database, take.about, take.failure
    database.change(
        "INSERT INTO recording VALUES (?, ?, ?, ?) ON CONFLICT DO NOTHING",
        *(kept.sha256, kept.original_sha256, kept.n_bytes, kept.places_blanked),
    )
    # Purged once and back again: it must not be erased now.
    database.change("DELETE FROM erasure WHERE sha256 = ?", kept.sha256)
    recorded_at, recorded_at_from = take.recorded or (None, None)
    return database.change(
        "INSERT INTO take (stage_id, sha256, name, spot, source_position, microphone_position, made_with,"
        " recorded_at, recorded_at_from, logged_at, temperature_c, humidity_percent, note, channel, band_set,"
        " failure_code, failure_says, failure_remedy) VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)",
        *(take.stage_id, kept.sha256, take.name),
        *(about.spot, about.source_position, about.microphone_position, about.made_with),
        None if recorded_at is None else recorded_at.astimezone(UTC).isoformat(),
        *(recorded_at_from, take.logged_at.astimezone(UTC).isoformat()),
        *(about.temperature_c, about.humidity_percent, about.note, take.channel, take.band_set),
        *((None,) * 3 if failure is None else (failure.code, failure.says, failure.remedy)),
    )


def add_reading(store: Store, *, take_id: int, reading: Reading, read_at: datetime) -> None:
    """Add a reading to a take; it is the one that counts from now on. Whoever calls holds the lock."""
    mid = mid_time(reading)
    low_s, high_s = mid.ci95_s or (None, None)
    store.database.change(
        "INSERT INTO reading (take_id, read_at, roomir_version, mid_s, mid_low_s, mid_high_s, verdict,"
        " document) VALUES (?,?,?,?,?,?,?,?)",
        *(take_id, read_at.isoformat(), reading.roomir_version),
        *(mid.decay_time_s, low_s, high_s, mid.verdict, as_text(reading)),
    )


def as_text(reading: Reading) -> str:
    """Write a reading as it is kept: exactly."""
    return json.dumps(encode(reading), allow_nan=False, ensure_ascii=False, separators=(",", ":"))


# ------------------------------------------------------------------ rooms and stages on first use


def find_or_make(store: Store, where: Where, *, recorded: tuple[datetime, str] | None) -> Stage:
    """Return the stage that is meant, made where there is none; whoever calls holds the lock."""
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
    place = _make_room_for(store, room, day=where.date, recorded=recorded)
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


def _make_room_for(
    store: Store, room: Room, *, day: date | None, recorded: tuple[datetime, str] | None
) -> int:
    """Return the place of a new stage: behind every stage that is older, and free.

    Stages get logged out of order. Where it is known when they were
    recorded, that decides; the dates of files tell days apart and no more,
    since copying a file may change its date.
    """
    summaries = queries.summaries(store.database, of_room=room)[0].stages
    new = _When.of(day=day, recorded=recorded)
    place = 1
    for summary in summaries:
        first = store.database.rows(
            "SELECT recorded_at, recorded_at_from FROM take WHERE stage_id = ? AND removal_id IS NULL"
            " AND recorded_at IS NOT NULL ORDER BY recorded_at LIMIT 1",
            summary.stage.id,
            make=lambda row: (datetime.fromisoformat(row[0]), str(row[1])),
        )
        if not new.is_before(_When.of(day=summary.stage.date, recorded=first[0] if first else None)):
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
