"""A reading as a document for programs: the JSON contract ``roomir/reading/1``.

Keys stand in the order of the contract and are never left out; what is
withheld is ``None``. README, section "JSON", has the meaning of each.
"""

from __future__ import annotations

import json
from typing import Any

from roomir.reading.reading import (
    BandFigures,
    ClapReading,
    Failure,
    Interval,
    MidFigures,
    Reading,
    RoomBand,
    SpotTime,
    TakeReading,
)
from roomir.remarks import Remark
from roomir.report.room import RoomAdvice

SCHEMA = "roomir/reading/1"
"""Name and version of the contract."""

DECIMALS = 6
"""A microsecond or a millionth: finer than any sound supports, coarse enough to read."""

Document = dict[str, Any]


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
        "schema": SCHEMA,
        "roomir_version": reading.roomir_version,
        "band_set": reading.band_set,
        "takes": [_take(take) for take in reading.takes],
        "failures": [_failure(failure) for failure in reading.failures],
        "bands": [room_band_document(room_band) for room_band in reading.bands],
        "mid": _mid(reading.mid),
        "bass_ratio": number(reading.bass_ratio),
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


def room_band_document(room_band: RoomBand) -> Document:
    """Make the part of the document that stands for one band of the room."""
    return {
        **_band(room_band.figures),
        "claps_used": room_band.claps_used,
        "effective_claps": number(room_band.effective_claps),
        "spots": room_band.spots,
        "interval_from": room_band.interval_from,
        "u_relative": number(room_band.u_relative),
        "u_theory_relative": number(room_band.u_theory_relative),
        "spot_times": [_spot_time(one) for one in room_band.spot_times],
    }


def _spot_time(one: SpotTime) -> Document:
    return {
        "decay_time_s": number(one.decay_time_s),
        "u_relative": number(one.u_relative),
        "weight": number(one.weight),
        "takes": list(one.takes),
    }


def _band(figures: BandFigures) -> Document:
    return {
        "centre_hz": figures.band.nominal_hz,
        "edt_s": number(figures.edt_s),
        "t20_s": number(figures.t20_s),
        "t30_s": number(figures.t30_s),
        "decay_time_s": number(figures.decay_time_s),
        "spot_ci95_s": interval(figures.spot_ci95_s),
        "ci95_s": interval(figures.ci95_s),
        "decay_range_db": number(figures.decay_range_db),
        "fitted_range_db": number(figures.fitted_range_db),
        "level_dbfs": number(figures.level_dbfs),
        "nonlinearity_permille": number(figures.nonlinearity_permille),
        "curvature_percent": number(figures.curvature_percent),
        "c50_db": number(figures.c50_db),
        "c80_db": number(figures.c80_db),
        "d50": number(figures.d50),
        "ts_s": number(figures.ts_s),
        "bt": number(figures.bt),
        "slopes": figures.slopes,
        "verdict": figures.verdict,
        "reasons": [remark_document(remark) for remark in figures.reasons],
    }


def _take(take: TakeReading) -> Document:
    return {
        "path": take.path,
        "sha256": take.sha256,
        "recorded_at": take.recorded_at.isoformat() if take.recorded_at else None,
        "recorded_at_from": take.recorded_at_from,
        "sample_rate_hz": take.sample_rate_hz,
        "duration_s": number(take.duration_s),
        "channels": take.channels,
        "concerns": [remark_document(remark) for remark in take.concerns],
        "notes": [remark_document(remark) for remark in take.notes],
        "claps": [_clap(clap) for clap in take.claps],
    }


def _clap(clap: ClapReading) -> Document:
    because = clap.set_aside_because
    return {
        "onset_s": number(clap.onset_s),
        "stop_s": number(clap.stop_s),
        "peak_dbfs": number(clap.peak_dbfs),
        "used": clap.used,
        "set_aside_because": None if because is None else remark_document(because),
        "concerns": [remark_document(remark) for remark in clap.concerns],
        "bands": [_band(figures) for figures in clap.bands],
    }


def _failure(failure: Failure) -> Document:
    return {"path": failure.path, "code": failure.code, "says": failure.says, "remedy": failure.remedy}


def _mid(mid: MidFigures) -> Document:
    return {
        "decay_time_s": number(mid.decay_time_s),
        "ci95_s": interval(mid.ci95_s),
        "t20_s": number(mid.t20_s),
    }


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
        "remarks": [remark_document(remark) for remark in advice.remarks],
    }


def remark_document(remark: Remark) -> Document:
    """Make the part of a document that stands for a remark."""
    return {"code": remark.code, "says": remark.says, "remedy": remark.remedy}


def interval(ends: Interval | None) -> list[float | None] | None:
    """Write both ends of an interval."""
    return None if ends is None else [number(end) for end in ends]


def number(value: float | None) -> float | None:
    """Round a number to what a document keeps."""
    # float() also turns numpy's scalars, which json does not know, into numbers it does.
    return None if value is None else round(float(value), DECIMALS)
