"""What else a decay shows, in words: flutter, echoes, two slopes, reflections, modes."""

from __future__ import annotations

from roomir.findings.findings import Flutter, HeardMode, Reflection, RoomFindings, RoomModes, TwoSlopes
from roomir.report.rounding import decimals_without_interval, rounded, significant
from roomir.report.wording import band_name, counted, joined
from roomir.rooms.modes import merged

INDICATIVE = "All of this is indicative: no two claps sound alike, and none radiates alike in all directions."

DEEPEST_BEND_DB = 40.0
"""Farther down nobody hears that a decay bends; the details have it all the same. [dB]"""

_MOST_NAMED = 3
_LASTS_DB = 3.0

_SURFACES = {
    "length": "the walls at the ends of its length",
    "width": "the walls at the ends of its width",
    "height": "floor and ceiling",
}


def finding_lines(findings: RoomFindings, *, spots: int) -> tuple[str, ...]:
    """Say what was found in a few sentences.

    Parameters
    ----------
    findings : RoomFindings
        Of one reading.
    spots : int
        How many spots the reading has: one alone needs no number.

    Returns
    -------
    tuple of str
        Empty where nothing was.
    """
    lines = []
    if findings.flutter is not None:
        lines.append(_flutter(findings.flutter))
    lines += [_echo(echo, spots=spots) for echo in findings.echoes]
    bent = tuple(one for one in findings.two_slopes if one.bend_db <= DEEPEST_BEND_DB)
    if bent:
        lines.append(_two_slopes(bent, flutter=findings.flutter))
    if findings.reflections:
        lines.append(_reflections(findings.reflections, spots=spots))
    if findings.modes is not None:
        lines.append(_modes(findings.modes))
    return tuple(lines)


def finding_details(findings: RoomFindings, *, spots: int) -> tuple[str, ...]:
    """Say it band by band, reflection by reflection and tone by tone."""
    lines = []
    if findings.flutter is not None:
        bands = [
            f"{band_name(band.nominal_hz)} {_decibels(band.strength_db)}"
            if band.strength_db is not None
            else f"{band_name(band.nominal_hz)} not found"
            for band in findings.flutter.bands
        ]
        lines.append(f"Flutter, energy of the echoes over the diffuse decay: {', '.join(bands)}.")
    lines += [
        (
            f"{band_name(one.nominal_hz)}: {_seconds(one.first_s)} s, and {_seconds(one.second_s)} s from"
            f" {rounded(one.bend_db, decimals=0)} dB down ({rounded(1e3 * one.bend_s, decimals=0)} ms)"
            f" on; the second begins {_decibels(one.second_level_db)} re the first."
        )
        for one in findings.two_slopes
    ]
    for spot in sorted({one.spot for one in findings.reflections}):
        those = [
            f"{rounded(1e3 * one.delay_s, decimals=1)} ms {_decibels(one.level_db)}"
            f" ({significant(one.path_difference_m, digits=2)} m)"
            for one in findings.reflections
            if one.spot == spot
        ]
        where = f"Spot {spot + 1}, early" if spots > 1 else "Early"
        lines.append(f"{where} reflections after the direct sound (longer way): {', '.join(those)}.")
    if findings.modes is not None:
        lines += [_tone(one) for one in findings.modes.heard]
    return tuple(lines)


def _flutter(flutter: Flutter) -> str:
    shown = [band.nominal_hz for band in flutter.bands if band.found]
    where = f"at {band_name(shown[0])}"
    if len(shown) > 1:
        where = f"from {band_name(shown[0])} to {band_name(shown[-1])}"
    fits = ""
    sure = [pair for pair in flutter.pairs if not pair.midway] or list(flutter.pairs)
    if sure:
        named = joined(f"{_SURFACES[pair.along]} ({pair.apart_m:g} m)" for pair in sure)
        fits = f" It fits {named}."
    lasting = ""
    if flutter.mean_strength_db > flutter.strength_db + _LASTS_DB:
        lasting = f" as a whole, {_decibels(flutter.mean_strength_db)} later on: it outlasts the rest"
    return (
        f"Flutter echo every {significant(1e3 * flutter.spacing_s, digits=3)} ms {where}, its energy"
        f" {_decibels(flutter.strength_db)} re the diffuse decay{lasting}. It comes from"
        f" bare surfaces"
        f" {significant(flutter.distance_m, digits=2)} m apart, or"
        f" {significant(flutter.double_m, digits=2)} m if clap and phone were midway between them."
        f"{fits} Cover or break up one of the two."
    )


