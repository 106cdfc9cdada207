"""Removing, which one command undoes, and purging, which nothing does."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from datetime import datetime

from roomir.errors import LogbookError
from roomir.logbook import queries
from roomir.logbook.durable import UNFINISHED
from roomir.logbook.outcomes import Purge
from roomir.logbook.store import Store
from roomir.logbook.trouble import cannot_write
from roomir.logbook.values import Removal, Room, Stage, Take

PURGE_STEPS = ("rows deleted", "recording erased", "database rewritten")
"""Boundaries at which somebody who purges can be stopped, in their order."""


_REMOVE_TAKES_OF_ROOM = """
UPDATE take SET removal_id = ? WHERE removal_id IS NULL
AND stage_id IN (SELECT id FROM stage WHERE room_id = ?)
"""
_REMOVE_STAGES_OF_ROOM = "UPDATE stage SET removal_id = ? WHERE removal_id IS NULL AND room_id = ?"
_REMOVE_TAKES_OF_STAGE = "UPDATE take SET removal_id = ? WHERE removal_id IS NULL AND stage_id = ?"
_REMOVE_TAKE = "UPDATE take SET removal_id = ? WHERE removal_id IS NULL AND id = ?"


# ------------------------------------------------------------------ removing


def remove(store: Store, what: Sequence[Take] | Stage | Room) -> Removal:
    """Take something out of every list; its rows and recordings stay until they are purged."""
    if isinstance(what, Room):
        says = f'the room "{what.name}"'
    elif isinstance(what, Stage):
        says = f'the stage "{what.name}" of the room "{what.room}"'
    else:
        says = ", ".join(f"take {take.id} ({take.name})" for take in what)
    database = store.database
    with database.writing():
        removal_id = database.change(
            "INSERT INTO removal (removed_at, what) VALUES (?, ?)", store.now().isoformat(), says
        )
        if isinstance(what, Room):
            database.change(_REMOVE_TAKES_OF_ROOM, removal_id, what.id)
            database.change(_REMOVE_STAGES_OF_ROOM, removal_id, what.id)
            database.change("UPDATE room SET removal_id = ? WHERE id = ?", removal_id, what.id)
        elif isinstance(what, Stage):
            database.change(_REMOVE_TAKES_OF_STAGE, removal_id, what.id)
            database.change("UPDATE stage SET removal_id = ? WHERE id = ?", removal_id, what.id)
        else:
            for take in what:
                database.change(_REMOVE_TAKE, removal_id, take.id)
    return removals(store)[0]


def removals(store: Store) -> tuple[Removal, ...]:
    """Return what was removed and can be brought back, the newest first."""
    found = store.database.rows(
        "SELECT * FROM removal ORDER BY id DESC",
        make=lambda row: Removal(
            id=row["id"], removed_at=datetime.fromisoformat(row["removed_at"]), what=row["what"]
        ),
    )
    return tuple(found)


def undo(store: Store) -> Removal:
    """Bring back what was removed last.

    Raises
    ------
    LogbookError
        ``nothing-to-undo``; or ``cannot-undo`` where its name or its sound has a new place by now.
    """
    there = removals(store)
    if not there:
        raise LogbookError(
            "nothing is removed that could be brought back",
            code="nothing-to-undo",
            remedy="what was purged is gone for good; log the file again from where it came",
        )
    last, database = there[0], store.database
    try:
        with database.writing():
            database.change("UPDATE room SET removal_id = NULL WHERE removal_id = ?", last.id)
            database.change("UPDATE stage SET removal_id = NULL WHERE removal_id = ?", last.id)
            database.change("UPDATE take SET removal_id = NULL WHERE removal_id = ?", last.id)
            database.change("DELETE FROM removal WHERE id = ?", last.id)
    except sqlite3.IntegrityError as error:
        raise LogbookError(
            f"{last.what} cannot come back: a sound or a name in it is used elsewhere by now",
            code="cannot-undo",
            remedy="rename or remove the new one first, then undo both removals in turn",
        ) from error
    return last


# ------------------------------------------------------------------ purging


def would_purge(store: Store) -> Purge:
    """Say what purging erases, without touching anything."""
    database = store.database
    with database.reading():
        takes = database.rows(
            "SELECT id, name FROM take WHERE removal_id IS NOT NULL ORDER BY id",
            make=lambda row: (int(row[0]), str(row[1])),
        )
        stages = database.rows(
            "SELECT name FROM stage WHERE removal_id IS NOT NULL ORDER BY id", make=lambda row: str(row[0])
        )
        rooms = database.rows(
            "SELECT name FROM room WHERE removal_id IS NOT NULL ORDER BY id", make=lambda row: str(row[0])
        )
        recordings = database.rows(
            "SELECT sha256, n_bytes FROM recording WHERE sha256 NOT IN"
            " (SELECT sha256 FROM take WHERE removal_id IS NULL) UNION SELECT sha256, 0 FROM erasure"
            " ORDER BY sha256",
            make=lambda row: (str(row[0]), int(row[1])),
        )
    path = database.path
    return Purge(
        takes=tuple(takes),
        stages=tuple(stages),
        rooms=tuple(rooms),
        recordings=tuple(dict.fromkeys(sha256 for sha256, _ in recordings)),
        n_bytes=sum(n_bytes for _, n_bytes in recordings),
        copies=tuple(sorted(path.parent.glob(f"{path.stem}.before-version-*{path.suffix}"))),
    )


def purge(store: Store) -> Purge:
    """Erase what was removed: rows, recordings, and copies of the database that hold the rows.

    The names of the recordings to erase are committed with the deletion of
    their rows, so that whoever is stopped in between only has to do it again.
    """
    gone = would_purge(store)
    database, recordings = store.database, store.recordings
    with database.writing():
        database.change("DELETE FROM take WHERE removal_id IS NOT NULL")
        database.change("DELETE FROM stage WHERE removal_id IS NOT NULL")
        database.change("DELETE FROM room WHERE removal_id IS NOT NULL")
        database.change("DELETE FROM removal")
        _forget_old_readings(store)
        database.change(
            "INSERT OR IGNORE INTO erasure SELECT sha256 FROM recording"
            " WHERE sha256 NOT IN (SELECT sha256 FROM take)"
        )
        database.change("DELETE FROM recording WHERE sha256 NOT IN (SELECT sha256 FROM take)")
    store.at("rows deleted")
    try:
        with database.writing():
            recordings.sweep()
            for sha256 in database.rows("SELECT sha256 FROM erasure", make=lambda row: str(row[0])):
                recordings.erase(sha256)
                store.at("recording erased")
            for copy in (*gone.copies, *database.path.parent.glob(f"{UNFINISHED}*")):
                if copy.is_file():
                    copy.unlink(missing_ok=True)
            recordings.sync()
            database.change("DELETE FROM erasure")
    except OSError as error:
        raise cannot_write(recordings.folder, error) from error
    database.rewrite()
    store.at("database rewritten")
    return gone


def _forget_old_readings(store: Store) -> None:
    """Delete readings of several takes together that still hold one that is gone."""
    database = store.database
    kept = database.rows("SELECT stage_id, takes FROM stage_reading", make=lambda row: (row[0], row[1]))
    for stage_id, takes in kept:
        now = database.rows("SELECT id FROM take WHERE stage_id = ?", stage_id, make=lambda row: int(row[0]))
        if takes != queries.together_key(now):
            database.change("DELETE FROM stage_reading WHERE stage_id = ?", stage_id)
