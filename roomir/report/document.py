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


def document(reading: Reading, *, room: RoomAdvice | None = None) -> Document:
    """Make the document of a reading.

    Parameters
    ----------
    reading : Reading
        With bands, or with nothing but failures.
    room : RoomAdvice, optional
        What the decay time says about a room of known size.

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
        "bass_ratio": _number(reading.bass_ratio),
        "room": None if room is None else _room(room),
    }


def to_json(reading: Reading, *, room: RoomAdvice | None = None) -> str:
    """Write the document as JSON text.

    Raises
    ------
    ValueError
        If a number is NaN or infinite, which no reading may hold.
    """
    # ASCII only: a file name of any bytes can neither break the text nor the terminal.
    return json.dumps(document(reading, room=room), allow_nan=False, ensure_ascii=True, indent=1)


def room_band_document(room_band: RoomBand) -> Document:
    """Make the part of the document that stands for one band of the room."""
    return {
        **_band(room_band.figures),
        "claps_used": room_band.claps_used,
        "effective_claps": _number(room_band.effective_claps),
        "spots": room_band.spots,
        "interval_from": room_band.interval_from,
        "u_relative": _number(room_band.u_relative),
        "u_theory_relative": _number(room_band.u_theory_relative),
        "spot_times": [_spot_time(one) for one in room_band.spot_times],
    }


def _spot_time(one: SpotTime) -> Document:
    return {
        "decay_time_s": _number(one.decay_time_s),
        "u_relative": _number(one.u_relative),
        "weight": _number(one.weight),
        "takes": list(one.takes),
    }


def _band(figures: BandFigures) -> Document:
    return {
        "centre_hz": figures.band.nominal_hz,
        "edt_s": _number(figures.edt_s),
        "t20_s": _number(figures.t20_s),
        "t30_s": _number(figures.t30_s),
        "decay_time_s": _number(figures.decay_time_s),
        "spot_ci95_s": _interval(figures.spot_ci95_s),
        "ci95_s": _interval(figures.ci95_s),
        "decay_range_db": _number(figures.decay_range_db),
        "fitted_range_db": _number(figures.fitted_range_db),
        "level_dbfs": _number(figures.level_dbfs),
        "nonlinearity_permille": _number(figures.nonlinearity_permille),
        "curvature_percent": _number(figures.curvature_percent),
        "c50_db": _number(figures.c50_db),
        "c80_db": _number(figures.c80_db),
        "d50": _number(figures.d50),
        "ts_s": _number(figures.ts_s),
        "bt": _number(figures.bt),
        "slopes": figures.slopes,
        "verdict": figures.verdict,
        "reasons": [_remark(remark) for remark in figures.reasons],
    }


def _take(take: TakeReading) -> Document:
    return {
        "path": take.path,
        "sha256": take.sha256,
        "recorded_at": take.recorded_at.isoformat() if take.recorded_at else None,
        "recorded_at_from": take.recorded_at_from,
        "sample_rate_hz": take.sample_rate_hz,
        "duration_s": _number(take.duration_s),
        "channels": take.channels,
        "concerns": [_remark(remark) for remark in take.concerns],
        "notes": [_remark(remark) for remark in take.notes],
        "claps": [_clap(clap) for clap in take.claps],
    }


def _clap(clap: ClapReading) -> Document:
    because = clap.set_aside_because
    return {
        "onset_s": _number(clap.onset_s),
        "stop_s": _number(clap.stop_s),
        "peak_dbfs": _number(clap.peak_dbfs),
        "used": clap.used,
        "set_aside_because": None if because is None else _remark(because),
        "concerns": [_remark(remark) for remark in clap.concerns],
        "bands": [_band(figures) for figures in clap.bands],
    }


def _failure(failure: Failure) -> Document:
    return {"path": failure.path, "code": failure.code, "says": failure.says, "remedy": failure.remedy}


def _mid(mid: MidFigures) -> Document:
    return {
        "decay_time_s": _number(mid.decay_time_s),
        "ci95_s": _interval(mid.ci95_s),
        "t20_s": _number(mid.t20_s),
    }


def _room(advice: RoomAdvice) -> Document:
    return {
        "volume_m3": _number(advice.volume_m3),
        "dimensions_m": None if advice.dimensions_m is None else [_number(m) for m in advice.dimensions_m],
        "decay_time_s": _number(advice.decay_time_s),
        "schroeder_hz": _number(advice.schroeder_hz),
        "reverberation_distance_m": _number(advice.reverberation_distance_m),
        "directivity_assumed": _number(advice.directivity_assumed),
        "direct_leads_within_m": _number(advice.direct_leads_within_m),
        "least_distance_m": _number(advice.least_distance_m),
        "remarks": [_remark(remark) for remark in advice.remarks],
    }


def _remark(remark: Remark) -> Document:
    return {"code": remark.code, "says": remark.says, "remedy": remark.remedy}


def _interval(interval: Interval | None) -> list[float | None] | None:
    return None if interval is None else [_number(end) for end in interval]


def _number(value: float | None) -> float | None:
    # float() also turns numpy's scalars, which json does not know, into numbers it does.
    return None if value is None else round(float(value), DECIMALS)
