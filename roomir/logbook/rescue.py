"""Bringing out of a damaged logbook what can be: into an export that a new logbook imports.

The damaged files are only read. Rows are looked up one by one, so that a
damaged page costs what stood on it and no more; a recording that no row
knows of any more comes out under the name of its hash.
"""

from __future__ import annotations

import contextlib
import json
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from roomir.bands.band import BAND_SETS
from roomir.errors import LogbookError, ParameterError, RoomirError
from roomir.logbook.about import checked_about
from roomir.logbook.backup import refuse_existing
from roomir.logbook.export import Document, Export, Tables, readings_name, recording_name, write_export
from roomir.logbook.folder import place_of
from roomir.logbook.names import LONGEST_NAME, clean_name, clean_text
from roomir.logbook.recordings import Recordings
from roomir.logbook.salvage import Rows, as_text, rows_of
from roomir.logbook.store import nowhere
from roomir.logbook.trouble import cannot_write
from roomir.logbook.values import About
from roomir.reading.codec import decode

RESCUED = "rescued"
"""Room and stage of what belongs nowhere any more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rescued:
    """What came out.

    Attributes
    ----------
    n_takes : int
        Takes with their recordings.
    n_nameless : int
        How many of those no row knew any more.
    n_readings : int
        Readings.
    n_lost : int
        Rows of takes whose recording is missing or damaged.
    """

    n_takes: int
    n_nameless: int
    n_readings: int
    n_lost: int


def rescue(path: Path, target: Path, *, tables: Tables) -> Rescued:
    """Write whatever can be read of a logbook to a new export.

    Raises
    ------
    LogbookError
        ``nothing-to-rescue``, ``already-there`` or ``logbook-disk``.
    """
    refuse_existing(target)
    place = place_of(path)
    recordings = Recordings(place.recordings, at=nowhere)
    try:
        whole = [sha256 for sha256 in recordings.names() if _is_whole(recordings, sha256)]
        found = rows_of(place.database)
        out = _Documents(found, whole={one: recordings.path(one).stat().st_size for one in whole})
        if not out.takes and not out.rooms:
            raise LogbookError(
                f"nothing could be brought out of {place.database}: no row and no recording",
                code="nothing-to-rescue",
                remedy="check the path; a copy made by roomir logbook backup is a logbook itself",
            )
        what = Export(
            rooms=out.as_rooms(),
            readings=out.readings,
            recordings={
                take["recording"]: recordings.path(take["sha256"])
                for takes in out.takes.values()
                for take in takes
            },
        )
        n_takes = write_export(what, target, tables=tables)
    except OSError as error:
        raise cannot_write(target, error) from error
    return Rescued(
        n_takes=n_takes,
        n_nameless=out.n_nameless,
        n_readings=sum(map(len, out.readings.values())),
        n_lost=out.n_lost,
    )


def _is_whole(recordings: Recordings, sha256: str) -> bool:
    try:
        return recordings.is_whole(sha256)
    except OSError:
        return False


# ------------------------------------------------------------------ documents


class _Documents:
    """Documents made of rows of which any may be missing or wrong."""

    def __init__(self, rows: dict[str, Rows], *, whole: dict[str, int]) -> None:
        self._rows = rows
        self._whole = whole
        self.n_nameless = 0
        self.n_lost = 0
        self.rooms: dict[int, Document] = {}
        self.stages: dict[int, Document] = {}
        self._room_of: dict[int, int] = {}
        self.takes: dict[int, list[Document]] = {}
        self.readings: dict[str, list[Document]] = {}
        self._recordings = {as_text(row.get("sha256")): row for row in rows["recording"].values()}
        self._make_rooms()
        self._make_takes()

    def as_rooms(self) -> list[Document]:
        """Return every room with its stages and their takes."""
        return [
            {
                **room,
                "stages": [
                    {**stage, "takes": self.takes.get(stage_id, []), "together": None}
                    for stage_id, stage in self.stages.items()
                    if self._room_of[stage_id] == room_id
                ],
            }
            for room_id, room in self.rooms.items()
        ]

    def _make_rooms(self) -> None:
        for number, row in sorted(self._rows["room"].items()):
            if row.get("removal_id") is None:
                sides = [_number(row.get(name)) for name in ("length_m", "width_m", "height_m")]
                self.rooms[number] = {
                    "name": self._free_name(row.get("name"), kind="room", among=self.rooms),
                    "volume_m3": _number(row.get("volume_m3")),
                    "dimensions_m": None if None in sides else sides,
                    "note": _clean(row.get("note")),
                    "description": _clean(self._rows["description"].get(number, {}).get("text")),
                }
        in_order = sorted(
            self._rows["stage"].items(), key=lambda item: (_whole_number(item[1].get("place")), item[0])
        )
        for number, row in in_order:
            if row.get("removal_id") is None:
                self._add_stage(number, row)

    def _add_stage(self, number: int, row: dict[str, Any]) -> None:
        room_id = _whole_number(row.get("room_id"))
        if room_id not in self.rooms:
            room_id = self._lost_room()
        beside = {one: self.stages[one] for one in self.stages if self._room_of[one] == room_id}
        self._room_of[number] = room_id
        self.stages[number] = {
            "name": self._free_name(row.get("name"), kind="stage", among=beside),
            "date": _day(row.get("date")),
            "done": _clean(row.get("done")),
            "note": _clean(row.get("note")),
        }

    def _make_takes(self) -> None:
        by_take: dict[int, list[Document]] = {}
        for _, row in sorted(self._rows["reading"].items()):
            document = _reading(row)
            if document is not None:
                by_take.setdefault(_whole_number(row.get("take_id")), []).append(document)
        removed = set()
        for number, row in sorted(self._rows["take"].items()):
            sha256 = as_text(row.get("sha256"))
            if row.get("removal_id") is not None:
                removed.add(sha256)
            elif sha256 not in self._whole:
                self.n_lost += 1
            elif sha256 not in self.readings:
                stage_id = _whole_number(row.get("stage_id"))
                if stage_id not in self.stages:
                    stage_id = self._lost_stage()
                self._add_take(stage_id, sha256, row, by_take.get(number, []))
        for sha256 in sorted(self._whole.keys() - self.readings.keys() - removed):
            self.n_nameless += 1
            self._add_take(self._lost_stage(), sha256, {}, [])

    def _add_take(self, stage_id: int, sha256: str, row: dict[str, Any], readings: list[Document]) -> None:
        name = _clean(row.get("name")) or sha256[:12]
        recording = self._recordings.get(sha256, {})
        original = as_text(recording.get("original_sha256"))
        band_set = as_text(row.get("band_set"))
        channel = _whole_number(row.get("channel"))
        code = as_text(row.get("failure_code"))
        self.readings[sha256] = readings
        recorded_at, recorded_from = _instant(row.get("recorded_at")), as_text(row.get("recorded_at_from"))
        known = recorded_at is not None and recorded_from in ("metadata", "file date")
        self.takes.setdefault(stage_id, []).append(
            {
                "name": name,
                "sha256": sha256,
                "original_sha256": original if len(original) == len(sha256) else sha256,
                "n_bytes": self._whole[sha256],
                "places_blanked": max(_whole_number(recording.get("places_blanked")), 0),
                "recording": recording_name(sha256, name),
                "readings": readings_name(sha256),
                **_about(row),
                "recorded_at": recorded_at if known else None,
                "recorded_at_from": recorded_from if known else None,
                "logged_at": _instant(row.get("logged_at")) or datetime.fromtimestamp(0, tz=UTC).isoformat(),
                "channel": channel if channel > 0 else None,
                "band_set": band_set if band_set in BAND_SETS else "octave",
                "failure": {
                    "path": name,
                    "code": code,
                    "says": _clean(row.get("failure_says")),
                    "remedy": _clean(row.get("failure_remedy")),
                }
                if code
                else None,
            }
        )

    def _free_name(self, value: object, *, kind: str, among: dict[int, Document]) -> str:
        taken = {one["name"] for one in among.values()}
        name = _clean(value)[:LONGEST_NAME].strip() or RESCUED
        with contextlib.suppress(ParameterError):
            name = clean_name(name, kind=kind)
        n = 2
        free = name
        while free in taken:
            free, n = f"{name[: LONGEST_NAME - 8]} {n}", n + 1
        return free

    def _lost_room(self) -> int:
        if _LOST not in self.rooms:
            name = self._free_name(RESCUED, kind="room", among=self.rooms)
            self.rooms[_LOST] = {
                "name": name,
                "volume_m3": None,
                "dimensions_m": None,
                "note": "",
                "description": "",
            }
        return _LOST

    def _lost_stage(self) -> int:
        if _LOST not in self.stages:
            self._room_of[_LOST] = self._lost_room()
            self.stages[_LOST] = {"name": RESCUED, "date": None, "done": "", "note": ""}
        return _LOST


_LOST = -1
"""Number of the room and the stage that are made for what belongs nowhere."""


def _about(row: dict[str, Any]) -> Document:
    texts = {
        name: _clean(row.get(name))
        for name in ("spot", "source_position", "microphone_position", "made_with", "note")
    }
    numbers = {name: _number(row.get(name)) for name in ("temperature_c", "humidity_percent")}
    try:
        checked_about(About(**texts, **numbers))  # type: ignore[arg-type]
    except ParameterError:
        return {**texts, "spot": "", "temperature_c": None, "humidity_percent": None}
    return {**texts, **numbers}


def _reading(row: dict[str, Any]) -> Document | None:
    read_at = _instant(row.get("read_at"))
    try:
        document = json.loads(as_text(row.get("document")))
        decode(document)
    except (ValueError, RecursionError, RoomirError):
        return None
    return None if read_at is None else {"read_at": read_at, "reading": document}


def _clean(value: object) -> str:
    try:
        return clean_text(as_text(value).replace("\0", "").strip(), what="text")
    except ParameterError:
        return ""


def _number(value: object) -> float | None:
    return value if isinstance(value, float) and abs(value) < 1e9 and value == value else None


def _whole_number(value: object) -> int:
    return value if isinstance(value, int) else 0


def _instant(value: object) -> str | None:
    try:
        instant = datetime.fromisoformat(as_text(value))
    except ValueError:
        return None
    return instant.isoformat() if instant.tzinfo is not None else None


def _day(value: object) -> str | None:
    try:
        return date.fromisoformat(as_text(value)).isoformat()
    except ValueError:
        return None
