"""A copy of the whole logbook, which is a logbook itself."""

from __future__ import annotations

import secrets
import shutil
from pathlib import Path

from roomir.audio.files import display_name
from roomir.errors import LogbookError
from roomir.logbook.database import copy_database
from roomir.logbook.durable import UNFINISHED, sync_folder
from roomir.logbook.folder import place_of
from roomir.logbook.recordings import copy_whole
from roomir.logbook.store import Store
from roomir.logbook.trouble import cannot_write


def refuse_existing(target: Path) -> None:
    """Refuse to write where something is.

    Raises
    ------
    LogbookError
        ``already-there``.
    """
    if target.exists() or target.is_symlink():
        raise LogbookError(
            f"{display_name(target)} is there already",
            code="already-there",
            remedy="name a place where nothing is yet",
        )


def back_up(store: Store, target: Path) -> int:
    """Copy database and recordings to a new folder, whole or not at all; return the number of recordings.

    Raises
    ------
    LogbookError
        ``already-there``, ``logbook-disk``, or ``recording-missing`` for one that is not what its name says.
    """
    refuse_existing(target)
    unfinished = target.with_name(f"{UNFINISHED}{secrets.token_hex(8)}")
    place = place_of(unfinished)
    try:
        # Nobody may log or purge between the copy of the database and those of the recordings.
        with store.database.writing():
            unfinished.mkdir(mode=0o700)
            place.recordings.mkdir(mode=0o700)
            copy_database(store.database.path, place.database)
            known = store.database.rows(
                "SELECT sha256 FROM recording ORDER BY sha256", make=lambda row: str(row[0])
            )
            for sha256 in known:
                copy_recording(store, sha256, place.recordings / sha256)
            sync_folder(place.recordings)
            sync_folder(unfinished)
            unfinished.rename(target)
        sync_folder(target.parent)
    except OSError as error:
        raise cannot_write(target, error) from error
    finally:
        shutil.rmtree(unfinished, ignore_errors=True)
    return len(known)


def copy_recording(store: Store, sha256: str, target: Path) -> None:
    """Copy a recording that is what its name says.

    Raises
    ------
    LogbookError
        ``recording-missing``.
    """
    if not store.recordings.is_whole(sha256):
        raise LogbookError(
            f"the recording {sha256[:12]}... is missing or damaged",
            code="recording-missing",
            remedy="run roomir logbook check, which tells whose it is; or bring out the rest with"
            " roomir logbook rescue FOLDER",
        )
    copy_whole(store.recordings.path(sha256), target)
