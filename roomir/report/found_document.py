"""What was found in a room, as the part ``findings`` of the document of a reading."""

from __future__ import annotations

from typing import Any

from roomir.findings.findings import Flutter, Reflection, RoomFindings, RoomModes, TwoSlopes
from roomir.rooms.modes import BoxMode

DECIMALS = 6
Document = dict[str, Any]


def findings_document(findings: RoomFindings) -> Document:
    """Make the document; README, section "JSON", has the meaning of each key."""
    flutter, modes = findings.flutter, findings.modes
    return {
        "flutter": None if flutter is None else _flutter(flutter),
        "echoes": [_reflection(one) for one in findings.echoes],
        "two_slopes": [_two_slopes(one) for one in findings.two_slopes],
        "early_reflections": [_reflection(one) for one in findings.reflections],
        "modes": None if modes is None else _modes(modes),
    }


def _flutter(flutter: Flutter) -> Document:
    return {
        "spacing_s": _number(flutter.spacing_s),
        "distance_m": _number(flutter.distance_m),
        "double_m": _number(flutter.double_m),
        "strength_db": _number(flutter.strength_db),
        "mean_strength_db": _number(flutter.mean_strength_db),
        "beyond_chance": _number(flutter.beyond_chance),
        "bands": [
            {
                "centre_hz": band.nominal_hz,
                "found": band.found,
                "strength_db": _number(band.strength_db),
                "mean_strength_db": _number(band.mean_strength_db),
                "beyond_chance": _number(band.beyond_chance),
            }
            for band in flutter.bands
        ],
        "pairs": [
            {"along": pair.along, "apart_m": _number(pair.apart_m), "midway": pair.midway}
            for pair in flutter.pairs
        ],
        "verdict": "indicative",
    }


def _reflection(one: Reflection) -> Document:
    return {
        "spot": one.spot + 1,
        "take": one.take,
        "delay_s": _number(one.delay_s),
        "level_db": _number(one.level_db),
        "over_decay_db": _number(one.over_decay_db),
        "path_difference_m": _number(one.path_difference_m),
        "claps": one.claps,
        "of_claps": one.of_claps,
        "verdict": "indicative",
    }


def _two_slopes(one: TwoSlopes) -> Document:
    return {
        "centre_hz": one.nominal_hz,
        "first_s": _number(one.first_s),
        "second_s": _number(one.second_s),
        "second_level_db": _number(one.second_level_db),
        "bend_s": _number(one.bend_s),
        "bend_db": _number(one.bend_db),
        "verdict": "indicative",
    }


def _modes(modes: RoomModes) -> Document:
    return {
        "dimensions_m": [_number(side) for side in modes.dimensions_m],
        "highest_hz": _number(modes.highest_hz),
        "merge_hz": _number(modes.width_hz),
        "box": [_mode(mode) for mode in modes.modes],
        "heard": [
            {
                "frequency_hz": _number(one.frequency_hz),
                "decay_time_s": _number(one.decay_time_s),
                "level_db": _number(one.level_db),
                "box": [_mode(mode) for mode in one.modes],
            }
            for one in modes.heard
        ],
        "verdict": "indicative",
    }


def _mode(mode: BoxMode) -> Document:
    return {"orders": list(mode.orders), "kind": mode.kind, "frequency_hz": _number(mode.frequency_hz)}


def _number(value: float | None) -> float | None:
    return None if value is None else round(float(value), DECIMALS)