def _echo(echo: Reflection, *, spots: int) -> str:
    where = f" in spot {echo.spot + 1}" if spots > 1 else ""
    return (
        f"Late echo{where} {rounded(1e3 * echo.delay_s, decimals=0)} ms after the direct sound,"
        f" {_decibels(echo.level_db)} re it and {rounded(echo.over_decay_db, decimals=0)} dB over the"
        f" decay around it: a way {significant(echo.path_difference_m, digits=2)} m longer."
    )


def _two_slopes(those: tuple[TwoSlopes, ...], *, flutter: Flutter | None) -> str:
    names = joined(band_name(one.nominal_hz) for one in those)
    firsts, seconds = ([getattr(one, which) for one in those] for which in ("first_s", "second_s"))
    why = "another room behind an opening, bare surfaces facing each other, or all absorption on few of them"
    if flutter is not None and any(
        band.found and band.nominal_hz == one.nominal_hz for band in flutter.bands for one in those
    ):
        why = "most likely the flutter; else another room behind an opening"
    return (
        f"Two slopes at {names}: first {_range(firsts)} s, then {_range(seconds)} s, from"
        f" {_whole_range([one.bend_db for one in those])} dB down on: {why}."
    )


def _reflections(those: tuple[Reflection, ...], *, spots: int) -> str:
    first, last = (1e3 * pick(one.delay_s for one in those) for pick in (min, max))
    when = f"{rounded(first, decimals=0)} to {rounded(last, decimals=0)} ms after it"
    if len(those) == 1:
        when = f"{rounded(first, decimals=0)} ms after it"
    where = f" in {counted(len({one.spot for one in those}), 'spot')}" if spots > 1 else ""
    loudest = max(one.level_db for one in those)
    return (
        f"{counted(len(those), 'early reflection').capitalize()} behind the clap's own sound{where},"
        f" {when}, at most {_decibels(loudest)} re the direct sound."
    )


def _modes(modes: RoomModes) -> str:
    size = " x ".join(f"{side:g}" for side in modes.dimensions_m)
    said = (
        f"Below {significant(modes.highest_hz, digits=2)} Hz a box of {size} m has"
        f" {counted(len(modes.modes), 'mode')}; those closer than"
        f" {significant(modes.width_hz, digits=2)} Hz (2.2/T) merge, which leaves at most"
        f" {counted(len(merged(modes.modes, width_hz=modes.width_hz)), 'peak')}."
    )
    if not modes.heard:
        return f"{said} None stands out of these recordings."
    longest = max(modes.heard, key=lambda one: one.decay_time_s)
    return (
        f"{said} {counted(len(modes.heard), 'peak').capitalize()} stand{'s' if len(modes.heard) == 1 else ''}"
        f" out; the longest rings {_seconds(longest.decay_time_s)} s at"
        f" {rounded(longest.frequency_hz, decimals=0)} Hz{_which(longest)}."
    )


def _tone(one: HeardMode) -> str:
    hz, level = rounded(one.frequency_hz, decimals=1), _decibels(one.level_db)
    return (
        f"{hz} Hz: {_seconds(one.decay_time_s)} s, {level} re the strongest"
        f"{_which(one) or ' (no mode of the box)'}."
    )


def _which(one: HeardMode) -> str:
    if not one.modes:
        return ""
    if len(one.modes) > _MOST_NAMED:
        return f" ({len(one.modes)} modes of the box in one peak)"
    named = [
        f"{mode.kind} {'-'.join(str(order) for order in mode.orders)} at"
        f" {rounded(mode.frequency_hz, decimals=1)} Hz"
        for mode in one.modes
    ]
    return f" ({', '.join(named)})"


def _range(values: list[float]) -> str:
    low, high = _seconds(min(values)), _seconds(max(values))
    return low if low == high else f"{low} to {high}"


def _whole_range(values: list[float]) -> str:
    low, high = (rounded(pick(values), decimals=0) for pick in (min, max))
    return low if low == high else f"{low} to {high}"


def _seconds(value: float) -> str:
    return rounded(value, decimals=decimals_without_interval(value))


def _decibels(value: float) -> str:
    return f"{rounded(value, decimals=0)} dB"
