"""A prediction as text and as the document ``roomir/prediction/1``."""

from __future__ import annotations

from collections.abc import Iterator

from roomir.report.planning.tables import (
    Document,
    dumped,
    named,
    number,
    numbers,
    remark_documents,
    remark_lines,
    table_lines,
    time_cell,
)
from roomir.report.rounding import significant
from roomir.report.text import wrapped
from roomir.report.unit_system import METRIC, UnitSystem
from roomir.report.wording import band_name, joined, printable
from roomir.rooms.modes import BoxMode, box_modes
from roomir.rooms.prediction import PredictedBand, Prediction
from roomir.rooms.statistics import direct_to_reverberant_db, sound_speed_m_per_s

SCHEMA = "roomir/prediction/1"

MOST_MODES = 20
"""More are no list that anybody reads."""

DISTANCES_M = (0.15, 0.3, 0.6, 1.0, 2.0, 4.0)
"""From a hand-held microphone to the far end of a small room. [m]"""

DIRECTIVITIES = (1.0, 2.0, 5.0)
"""All directions alike; a voice from its front; a cardioid microphone on a voice (2.5 to 3 times Q, common
practice, no source)."""


def prediction_document(prediction: Prediction) -> Document:
    """Make the document of a prediction."""
    return {
        "schema": SCHEMA,
        "name": prediction.room.name,
        "stage": prediction.room.stage or None,
        "volume_m3": number(prediction.room.volume_m3),
        "surface_m2": number(prediction.room.surface_m2),
        "temperature_c": number(prediction.room.temperature_c),
        "humidity_percent": number(prediction.room.humidity_percent),
        "schroeder_hz": number(prediction.schroeder_hz),
        "reverberation_distance_m": number(prediction.reverberation_distance_m),
        "method": prediction.method,
        "because": prediction.because,
        "learnt_from": list(prediction.learnt_from),
        "bands": [_band(band, method=prediction.method) for band in prediction.bands],
        "modes": [
            {"frequency_hz": number(mode.frequency_hz), "orders": list(mode.orders), "kind": mode.kind}
            for mode in lowest_modes(prediction)
        ],
        "direct_to_reverberant": [
            {"distance_m": distance_m, "directivity": directivity, "level_db": number(level_db)}
            for distance_m, directivity, level_db in balances(prediction)
        ],
        "remarks": remark_documents(prediction.remarks),
    }


def prediction_json(prediction: Prediction) -> str:
    """Write the document as JSON text."""
    return dumped(prediction_document(prediction))


def _band(band: PredictedBand, *, method: str) -> Document:
    return {
        "centre_hz": band.band.nominal_hz,
        "sabine_s": number(band.sabine_s),
        "eyring_s": number(band.eyring_s),
        "millington_s": number(band.millington_s),
        "fitzroy_s": number(band.fitzroy_s),
        "arau_puchades_s": number(band.arau_puchades_s),
        "best_s": number(band.best_s),
        "method": method,
        "ci95_s": numbers(band.ci95_s),
        "absorption_area_m2": number(band.absorption_area_m2),
        "air_area_m2": number(band.air_area_m2),
    }


def balances(prediction: Prediction) -> list[tuple[float, float, float]]:
    """Direct over reverberant sound for distances and directivities: (distance [m], Q, level [dB])."""
    one_m = prediction.reverberation_distance_m
    if one_m is None:
        return []
    return [
        (
            distance_m,
            directivity,
            direct_to_reverberant_db(
                distance_m=distance_m, reverberation_distance_m=one_m * directivity**0.5
            ),
        )
        for distance_m in DISTANCES_M
        for directivity in DIRECTIVITIES
    ]


def lowest_modes(prediction: Prediction) -> tuple[BoxMode, ...]:
    """List the lowest modes of a box of known size, below the Schroeder frequency; none of other rooms."""
    room, top_hz = prediction.room, prediction.schroeder_hz
    if room.dimensions_m is None or top_hz is None:
        return ()
    sound_speed = sound_speed_m_per_s(temperature_c=room.temperature_c)
    # A mode every half wave of the longest side: so many are there at least up to this frequency.
    highest_hz = min(top_hz, sound_speed / 2.0 / max(room.dimensions_m) * MOST_MODES)
    return box_modes(room.dimensions_m, sound_speed=sound_speed, highest_hz=highest_hz)[:MOST_MODES]


