"""Readings made by hand, so that what is shown can be tested without any sound. All values are invented."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import UTC, datetime
from typing import Any

from roomir.bands.band import OCTAVES, Band
from roomir.reading.reading import (
    BandFigures,
    ClapReading,
    Failure,
    MidFigures,
    Reading,
    RoomBand,
    TakeReading,
)
from roomir.remarks import Remark

BANDS = {band.nominal_hz: band for band in OCTAVES}

SHORT_RANGE = Remark(
    code="short-range",
    says="at 125 Hz the decay is visible for 22 dB, T20 needs 35",
    remedy="switch the heater off, move closer, or pop a balloon",
)
NO_RANGE = Remark(
    code="no-range", says="at 63 Hz the decay does not stand clear of the background", remedy="pop a balloon"
)
SPEECH = Remark(code="sounds-like-speech", says="it swells and lasts like a voice", remedy="keep silent")
CLIPPED = Remark(
    code="clipped", says="three claps go over full scale", remedy="hold the phone farther from the clap"
)


def figures(band: Band, **changes: Any) -> BandFigures:
    made = BandFigures(
        band=band,
        edt_s=0.9,
        t20_s=0.874,
        t30_s=0.881,
        decay_time_s=0.8812,
        spot_ci95_s=(0.861, 0.902),
        ci95_s=(0.8447, 0.9172),
        decay_range_db=52.04,
        fitted_range_db=50.0,
        nonlinearity_permille=2.1,
        curvature_percent=0.8,
        c50_db=3.04,
        c80_db=6.91,
        d50=0.668,
        ts_s=0.0638,
        bt=0.7 * band.exact_hz * 0.88,
        slopes=1,
        verdict="reliable",
    )
    return replace(made, **changes)


def room_band(
    nominal_hz: float, *, spots: int = 5, interval_from: str | None = "scatter", **changes: Any
) -> RoomBand:
    return RoomBand(
        figures=figures(BANDS[nominal_hz], **changes),
        claps_used=5 * spots,
        effective_claps=4.6 * spots,
        spots=spots,
        interval_from=interval_from,
    )


def indicative_band(nominal_hz: float = 125.0, **changes: Any) -> RoomBand:
    indicative = {
        **dict.fromkeys(("t20_s", "t30_s", "curvature_percent")),
        "decay_time_s": 0.93,
        "ci95_s": (0.78, 1.08),
        "decay_range_db": 22.0,
        "verdict": "indicative",
        "reasons": (SHORT_RANGE,),
    }
    return room_band(nominal_hz, **(indicative | changes))


def unusable_band(nominal_hz: float = 63.0, **changes: Any) -> RoomBand:
    kept = {"band", "verdict", "reasons"}
    withheld = dict.fromkeys(one.name for one in fields(BandFigures) if one.name not in kept)
    withheld |= {"interval_from": None, "verdict": "unusable", "reasons": (NO_RANGE,)}
    return room_band(nominal_hz, **(withheld | changes))


def take(path: str = "dairy spot 1.m4a", **changes: Any) -> TakeReading:
    made = TakeReading(
        path=path,
        sha256="0" * 64,
        recorded_at=datetime(2024, 5, 3, 18, 30, tzinfo=UTC),
        recorded_at_from="metadata",
        sample_rate_hz=48000,
        duration_s=16.5,
        channels=1,
        concerns=(),
        notes=(),
        claps=(
            ClapReading(
                onset_s=1.516,
                stop_s=4.0,
                peak_dbfs=-3.2,
                set_aside_because=None,
                bands=tuple(figures(band, ci95_s=None) for band in OCTAVES),
            ),
            ClapReading(onset_s=6.25, stop_s=7.0, peak_dbfs=-20.0, set_aside_because=SPEECH),
        ),
    )
    return replace(made, **changes)


def reading(**changes: Any) -> Reading:
    """Five spots: 63 Hz unusable, 125 Hz indicative, the rest reliable."""
    made = Reading(
        roomir_version="0.1.0",
        band_set="octave",
        takes=tuple(take(f"dairy spot {i}.m4a") for i in range(1, 6)),
        failures=(),
        bands=(
            unusable_band(),
            indicative_band(),
            *(room_band(hz) for hz in (250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0)),
        ),
        mid=MidFigures(decay_time_s=0.8812, ci95_s=(0.8447, 0.9172), t20_s=0.874),
        bass_ratio=1.027,
    )
    return replace(made, **changes)


def failure(path: str = "kitchen.wav") -> Failure:
    return Failure(path=path, code="not-sound", says=f"{path} holds no sound", remedy="record it again")


def nothing_read(*failures: Failure) -> Reading:
    return reading(takes=(), failures=failures or (failure(),), bands=(), mid=MidFigures(), bass_ratio=None)
