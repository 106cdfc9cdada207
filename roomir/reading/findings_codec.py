"""What was found in a room as the part ``findings`` of a reading's document, and back.

The curves for pictures are left out, as evidence is; README, section "JSON",
has the meaning of each key.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from roomir.findings.findings import (
    Flutter,
    FlutterBand,
    HeardMode,
    Reflection,
    RoomFindings,
    RoomModes,
    SurfacePair,
    TwoSlopes,
)
from roomir.reading.parts import Part, PartError
from roomir.rooms.modes import BoxMode

Document = dict[str, Any]
Number = Callable[[float | None], float | None]

_TRUST = {"verdict": "indicative"}
"""Of all that claps show of a room's course there is no better one."""

_ALONG = ("length", "width", "height")


# ------------------------------------------------------------------ writing


def encode_findings(findings: RoomFindings, *, number: Number) -> Document:
    """Make the part of the document that stands for the findings, its numbers written by ``number``."""
    flutter, modes = findings.flutter, findings.modes
    return {
        "flutter": None if flutter is None else _write_flutter(flutter, number),
        "echoes": [_write_reflection(one, number) for one in findings.echoes],
        "two_slopes": [_write_slopes(one, number) for one in findings.two_slopes],
        "early_reflections": [_write_reflection(one, number) for one in findings.reflections],
        "modes": None if modes is None else _write_modes(modes, number),
    }


def _write_flutter(flutter: Flutter, number: Number) -> Document:
    return {
        "spacing_s": number(flutter.spacing_s),
        "distance_m": number(flutter.distance_m),
        "double_m": number(flutter.double_m),
        "strength_db": number(flutter.strength_db),
        "mean_strength_db": number(flutter.mean_strength_db),
        "beyond_chance": number(flutter.beyond_chance),
        "bands": [
            {
                "centre_hz": band.nominal_hz,
                "found": band.found,
                "strength_db": number(band.strength_db),
                "mean_strength_db": number(band.mean_strength_db),
                "beyond_chance": number(band.beyond_chance),
            }
            for band in flutter.bands
        ],
        "pairs": [
            {"along": pair.along, "apart_m": number(pair.apart_m), "midway": pair.midway}
            for pair in flutter.pairs
        ],
        **_TRUST,
    }


def _write_reflection(one: Reflection, number: Number) -> Document:
    return {
        "spot": one.spot,
        "take": one.take,
        "delay_s": number(one.delay_s),
        "level_db": number(one.level_db),
        "over_decay_db": number(one.over_decay_db),
        "path_difference_m": number(one.path_difference_m),
        "claps": one.claps,
        "of_claps": one.of_claps,
        **_TRUST,
    }


def _write_slopes(one: TwoSlopes, number: Number) -> Document:
    return {
        "centre_hz": one.nominal_hz,
        "first_s": number(one.first_s),
        "second_s": number(one.second_s),
        "second_level_db": number(one.second_level_db),
        "bend_s": number(one.bend_s),
        "bend_db": number(one.bend_db),
        **_TRUST,
    }


def _write_modes(modes: RoomModes, number: Number) -> Document:
    return {
        "dimensions_m": [number(side) for side in modes.dimensions_m],
        "highest_hz": number(modes.highest_hz),
        "merge_hz": number(modes.width_hz),
        "box": [_write_mode(mode, number) for mode in modes.modes],
        "heard": [
            {
                "frequency_hz": number(one.frequency_hz),
                "decay_time_s": number(one.decay_time_s),
                "level_db": number(one.level_db),
                "box": [_write_mode(mode, number) for mode in one.modes],
            }
            for one in modes.heard
        ],
        **_TRUST,
    }


def _write_mode(mode: BoxMode, number: Number) -> Document:
    return {"orders": list(mode.orders), "kind": mode.kind, "frequency_hz": number(mode.frequency_hz)}


# ------------------------------------------------------------------ reading back


def decode_findings(part: Part) -> RoomFindings:
    """Make the findings again; a `PartError` says what is wrong with them."""
    flutter, modes = part.part_or_none("flutter"), part.part_or_none("modes")
    return RoomFindings(
        flutter=None if flutter is None else _read_flutter(flutter),
        echoes=part.each("echoes", _read_reflection),
        two_slopes=part.each("two_slopes", _read_slopes),
        reflections=part.each("early_reflections", _read_reflection),
        modes=None if modes is None else _read_modes(modes),
    )


def _read_flutter(part: Part) -> Flutter:
    return Flutter(
        spacing_s=part.number("spacing_s"),
        beyond_chance=part.number("beyond_chance"),
        strength_db=part.number("strength_db"),
        mean_strength_db=part.number("mean_strength_db"),
        bands=part.each("bands", _read_flutter_band),
        distance_m=part.number("distance_m"),
        double_m=part.number("double_m"),
        pairs=part.each("pairs", _read_pair),
    )


def _read_flutter_band(part: Part) -> FlutterBand:
    return FlutterBand(
        nominal_hz=part.number("centre_hz"),
        found=part.flag("found"),
        beyond_chance=part.number("beyond_chance"),
        strength_db=part.number_or_none("strength_db"),
        mean_strength_db=part.number_or_none("mean_strength_db"),
    )


def _read_pair(part: Part) -> SurfacePair:
    return SurfacePair(
        along=part.choice("along", _ALONG), apart_m=part.number("apart_m"), midway=part.flag("midway")
    )


def _read_reflection(part: Part) -> Reflection:
    return Reflection(
        spot=part.count("spot"),
        take=part.count("take"),
        delay_s=part.number("delay_s"),
        level_db=part.number("level_db"),
        over_decay_db=part.number("over_decay_db"),
        path_difference_m=part.number("path_difference_m"),
        claps=part.count("claps"),
        of_claps=part.count("of_claps"),
    )


def _read_slopes(part: Part) -> TwoSlopes:
    return TwoSlopes(
        nominal_hz=part.number("centre_hz"),
        first_s=part.number("first_s"),
        second_s=part.number("second_s"),
        second_level_db=part.number("second_level_db"),
        bend_s=part.number("bend_s"),
        bend_db=part.number("bend_db"),
    )


def _read_modes(part: Part) -> RoomModes:
    length_m, width_m, height_m = part.numbers("dimensions_m", n=3)
    return RoomModes(
        dimensions_m=(length_m, width_m, height_m),
        highest_hz=part.number("highest_hz"),
        width_hz=part.number("merge_hz"),
        modes=part.each("box", _read_mode),
        heard=part.each("heard", _read_heard),
    )


def _read_heard(part: Part) -> HeardMode:
    return HeardMode(
        frequency_hz=part.number("frequency_hz"),
        decay_time_s=part.number("decay_time_s"),
        level_db=part.number("level_db"),
        modes=part.each("box", _read_mode),
    )


def _read_mode(part: Part) -> BoxMode:
    orders = part.counts("orders")
    if len(orders) != 3 or not any(orders):
        raise PartError(f"{part.where}.orders", what="a mode has three, not all of them 0")
    x, y, z = orders
    return BoxMode(orders=(x, y, z), frequency_hz=part.number("frequency_hz"))
