"""What is kept, as documents for programs."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from roomir.logbook.values import LogResult, MidTime, Room, RoomSummary, StageSummary, Take
from roomir.reading.codec import encode_failure
from roomir.reading.reading import Reading
from roomir.report.document import DECIMALS, Document, document

LOG_SCHEMA = "roomir/log/1"
"""What ``roomir log --json`` prints."""

ROOMS_SCHEMA = "roomir/rooms/1"
"""What ``roomir logbook list --json`` and ``show --json`` print."""


def as_json(what: Document) -> str:
    """Write a document as JSON text: ASCII only, since names may hold anything."""
    return json.dumps(what, allow_nan=False, ensure_ascii=True, indent=1)


def log_document(result: LogResult) -> Document:
    """Make the document of what became of files that were logged."""
    return {
        "schema": LOG_SCHEMA,
        "room": result.room,
        "stage": result.stage,
        "takes": [
            {
                "name": one.name,
                "outcome": one.outcome,
                "take": None if one.take is None else take_document(one.take),
                "reading": _reading(one.reading),
                "failure": None if one.failure is None else encode_failure(one.failure),
            }
            for one in result.takes
        ],
        "together": _reading(result.together),
    }


def rooms_document(
    rooms: Sequence[RoomSummary],
    *,
    takes: Sequence[Take] | None = None,
    together: dict[int, Reading] | None = None,
) -> Document:
    """Make the document of rooms with their stages.

    Parameters
    ----------
    rooms : sequence of RoomSummary
        What to tell of.
    takes : sequence of Take, optional
        Their takes; without it there are only counts.
    together : dict of int to Reading, optional
        By the stage's row, the reading of all its takes together.
    """
    return {
        "schema": ROOMS_SCHEMA,
        "rooms": [
            {**room_document(one.room), "stages": [_stage(stage, takes, together) for stage in one.stages]}
            for one in rooms
        ],
    }


def room_document(room: Room) -> Document:
    """Make the part of a document that stands for a room."""
    return {
        "name": room.name,
        "volume_m3": _number(room.volume_m3),
        "dimensions_m": None if room.dimensions_m is None else [_number(side) for side in room.dimensions_m],
        "note": room.note,
    }


def take_document(take: Take) -> Document:
    """Make the part of a document that stands for a take."""
    about = take.about
    return {
        "number": take.id,
        "room": take.room,
        "stage": take.stage,
        "name": take.name,
        "sha256": take.sha256,
        "original_sha256": take.original_sha256,
        "spot": about.spot,
        "source_position": about.source_position,
        "microphone_position": about.microphone_position,
        "made_with": about.made_with,
        "temperature_c": about.temperature_c,
        "humidity_percent": about.humidity_percent,
        "note": about.note,
        "recorded_at": _instant(take.recorded_at),
        "recorded_at_from": take.recorded_at_from,
        "logged_at": _instant(take.logged_at),
        "channel": take.channel,
        "band_set": take.band_set,
        "roomir_version": take.roomir_version,
        "mid": _mid(take.mid),
        "failure": None if take.failure is None else encode_failure(take.failure),
    }


def _stage(
    summary: StageSummary, takes: Sequence[Take] | None, together: dict[int, Reading] | None
) -> Document:
    stage = summary.stage
    made: dict[str, Any] = {
        "name": stage.name,
        "date": None if stage.date is None else stage.date.isoformat(),
        "done": stage.done,
        "note": stage.note,
        "n_takes": summary.n_takes,
        "n_without_reading": summary.n_failed,
        "first_recorded_at": _instant(summary.first_recorded_at),
        "last_recorded_at": _instant(summary.last_recorded_at),
        "spots": summary.spots,
        "mid": _mid(summary.mid),
    }
    if takes is not None:
        made["takes"] = [
            take_document(take) for take in takes if (take.room, take.stage) == (stage.room, stage.name)
        ]
    if together is not None:
        made["reading"] = _reading(together.get(stage.id))
    return made


def _mid(mid: MidTime | None) -> Document | None:
    if mid is None:
        return None
    ends = mid.ci95_s
    return {
        "decay_time_s": _number(mid.decay_time_s),
        "ci95_s": None if ends is None else [_number(end) for end in ends],
        "verdict": mid.verdict,
    }


def _reading(reading: Reading | None) -> Document | None:
    return None if reading is None else document(reading)


def _number(value: float | None) -> float | None:
    return None if value is None else round(value, DECIMALS)


def _instant(instant: datetime | None) -> str | None:
    return None if instant is None else instant.isoformat()
