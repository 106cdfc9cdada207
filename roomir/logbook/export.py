"""A logbook as a folder or zip file that any program can read: JSON, tables, and the recordings."""

from __future__ import annotations

import json
import os
import re
import secrets
import shutil
import zipfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Protocol

from roomir import __version__
from roomir.errors import LogbookError
from roomir.logbook import queries
from roomir.logbook.backup import refuse_existing
from roomir.logbook.database import Database, Row
from roomir.logbook.durable import UNFINISHED, sync_folder
from roomir.logbook.recordings import copy_whole
from roomir.logbook.store import Store
from roomir.logbook.trouble import cannot_write
from roomir.logbook.values import Room, Stage, Take
from roomir.reading.codec import encode, encode_failure

SCHEMA = "roomir/logbook/1"
"""Name and version of the main document of an export."""

MAIN = "logbook.json"
"""Rooms, stages and takes; the readings of a take have a file of their own."""

Document = dict[str, Any]
Tables = Callable[[Sequence[Document]], Mapping[str, str]]
"""Makes tables, by file name, out of the takes' documents, each with its newest reading under ``reading``."""

_SUFFIX = re.compile(r"\.[A-Za-z0-9]{1,8}")
_ZIP_TIME = (1980, 1, 1, 0, 0, 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Export:
    """A whole logbook as documents.

    Attributes
    ----------
    rooms : list of dict
        Under each ``stages``, under each of those ``takes``.
    readings : mapping of str to list of dict
        By the hash of the recording: every reading, the oldest first.
    recordings : mapping of str to Path
        By the name in the export: the file.
    """

    rooms: list[Document]
    readings: Mapping[str, list[Document]]
    recordings: Mapping[str, Path]


class Target(Protocol):
    """Where an export is written to."""

    def write(self, name: str, text: str) -> None:
        """Write a file of text."""
        ...

    def copy(self, name: str, path: Path) -> None:
        """Copy a file as it is."""
        ...


# ------------------------------------------------------------------ gathering


def gather(store: Store) -> Export:
    """Make documents of everything that is kept and not removed; whoever calls holds the lock.

    Raises
    ------
    LogbookError
        ``recording-missing`` for a recording that is not what its name says.
    """
    database = store.database
    rooms, readings, recordings = [], {}, {}
    for room in queries.rooms(database):
        stages = []
        for stage in queries.stages(database, room):
            takes = queries.takes(database, of_stage=stage)
            for take in takes:
                readings[take.sha256] = _readings(database, take)
                if not store.recordings.is_whole(take.sha256):
                    raise LogbookError(
                        f"the recording of take {take.id} ({take.name}) is missing or damaged",
                        code="recording-missing",
                        remedy="log the file again from where it came, or bring out the rest with"
                        " roomir logbook rescue FOLDER",
                    )
                recordings[recording_name(take.sha256, take.name)] = store.recordings.path(take.sha256)
            made = [_take(database, take) for take in takes]
            stages.append({**_stage(stage), "takes": made, "together": _together(database, stage, takes)})
        rooms.append({**_room(room), "stages": stages})
    return Export(rooms=rooms, readings=readings, recordings=recordings)


def recording_name(sha256: str, name: str) -> str:
    """Return what a recording is called in an export: its hash, and the suffix it had when it came."""
    suffix = Path(name).suffix.lower()
    return f"recordings/{sha256}{suffix if _SUFFIX.fullmatch(suffix) else ''}"


def readings_name(sha256: str) -> str:
    """Return what the file with the readings of a take is called in an export."""
    return f"readings/{sha256}.json"


def _room(room: Room) -> Document:
    return {
        "name": room.name,
        "volume_m3": room.volume_m3,
        "dimensions_m": None if room.dimensions_m is None else list(room.dimensions_m),
        "note": room.note,
        "description": room.description,
    }


def _stage(stage: Stage) -> Document:
    return {
        "name": stage.name,
        "date": None if stage.date is None else stage.date.isoformat(),
        "done": stage.done,
        "note": stage.note,
    }


def _take(database: Database, take: Take) -> Document:
    row = database.one("SELECT * FROM recording WHERE sha256 = ?", take.sha256)
    assert row is not None
    about = take.about
    return {
        "name": take.name,
        "sha256": take.sha256,
        "original_sha256": take.original_sha256,
        "n_bytes": row["n_bytes"],
        "places_blanked": row["places_blanked"],
        "recording": recording_name(take.sha256, take.name),
        "readings": readings_name(take.sha256),
        "spot": about.spot,
        "source_position": about.source_position,
        "microphone_position": about.microphone_position,
        "made_with": about.made_with,
        "temperature_c": about.temperature_c,
        "humidity_percent": about.humidity_percent,
        "note": about.note,
        "recorded_at": _instant(take.recorded_at),
        "recorded_at_from": take.recorded_at_from,
        "logged_at": take.logged_at.isoformat(),
        "channel": take.channel,
        "band_set": take.band_set,
        "failure": None if take.failure is None else encode_failure(take.failure),
    }


def _readings(database: Database, take: Take) -> list[Document]:
    return database.rows(
        "SELECT read_at, document FROM reading WHERE take_id = ? ORDER BY id",
        take.id,
        make=lambda row: _reading(database, row),
    )


def _together(database: Database, stage: Stage, takes: Sequence[Take]) -> Document | None:
    row = database.one("SELECT * FROM stage_reading WHERE stage_id = ?", stage.id)
    if row is None or row["takes"] != queries.together_key([take.id for take in takes]):
        return None
    return _reading(database, row)


def _reading(database: Database, row: Row) -> Document:
    return {"read_at": row["read_at"], "reading": encode(queries.decoded(database, row["document"]))}


def _instant(instant: datetime | None) -> str | None:
    return None if instant is None else instant.isoformat()


# ------------------------------------------------------------------ writing


def export(store: Store, target: Path, *, tables: Tables) -> int:
    """Write everything that is kept to a new folder, or to a zip file; return the number of takes.

    Raises
    ------
    LogbookError
        ``already-there``, ``logbook-disk`` or ``recording-missing``.
    """
    refuse_existing(target)
    with store.database.writing():  # nobody logs or purges meanwhile
        return write_export(gather(store), target, tables=tables)


def write_export(what: Export, target: Path, *, tables: Tables) -> int:
    """Write documents, tables and recordings, whole or not at all; return the number of takes."""
    unfinished = target.with_name(f"{UNFINISHED}{secrets.token_hex(8)}")
    try:
        if target.suffix.lower() == ".zip":
            with unfinished.open("xb") as file:
                with zipfile.ZipFile(file, "w", allowZip64=True) as archive:
                    n_takes = _fill(ZipTarget(archive), what, tables=tables)
                file.flush()
                os.fsync(file.fileno())
        else:
            unfinished.mkdir(mode=0o700)
            n_takes = _fill(FolderTarget(unfinished), what, tables=tables)
            sync_folder(unfinished)
        unfinished.rename(target)
        sync_folder(target.parent)
    except OSError as error:
        raise cannot_write(target, error) from error
    finally:
        if unfinished.is_dir():
            shutil.rmtree(unfinished, ignore_errors=True)
        else:
            unfinished.unlink(missing_ok=True)
    return n_takes


def _fill(target: Target, what: Export, *, tables: Tables) -> int:
    main = {"schema": SCHEMA, "roomir_version": __version__, "rooms": what.rooms}
    target.write(MAIN, _text(main))
    rows = []
    for room in what.rooms:
        for stage in room["stages"]:
            for take in stage["takes"]:
                readings = what.readings.get(take["sha256"], [])
                target.write(readings_name(take["sha256"]), _text({"readings": readings}))
                newest = readings[-1]["reading"] if readings else None
                rows.append({**take, "room": room["name"], "stage": stage["name"], "reading": newest})
    for name, text in tables(rows).items():
        target.write(name, text)
    for name, path in sorted(what.recordings.items()):
        target.copy(name, path)
    return len(rows)


def _text(document: Document) -> str:
    # ASCII only, so that no name in it can break a text file or speak to a terminal.
    return json.dumps(document, allow_nan=False, ensure_ascii=True, indent=1) + "\n"


class FolderTarget:
    """A new folder."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def write(self, name: str, text: str) -> None:
        """Write a file of text."""
        with self._new(name).open("x", encoding="utf-8", newline="") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())

    def copy(self, name: str, path: Path) -> None:
        """Copy a file as it is."""
        copy_whole(path, self._new(name))

    def _new(self, name: str) -> Path:
        path = self._folder / name
        path.parent.mkdir(mode=0o700, exist_ok=True)
        return path


class ZipTarget:
    """A zip file that is the same whenever it is written."""

    def __init__(self, archive: zipfile.ZipFile) -> None:
        self._archive = archive

    def write(self, name: str, text: str) -> None:
        """Write a file of text."""
        self._archive.writestr(_zip_info(name, method=zipfile.ZIP_DEFLATED), text.encode("utf-8"))

    def copy(self, name: str, path: Path) -> None:
        """Copy a file as it is; sound hardly packs any smaller."""
        info = _zip_info(name, method=zipfile.ZIP_STORED)
        with path.open("rb") as source, self._archive.open(info, "w", force_zip64=True) as out:
            shutil.copyfileobj(source, out, 1 << 20)


def _zip_info(name: str, *, method: int) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name, date_time=_ZIP_TIME)
    info.compress_type = method
    info.external_attr = 0o600 << 16
    return info
