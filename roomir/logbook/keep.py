"""Keeping a take: the recording is on the disk before the database says that it is kept."""

from __future__ import annotations

import contextlib
import json
import sqlite3
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from roomir.errors import LogbookError
from roomir.logbook import queries
from roomir.logbook.recordings import Kept
from roomir.logbook.stages import Where, find_or_make
from roomir.logbook.store import Store
from roomir.logbook.trouble import cannot_write
from roomir.logbook.values import About, Take, mid_time
from roomir.reading.codec import encode
from roomir.reading.reading import Failure, Reading

STEPS = (
    "lock taken", "recording written", "recording synced", "recording renamed", "folder synced",
    "rows written", "committed",
)  # fmt: skip
"""Boundaries at which somebody who keeps a take can be stopped, in their order."""


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
    kept: Kept | None = None
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
    except LogbookError:
        _let_go(store, kept)
        raise
    except OSError as error:
        _let_go(store, kept)
        raise cannot_write(store.recordings.folder, error) from error
    except sqlite3.IntegrityError as error:
        raise LogbookError(
            f"{arrival.name} cannot be kept: a rule of the logbook forbids it ({error})",
            code="logbook-damaged",
            remedy="run roomir logbook check",
        ) from error
    store.at("committed")
    return queries.take_by_id(database, take_id)


def _let_go(store: Store, kept: Kept | None) -> None:
    """Delete the recording of a take that could not be kept after all: a full disk is full enough."""
    if kept is None or not kept.is_new:
        return
    with contextlib.suppress(LogbookError, OSError), store.database.writing():
        if store.database.one("SELECT 1 FROM recording WHERE sha256 = ?", kept.sha256) is None:
            store.recordings.erase(kept.sha256)


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
