"""What to do for a better next take, the most useful first, each with the reason and what it buys."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from roomir.background.noise import Background
from roomir.decay.combine import LEAST_SPOTS
from roomir.reading.reading import Reading
from roomir.report.advice import ranked_steps
from roomir.report.next_take import (
    BALLOON_MORE_DB,
    HANDS_DOWN_TO_HZ,
    HANDS_MORE_BASS_DB,
    HANDS_MORE_DB,
    TOO_COLD_DBFS,
    TOO_HOT_DBFS,
    BandOutlook,
    Outlook,
    look_ahead,
)
from roomir.report.suggest_quiet import quieter
from roomir.report.suggestion import Suggestion, band_names, lifted, missing_range, nominal_hz, weight
from roomir.report.wording import band_name, counted

MOST_SUGGESTIONS = 6
"""What one evening has room for."""

_ANSWERED = {
    "range": frozenset({
        *("range-too-small", "no-decay", "t20-withheld", "t30-withheld"),
        *("bend-suspected", "two-slopes-little-range"),
    }),
    "spots": frozenset({"few-spots", "interval-too-wide"}),
    "time": frozenset({"decay-cut-off", "second-event-in-decay", "follows-another-sound"}),
}  # fmt: skip
"""Remarks of a reading that a suggestion with numbers stands for."""

_CLIPPED = "clipped"
"""A concern that says what a level at full scale only lets suspect."""

_NOT_ABOUT_TAKES = frozenset({"neighbour-rings-longer", "shorter-than-the-filter"})
"""Remarks whose remedy lies in the room or in reading, not in recording."""

_SPOILS_ALL = 60.0
_FEW_SPOTS = 8.0
_MID = 4.0
_PER_CROWDED_CLAP = 2.0
_CLAPS_ENOUGH = 2.5
_OFTEN = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """What to do next.

    Attributes
    ----------
    reading : Reading
        What it rests on.
    outlook : Outlook
        How far the bands are.
    suggestions : tuple of Suggestion
        The most useful first, `MOST_SUGGESTIONS` at most; empty where nothing is left to do.
    """

    reading: Reading
    outlook: Outlook
    suggestions: tuple[Suggestion, ...]


def make_advice(reading: Reading, *, background: Background | None) -> Advice:
    """Turn a reading and the background of its takes into steps.

    Parameters
    ----------
    reading : Reading
        Of one room in one state.
    background : Background, optional
        What was heard between the claps.

    Returns
    -------
    Advice
        Remedies of the reading's own remarks among the steps, in their own words.
    """
    outlook = look_ahead(reading, background=background)
    made = {
        "spots": [*_more_spots(outlook)],
        "range": [*quieter(outlook), *_louder(outlook)],
        "time": [*_more_time(outlook)],
        "": [*_level(reading, outlook)],
    }
    answered = _NOT_ABOUT_TAKES.union(*(_ANSWERED.get(kind, ()) for kind, steps in made.items() if steps))
    if outlook.spots is not None and outlook.spots.used >= LEAST_SPOTS:
        answered |= _ANSWERED["spots"]  # What is wide then lacks range, and the steps for that are there.
    names = {band_name(one.figures.band.nominal_hz): one.figures.band.nominal_hz for one in reading.bands}
    others = [
        Suggestion(
            code=step.code, do=step.do, bands_hz=tuple(names[name] for name in step.bands), worth=step.weight
        )
        for step in ranked_steps(reading)
        if step.code not in answered
    ]
    every = [*others, *(step for steps in made.values() for step in steps)]
    ranked = sorted(every, key=lambda step: -step.worth)
    return Advice(reading=reading, outlook=outlook, suggestions=tuple(ranked[:MOST_SUGGESTIONS]))


# ------------------------------------------------------------------ spots


def _more_spots(outlook: Outlook) -> Iterator[Suggestion]:
    mid = outlook.spots
    wide = [band for band in outlook.bands if band.spots is not None]
    wide_weight = sum(weight(band) for band in wide)
    hz: tuple[float, ...]
    if mid is not None and mid.needed != mid.used:
        which, whom, hz = mid, "mid-frequency time", (500.0, 1000.0)
        worth = _MID + wide_weight
        if mid.interval_from == "prior":
            worth = max(worth, _FEW_SPOTS)
    else:
        # The band that the fewest more spots would lift.
        within = [one for one in wide if one.spots is not None and one.spots.needed is not None]
        if not within:
            return
        band = min(within, key=lambda one: (one.spots.needed or 0) if one.spots else 0)
        assert band.spots is not None
        which, whom, hz = band.spots, f"time at {band_name(band.band.nominal_hz)}", (band.band.nominal_hz,)
        worth = wide_weight
    known = f"the {whom} is known to {_percent(which.half_width)} from {counted(which.used, 'spot')}"
    if which.interval_from == "prior":
        known += ", with a scatter between spots that is assumed, not heard"
    goal = f"{100 * which.target:.0f} %"
    if which.needed is None and which.interval_from == "prior":
        return  # No places were heard to differ; what reading asks for stands: enough spots to see it.
    if which.needed is None:
        yield Suggestion(
            code="spots-will-not-do",
            do=(
                "look for what makes the places differ before you clap in more of them: a door that was open"
                " once, somebody in the room, another recorder, a clap too near to the phone"
            ),
            why=f"{known}; no number of spots that anybody claps in would bring that within {goal}",
            bands_hz=hz,
            worth=worth,
        )
        return
    often = "; read again after every second one" if which.needed - which.used > _OFTEN else ""
    many = outlook.claps_per_spot is not None and outlook.claps_per_spot > _CLAPS_ENOUGH
    yield Suggestion(
        code="more-spots",
        do=(
            f"clap in about {counted(which.needed - which.used, 'more spot')}, at least two metres from the"
            " others if the room allows, one recording each, one or two claps in each"
        ),
        why=known + ("; further claps in the same spot tell little more" if many else ""),
        buys=(
            f"within {goal} from about {counted(which.needed, 'spot')} in all, if the places go on differing"
            f" as they do{often}"
        ),
        bands_hz=tuple(sorted({*hz, *nominal_hz(wide)})),
        worth=worth,
    )


# ------------------------------------------------------------------ loudness


def _louder(outlook: Outlook) -> Iterator[Suggestion]:
    lacking = [band for band in outlook.bands if band.reach not in ("there", "hum off", "more time")]
    if not lacking:
        return
    by_hand = [band for band in lacking if band.reach == "harder clap"]
    beyond = [band for band in lacking if band.reach != "harder clap"]
    if beyond:
        low = [band for band in beyond if band.band.nominal_hz <= HANDS_DOWN_TO_HZ]
        out_of_reach = f"; {band_names(low)} {_stay(low)} out of reach of hands, however hard" if low else ""
        yield Suggestion(
            code="louder-than-hands",
            do="pop a balloon or strike two boards together in each spot, with hearing protection on",
            why=f"missing for full trust: {missing_range(beyond)}{out_of_reach}",
            buys=f"a balloon has roughly {BALLOON_MORE_DB:.0f} dB over hands in the bass",
            bands_hz=nominal_hz(beyond),
            worth=lifted(beyond, gain_db=BALLOON_MORE_DB),
        )
    if by_hand:
        all_low = all(band.band.nominal_hz <= HANDS_DOWN_TO_HZ for band in by_hand)
        more_db = HANDS_MORE_BASS_DB if all_low else HANDS_MORE_DB
        yield Suggestion(
            code="clap-harder",
            do="clap as hard as you can, hands cupped and stiff",
            why=f"missing for full trust: {missing_range(by_hand)}",
            buys=f"up to {more_db:.0f} dB over an ordinary clap",
            bands_hz=nominal_hz(by_hand),
            worth=lifted(by_hand, gain_db=more_db),
        )


def _level(reading: Reading, outlook: Outlook) -> Iterator[Suggestion]:
    peak_dbfs = outlook.peak_dbfs
    if peak_dbfs is None or _says(reading, _CLIPPED):
        return
    if peak_dbfs >= TOO_HOT_DBFS:
        yield Suggestion(
            code="level-too-hot",
            do="hold the phone two steps farther from the clap, or turn the recording level down",
            why=(f"the loudest clap comes to {_dbfs(peak_dbfs)}: its top is cut off there, or nearly"),
            worth=_SPOILS_ALL,
        )
    elif peak_dbfs < TOO_COLD_DBFS:
        yield Suggestion(
            code="level-too-low",
            do="turn the recording level up if the app lets you, and see that nothing covers the microphone",
            why=(
                f"the loudest clap only comes to {_dbfs(peak_dbfs)}, where a recorder's own noise begins to"
                " count"
            ),
            worth=sum(weight(band) for band in outlook.bands if band.missing_db() != 0.0),
        )


# ------------------------------------------------------------------ time


def _more_time(outlook: Outlook) -> Iterator[Suggestion]:
    cut = [band for band in outlook.bands if band.cut_off]
    if not cut and not outlook.crowded:
        return
    needed_s, free_s = outlook.needed_s, outlook.free_s
    wait = "five seconds" if needed_s is None else counted(max(int(needed_s), 5), "second")
    found = []
    if cut and free_s is not None:
        found.append(
            f"claps had {free_s:.1f} s to themselves, and {band_names(cut)} did not sink into the background"
        )
    if outlook.crowded:
        found.append(f"{counted(outlook.crowded, 'clap')} had another sound too close by")
    yield Suggestion(
        code="more-time",
        do=(
            f"stand still for {wait} after each clap, and as long before the first and after the last"
            " while the recorder runs"
        ),
        why="; ".join(found),
        bands_hz=nominal_hz(cut),
        worth=2.0 * sum(weight(band) for band in cut) + _PER_CROWDED_CLAP * outlook.crowded,
    )


# ------------------------------------------------------------------ words


def _says(reading: Reading, code: str) -> bool:
    concerns = [remark for take in reading.takes for remark in take.concerns]
    concerns += [remark for take in reading.takes for clap in take.claps for remark in clap.concerns]
    return any(remark.code == code for remark in concerns)


def _stay(bands: Sequence[BandOutlook]) -> str:
    return "stays" if len(bands) == 1 else "stay"


def _percent(half_width: float) -> str:
    return (
        f"within {math.ceil(100.0 * half_width - 1e-9)} %"
        if half_width < 1.0
        else "no better than a factor of two"
    )


def _dbfs(peak_dbfs: float) -> str:
    return "full scale" if peak_dbfs > -0.05 else f"{-peak_dbfs:.1f} dB below full scale"
