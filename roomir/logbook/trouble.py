"""What can be wrong with the files of a logbook, in words of ours."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from roomir.audio.files import display_name
from roomir.errors import LogbookError


def as_logbook_error(error: sqlite3.Error, *, path: Path, busy_s: float) -> LogbookError:
    """Say in words of ours what SQLite has against a file."""
    code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_CORRUPT)
    name, primary = display_name(path), code & 0xFF
    if primary in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return LogbookError(
            f"{name} is being written by another program, for {busy_s:.0f} s already",
            code="logbook-busy",
            remedy="wait until that is done, then try again; nothing was changed",
        )
    if primary in (sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM):
        return locked_away(path)
    if primary == sqlite3.SQLITE_FULL or (
        primary == sqlite3.SQLITE_IOERR and code != sqlite3.SQLITE_IOERR_SHORT_READ
    ):
        return LogbookError(
            f"{name} cannot be written or read on: the disk is full, or refuses ({error})",
            code="logbook-disk",
            remedy="make room on that disk and try again; what was confirmed before is kept",
        )
    return damaged(path)


def damaged(path: Path) -> LogbookError:
    """Say that a database cannot be read any more."""
    return LogbookError(
        f"{display_name(path)} is damaged, or no logbook at all",
        code="logbook-damaged",
        remedy="bring out what can be with roomir logbook rescue FOLDER; nothing was changed",
    )


def locked_away(path: Path) -> LogbookError:
    """Say that the system lets nobody in."""
    return LogbookError(
        f"you have no right to use {display_name(path)}, or to write beside it",
        code="logbook-locked-away",
        remedy="give yourself that right, or name another place with --logbook",
    )


def cannot_write(path: Path, error: OSError) -> LogbookError:
    """Say that the system refused to write, in its own words."""
    if isinstance(error, PermissionError):
        return locked_away(path)
    return LogbookError(
        f"{display_name(path)} cannot be written: {error.strerror or error}",
        code="logbook-disk",
        remedy="make room on that disk, or name another place; what was confirmed before is kept",
    )


def none_there(path: Path, *, recordings_there: bool) -> LogbookError:
    """Say that there is no database: not yet, or no more."""
    if recordings_there:
        return LogbookError(
            f"{display_name(path)} is gone or empty, but recordings lie beside it",
            code="logbook-damaged",
            remedy="put back a copy of it, or bring out the recordings with roomir logbook rescue FOLDER",
        )
    return LogbookError(
        f"there is no logbook yet: {display_name(path)}",
        code="no-logbook",
        remedy="begin one with roomir log, or name another one with --logbook or ROOMIR_LOGBOOK",
    )
