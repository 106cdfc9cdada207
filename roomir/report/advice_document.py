"""Advice and guide as documents for programs: the JSON contract ``roomir/advice/1``."""

from __future__ import annotations

import json
from typing import Any

from roomir.report.document import DECIMALS, Document, document
from roomir.report.guide import Guide
from roomir.report.next_take import BandOutlook, Outlook
from roomir.report.room import RoomAdvice
from roomir.report.suggestion import Suggestion
from roomir.report.suggestions import Advice
from roomir.rooms.places import Places

SCHEMA = "roomir/advice/1"
"""Name and version of the contract."""


def advice_document(
    advice: Advice | Guide, *, room: RoomAdvice | None = None, floor: Places | None = None
) -> Document:
    """Make the document of advice, or of the guide before the first take.

    Returns
    -------
    dict
        The same keys for both; what a guide cannot know is ``None`` or empty.
    """
    guide = advice if isinstance(advice, Guide) else None
    known = None if isinstance(advice, Guide) else advice
    reading = None if known is None else document(known.reading, room=room)
    outlook = None if known is None else known.outlook
    return {
        "schema": SCHEMA,
        "guide": [] if guide is None else [{"heading": h, "lines": list(t)} for h, t in guide.sections],
        "takes": [] if reading is None else [take["path"] for take in reading["takes"]],
        "failures": [] if reading is None else reading["failures"],
        "mid": None if reading is None else reading["mid"],
        "steps": [] if known is None else [_step(step) for step in known.suggestions],
        "spots": None if outlook is None else _spots(outlook),
        "claps": None if outlook is None else _claps(outlook),
        "background": None if outlook is None else _background(outlook),
        "bands": [] if outlook is None else [_band(band) for band in outlook.bands],
        "room": None if reading is None else reading["room"],
        "places_m": None if floor is None else [[_number(x), _number(y)] for x, y in floor.at_m],
    }


def advice_json(
    advice: Advice | Guide, *, room: RoomAdvice | None = None, floor: Places | None = None
) -> str:
    """Write the document as JSON text."""
    made = advice_document(advice, room=room, floor=floor)
    return json.dumps(made, allow_nan=False, ensure_ascii=True, indent=1)


def _step(step: Suggestion) -> Document:
    return {
        "code": step.code,
        "do": step.do,
        "why": step.why,
        "buys": step.buys,
        "bands_hz": list(step.bands_hz),
        "worth": _number(step.worth),
    }


def _spots(outlook: Outlook) -> Document | None:
    spots = outlook.spots
    if spots is None:
        return None
    return {
        "used": spots.used,
        "half_width_percent": _number(100.0 * spots.half_width),
        "interval_from": spots.interval_from,
        "needed_for_5_percent": spots.needed,
    }


def _claps(outlook: Outlook) -> Document:
    return {
        "peak_dbfs": _number(outlook.peak_dbfs),
        "per_spot": _number(outlook.claps_per_spot),
        "free_s": _number(outlook.free_s),
        "needed_s": _number(outlook.needed_s),
        "crowded": outlook.crowded,
    }


def _background(outlook: Outlook) -> Document | None:
    background = outlook.background
    if background is None:
        return None
    return {
        "heard_s": _number(background.heard_s),
        "mains_hz": _number(background.mains_hz),
        "tones_hz": [_number(tone) for tone in background.tones_hz],
    }


def _band(band: BandOutlook) -> Document:
    noise = band.noise
    return {
        "centre_hz": band.band.nominal_hz,
        "verdict": band.verdict,
        "decay_range_db": _number(band.seen_db),
        "missing_to_35_db": _number(band.missing_db(35.0)),
        "missing_to_45_db": _number(band.missing_db(45.0)),
        "reach": band.reach,
        "background": None if noise is None else {
            "level_dbfs": _number(noise.level_dbfs),
            "kind": noise.kind,
            "hum_share": _number(noise.hum_share),
            "tone_share": _number(noise.tone_share),
            "without_hum_db": _number(noise.without_hum_db),
            "slope_db_per_octave": _number(noise.slope_db_per_octave),
            "swing_db": _number(noise.swing_db),
        },
    }  # fmt: skip


def _number(value: Any) -> float | None:  # noqa: ANN401 - numpy's scalars as well
    return None if value is None else round(float(value), DECIMALS)