def prediction_text(prediction: Prediction, *, units: UnitSystem = METRIC) -> str:
    """Lay a prediction out for a terminal."""
    return "\n".join(_lines(prediction, units)) + "\n"


def _lines(prediction: Prediction, units: UnitSystem) -> Iterator[str]:
    room = prediction.room
    size = f"{significant(room.volume_m3 * units.volume_per_m3, digits=3)} {units.volume}"
    mids = [band for band in prediction.bands if band.band.nominal_hz in (500, 1000) and band.best_s]
    if len(mids) == 2:
        mean_s = sum(band.best_s or 0.0 for band in mids) / 2.0
        ends = [sum((band.ci95_s or (0.0, 0.0))[k] for band in mids) / 2.0 for k in (0, 1)]
        rings = f"will ring for {time_cell(mean_s, (ends[0], ends[1]))} s at mid frequencies"
    else:
        rings = "has no decay time at mid frequencies"
    yield from wrapped(f"{named(room)}, {size}: {rings}.")
    if prediction.learnt_from:
        names = joined([printable(one) for one in prediction.learnt_from])
        yield from wrapped(
            f"Corrected by what the room has shown: {names}. The five formulas beside it take the corrected"
            " materials."
        )
    else:
        yield from wrapped(f"{prediction.method} applies to all bands: {prediction.because}.")
    yield ""
    heads = ("Band", "Decay time s", "Sabine", "Eyring", "Mill.", "Fitz.", "Arau", "A", "Air")
    yield from table_lines(heads, [_row(band, units) for band in prediction.bands])
    yield ""
    yield from wrapped(
        "In brackets: 95 % interval from the spread of the materials and of the formula. Five formulas:"
        " Sabine, Norris-Eyring, Millington-Sette, Fitzroy, Arau-Puchades."
        f" A: absorption area of surfaces and furnishings; Air: what the air adds ({units.absorption})."
    )
    if prediction.schroeder_hz is not None and prediction.reverberation_distance_m is not None:
        yield from wrapped(
            f"Statistics hold above {significant(prediction.schroeder_hz, digits=2)} Hz"
            " (Schroeder frequency)."
            " Direct and reverberant sound are equally strong"
            f" {_length(prediction.reverberation_distance_m, units)} from a source that radiates"
            " alike in all directions."
        )
        yield ""
        yield from _balance_table(prediction, units)
    if modes := lowest_modes(prediction)[:8]:
        yield ""
        tones = ", ".join(f"{mode.frequency_hz:.0f} ({mode.kind})" for mode in modes)
        yield from wrapped(f"The room's lowest modes in Hz: {tones}.")
    if prediction.remarks:
        yield ""
        yield from remark_lines(prediction.remarks)


def _row(band: PredictedBand, units: UnitSystem) -> tuple[str, ...]:
    return (
        band_name(band.band.nominal_hz),
        time_cell(band.best_s, band.ci95_s),
        *(
            significant(value, digits=3)
            for value in (
                band.sabine_s,
                band.eyring_s,
                band.millington_s,
                band.fitzroy_s,
                band.arau_puchades_s,
            )
        ),
        significant(band.absorption_area_m2 * units.area_per_m2, digits=3),
        significant(band.air_area_m2 * units.area_per_m2, digits=2),
    )


def _length(length_m: float, units: UnitSystem) -> str:
    return f"{significant(length_m * units.length_per_m, digits=2)} {units.length}"


def _balance_table(prediction: Prediction, units: UnitSystem) -> Iterator[str]:
    levels = {(distance_m, q): level_db for distance_m, q, level_db in balances(prediction)}
    distances = (significant(m * units.length_per_m, digits=2) for m in DISTANCES_M)
    heads = (f"Direct over reverberant, dB, at {units.length}", *distances)
    words = {
        1.0: "all directions alike",
        2.0: "voice or instrument from its front",
        5.0: "the same into a cardioid",
    }
    rows = [
        (f"  {words[q]} (Q {q:g})", *(f"{levels[m, q]:+.0f}" for m in DISTANCES_M)) for q in DIRECTIVITIES
    ]
    yield from table_lines(heads, rows)
