"""A reading as a document for programs: the JSON contract ``roomir/reading/1``.

Keys stand in the order of the contract and are never left out; what is
withheld is ``None``. README, section "JSON", has the meaning of each.
"""

from __future__ import annotations

import json

from roomir.reading.codec import SCHEMA, Document, encode, encode_remark, encode_room_band
from roomir.reading.reading import Interval, Reading, RoomBand
from roomir.remarks import Remark
from roomir.report.room import RoomAdvice

__all__ = [
    "DECIMALS",
    "SCHEMA",
    "Document",
    "as_json_text",
    "document",
    "interval",
    "number",
    "remark_document",
    "room_band_document",
    "to_json",
]

DECIMALS = 6
"""A microsecond or a millionth: finer than any sound supports, coarse enough to read."""


def document(reading: Reading, *, room: RoomAdvice | None = None, target: Document | None = None) -> Document:
    """Make the document of a reading.

    Parameters
    ----------
    reading : Reading
        With bands, or with nothing but failures.
    room : RoomAdvice, optional
        What the decay time says about a room of known size.
    target : dict, optional
        How the reading stands against a target (`roomir.report.aims.aim_document`).

    Returns
    -------
    dict
        Plain dicts, lists, strings, numbers, booleans and ``None``.
    """
    return {
        **encode(reading, decimals=DECIMALS),
        "room": None if room is None else _room(room),
        "target": target,
    }


def to_json(reading: Reading, *, room: RoomAdvice | None = None, target: Document | None = None) -> str:
    """Write the document as JSON text.

    Raises
    ------
    ValueError
        If a number is NaN or infinite, which no reading may hold.
    """
    return as_json_text(document(reading, room=room, target=target))


def as_json_text(found: Document) -> str:
    """Write any document as JSON text; a number that is NaN or infinite is a ``ValueError``."""
    # ASCII only: a file name of any bytes can neither break the text nor the terminal.
    return json.dumps(found, allow_nan=False, ensure_ascii=True, indent=1)


def remark_document(remark: Remark) -> Document:
    """Make the part of a document that stands for a remark."""
    return encode_remark(remark)


def interval(ends: Interval | None) -> list[float | None] | None:
    """Write both ends of an interval."""
    return None if ends is None else [number(end) for end in ends]


def room_band_document(room_band: RoomBand) -> Document:
    """Make the part of the document that stands for one band of the room."""
    return encode_room_band(room_band, decimals=DECIMALS)


def _room(advice: RoomAdvice) -> Document:
    return {
        "volume_m3": number(advice.volume_m3),
        "dimensions_m": None if advice.dimensions_m is None else [number(m) for m in advice.dimensions_m],
        "decay_time_s": number(advice.decay_time_s),
        "schroeder_hz": number(advice.schroeder_hz),
        "reverberation_distance_m": number(advice.reverberation_distance_m),
        "directivity_assumed": number(advice.directivity_assumed),
        "direct_leads_within_m": number(advice.direct_leads_within_m),
        "least_distance_m": number(advice.least_distance_m),
        "remarks": [encode_remark(remark) for remark in advice.remarks],
    }


def number(value: float | None) -> float | None:
    """Round a number to what a document keeps."""
    return None if value is None else round(float(value), DECIMALS)
