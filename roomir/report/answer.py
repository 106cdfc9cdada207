"""The answer in words: how long the room rings, how far to believe it, and where it does not hold."""

from __future__ import annotations

from roomir.reading.reading import BandFigures, Interval, Reading, RoomBand
from roomir.remarks import Remark
from roomir.report.rounding import decimals_of, decimals_without_interval, rounded, rounded_outwards
from roomir.report.wording import band_name, counted, joined, sentence

VERDICTS = ("unusable", "indicative", "reliable")
"""From worst to best."""

SIGNS = {"reliable": "+", "indicative": "~", "unusable": "x"}
"""The sign beside the word; plain ASCII, so that it survives every terminal and every mail."""

MID_HZ = (500.0, 1000.0)
"""Octaves of the mid-frequency mean (ISO 3382-1:2009, A.3.2). [Hz]"""

_BASS_RATIO_HZ = (125.0, 250.0, *MID_HZ)


def answer(reading: Reading) -> tuple[str, str]:
    """Say how long the room rings at mid frequencies, and how far to trust that.

    Parameters
    ----------
    reading : Reading
        Any reading, one without bands included.

    Returns
    -------
    str
        One or two sentences. Without a mid-frequency mean they say so and
        fall back on the best band there is.
    str
        The verdict, one of `VERDICTS`: the worse one of the two octaves.
    """
    members = [room_band for room_band in reading.bands if room_band.figures.band.nominal_hz in MID_HZ]
    decay_time_s = reading.mid.decay_time_s
    if decay_time_s is not None and members:
        verdict = min((one.figures.verdict for one in members), key=VERDICTS.index)
        spots = min(one.spots for one in members)
        how_long = _how_long(decay_time_s, interval=reading.mid.ci95_s)
        return f"{how_long} at mid frequencies, {_sure(spots, verdict)}", verdict
    known = [one for one in reading.bands if one.figures.decay_time_s is not None]
    if known:
        # The best band that can be had; among equals the one nearest to mid frequencies.
        best = max(
            known,
            key=lambda one: (VERDICTS.index(one.figures.verdict), -abs(one.figures.band.nominal_hz - 750.0)),
        )
        figures = best.figures
        how_long = _how_long(figures.decay_time_s or 0.0, interval=figures.ci95_s)
        name = band_name(figures.band.nominal_hz)
        return (
            f"No answer at mid frequencies. {how_long} at {name}, {_sure(best.spots, figures.verdict)}",
            figures.verdict,
        )
    if reading.bands:
        return "No reading: in no band does the decay stand clear of the background.", "unusable"
    if reading.takes:
        recordings = counted(len(reading.takes), "recording")
        return f"No reading: no clap fit to be read in {recordings}.", "unusable"
    return "No reading: no file could be opened as sound.", "unusable"


def _how_long(decay_time_s: float, *, interval: Interval | None) -> str:
    if interval is None:
        value = rounded(decay_time_s, decimals=decimals_without_interval(decay_time_s))
        return f"Rings for about {value} s (no interval can be given)"
    decimals = decimals_of(decay_time_s, interval=interval)
    low, high = rounded_outwards(interval, decimals=decimals)
    return f"Rings for {rounded(decay_time_s, decimals=decimals)} s ({low} to {high})"


def _sure(spots: int, verdict: str) -> str:
    warning = ", so do not build on this number" if verdict == "unusable" else ""
    return f"{counted(spots, 'spot')}, trust: {verdict}{warning}."


def but(bands: tuple[RoomBand, ...]) -> tuple[str, ...]:
    """Say which bands are less than reliable and why: bands with the same trouble in one sentence."""
    groups: dict[tuple[str, str], list[BandFigures]] = {}
    for room_band in bands:
        figures = room_band.figures
        if figures.verdict != "reliable":
            code = figures.reasons[0].code if figures.reasons else ""
            groups.setdefault((figures.verdict, code), []).append(figures)
    sentences = []
    for (verdict, _), members in groups.items():
        names = [band_name(one.band.nominal_hz) for one in members]
        who = "All bands" if len(members) == len(bands) > 1 else joined(names)
        state = "only indicative" if verdict == "indicative" else verdict
        first = members[0]
        # Alone, the band need not be named again; in a group the example has to say whose it is.
        reason = why(first.reasons[0], band=names[0] if len(members) == 1 else None) if first.reasons else ""
        sentences.append(sentence(f"{who} {state}: {reason}" if reason else f"{who} {state}"))
    return tuple(sentences)


def why(remark: Remark, *, band: str | None) -> str:
    """Give a reason, without naming the band again where ``band`` stands beside it already."""
    return remark.says.removeprefix(f"at {band} ") if band else remark.says


def interval_note(bands: tuple[RoomBand, ...]) -> str:
    """Say which kind of interval the brackets hold; empty where no band has one."""
    kinds: dict[str, list[str]] = {}
    for room_band in bands:
        if room_band.interval_from and room_band.figures.ci95_s:
            kinds.setdefault(room_band.interval_from, []).append(band_name(room_band.figures.band.nominal_hz))
    # Here and not above: it comes with numpy, which `roomir --help` does without.
    from roomir.decay.combine import LEAST_SPOTS, PRIOR_FACTOR

    words = {
        "scatter": "from the scatter between the spots",
        "prior": (
            f"from theory, with the scatter between spots taken to be {PRIOR_FACTOR:g} times what theory says"
            f" (it can be seen from {counted(LEAST_SPOTS, 'spot')} on)"
        ),
    }
    if not kinds:
        return ""
    # The usual kind first and for all, then the bands that differ.
    usual, *others = sorted(kinds, key=lambda kind: -len(kinds[kind]))
    parts = [words[usual], *(f"at {joined(kinds[kind])} {words[kind]}" for kind in others)]
    return f"In brackets: 95 % interval for the room, {'; '.join(parts)}."


def bass_ratio(reading: Reading) -> str:
    """Put the bass ratio in words, with the worst trust among its bands; empty where a member is missing."""
    members = [one.figures for one in reading.bands if one.figures.band.nominal_hz in _BASS_RATIO_HZ]
    if reading.bass_ratio is None or not members:
        return ""
    verdict = min((figures.verdict for figures in members), key=VERDICTS.index)
    weakest = [band_name(one.band.nominal_hz) for one in members if one.verdict == verdict]
    trust = "" if verdict == "reliable" else f"; trust: {verdict}, for {joined(weakest)}"
    return f"Bass ratio {reading.bass_ratio:.2f}: 125 and 250 Hz against 500 Hz and 1 kHz{trust}."
