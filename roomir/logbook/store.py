"""The parts of an open logbook that every job on it needs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from roomir.logbook.database import Database, Schema
from roomir.logbook.durable import make_folder
from roomir.logbook.folder import place_of
from roomir.logbook.recordings import At, Recordings
from roomir.logbook.trouble import cannot_write


def nowhere(step: str) -> None:
    """Take note of nothing."""
    del step


def utc_now() -> datetime:
    """Return this instant."""
    return datetime.now(tz=UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class Store:
    """An open logbook.

    Attributes
    ----------
    database : Database
        Everything but the sound.
    recordings : Recordings
        The sound.
    at : callable
        Told at every boundary between two steps of writing.
    now : callable
        The clock.
    """

    database: Database
    recordings: Recordings
    at: At
    now: Callable[[], datetime]


def open_store(
    path: Path,
    *,
    create: bool,
    at: At = nowhere,
    now: Callable[[], datetime] = utc_now,
    schema: Schema | None = None,
) -> Store:
    """Open a logbook; the errors of `Database` may come of it."""
    place = place_of(path)
    recordings = Recordings(place.recordings, at=at)
    if create:
        try:
            make_folder(place.database.parent.absolute())
        except OSError as error:
            raise cannot_write(place.database, error) from error
    database = Database(
        place.database,
        create=create,
        has_recordings=lambda: any(True for _ in recordings.names()),
        schema=schema,
    )
    return Store(database=database, recordings=recordings, at=at, now=now)
