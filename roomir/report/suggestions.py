"""What to do for a better next take, the most useful first, each with the reason and what it buys."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from roomir.background.noise import Background
from roomir.decay.combine import LEAST_SPOTS
from roomir.reading.reading import Reading
from roomir.report.advice import BAND_WEIGHTS, ranked_steps
from roomir.report.next_take import (
    BALLOON_MORE_DB,
    HANDS_DOWN_TO_HZ,
    HANDS_MORE_DB,
    TOO_COLD_DBFS,
    TOO_HOT_DBFS,
    BandOutlook,
    Outlook,
    look_ahead,
)
from roomir.report.wording import band_name, counted, joined

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

_QUIETER_DB = 6.0
_SWINGS_DB = 6.0
_HUM_IS_WORTH_DB = 0.5
_SPOILS_ALL = 60.0
_FEW_SPOTS = 8.0
_MID = 4.0
_PER_CROWDED_CLAP = 2.0
_CLAPS_ENOUGH = 2.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Suggestion:
    """One thing to do.

    Attributes
    ----------
    code : str
        Its name, for programs.
    do : str
        What to do.
    why : str
        What was found that calls for it; empty where ``do`` says it all.
    buys : str
        What it can bring; empty where nobody can tell beforehand.
    bands_hz : tuple of float
        Nominal frequencies of the bands that gain; empty: all. [Hz]
    worth : float
        What puts it before others: bands it may lift, mid bands and unusable ones twice.
    """

    code: str
    do: str
    why: str = ""
    buys: str = ""
    bands_hz: tuple[float, ...] = ()
    worth: float


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
        "range": [*_quieter(outlook), *_louder(outlook)],
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
    wide_weight = sum(_weight(band) for band in wide)
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
            " as they do; read again after every second one"
        ),
        bands_hz=tuple(sorted({*hz, *_hz(wide)})),
        worth=worth,
    )


# ------------------------------------------------------------------ background


_CODES = {
    "rumble": "find-the-rumble",
    "rush": "stop-moving-air",
    "hiss": "louder-not-quieter",
}
"""What to do about each kind of background that is neither hum nor tone."""

_FIND_IT = {
    "find-the-rumble": (
        (
            "close windows and doors, lay the phone on something firm and step away from it, and wait for a"
            " pause in traffic, wind and steps"
        ),
        "the background is a rumble",
    ),
    "stop-moving-air": (
        (
            "switch off what moves air or turns (heater, ventilation, fridge, computer; the fridge on again"
            " afterwards), and shut the windows"
        ),
        "the background is a rush that falls towards the treble, as moving air, machines and traffic make",
    ),
    "louder-not-quieter": (
        "do not look for the noise in the room: only a louder sound or another recorder helps here",
        "the background is an even hiss, as a recorder makes by itself",
    ),
}


def _quieter(outlook: Outlook) -> Iterator[Suggestion]:
    lacking = [
        band for band in outlook.bands if band.reach not in ("there", "more time") and band.noise is not None
    ]
    yield from _hum(outlook, lacking)
    yield from _tones(outlook, lacking)
    for kind, code in _CODES.items():
        do, found = _FIND_IT[code]
        bands = [band for band in lacking if band.noise is not None and band.noise.kind == kind]
        if bands:
            # A hiss is no job to do, but it saves one.
            gain_db = 0.0 if kind == "hiss" else _QUIETER_DB
            yield Suggestion(
                code=code,
                do=do,
                why=f"at {_names(bands)} {found}",
                bands_hz=_hz(bands),
                worth=_lifted(bands, gain_db=gain_db) + 0.1,
            )
    swinging = [band for band in lacking if band.noise is not None and band.noise.swing_db > _SWINGS_DB]
    if swinging:
        most_db = max(band.noise.swing_db for band in swinging if band.noise is not None)
        yield Suggestion(
            code="wait-for-steady-quiet",
            do="wait until it is steadily quiet, and clap then",
            why=f"the background at {_names(swinging)} comes and goes by up to {most_db:.0f} dB",
            bands_hz=_hz(swinging),
            worth=_lifted(swinging, gain_db=0.5 * most_db),
        )


def _hum(outlook: Outlook, lacking: Sequence[BandOutlook]) -> Iterator[Suggestion]:
    humming = [band for band in lacking if band.hum_gain_db >= _HUM_IS_WORTH_DB]
    background = outlook.background
    if not humming or background is None or background.mains_hz is None:
        return
    most = max(humming, key=lambda band: band.hum_gain_db)
    share = 0.0 if most.noise is None else most.noise.hum_share
    missing_db = most.missing_db()
    of = "" if missing_db is None else f" of the {_upwards(missing_db)} missing"
    yield Suggestion(
        code="stop-the-hum",
        do="pull the plugs of what hums (fridge, lamps, chargers, power supplies) one by one, and listen",
        why=(
            f"hum of {background.mains_hz:.0f} Hz mains is {100 * min(share, 0.99):.0f} % of the background"
            f" at {band_name(most.band.nominal_hz)}"
        ),
        buys=f"up to {most.hum_gain_db:.0f} dB{of} at {band_name(most.band.nominal_hz)}",
        bands_hz=_hz(humming),
        worth=sum(_lifted([band], gain_db=band.hum_gain_db) for band in humming),
    )


def _tones(outlook: Outlook, lacking: Sequence[BandOutlook]) -> Iterator[Suggestion]:
    sounding = [band for band in lacking if band.noise is not None and band.noise.kind == "tone"]
    if not sounding or outlook.background is None:
        return
    tones = joined(f"{hz:.0f} Hz" for hz in sorted(outlook.background.tones_hz))
    yield Suggestion(
        code="stop-the-tone",
        do="find what sounds all the time (a fan, a pump, a power supply that whistles) and switch it off",
        why=f"the background at {_names(sounding)} is mostly steady tones; the strongest lie at {tones}",
        bands_hz=_hz(sounding),
        worth=_lifted(sounding, gain_db=_QUIETER_DB),
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
        out_of_reach = f"; {_names(low)} {_stay(low)} out of reach of hands, however hard" if low else ""
        yield Suggestion(
            code="louder-than-hands",
            do="pop a balloon or strike two boards together in each spot, with hearing protection on",
            why=f"missing for full trust: {_missing(beyond)}{out_of_reach}",
            buys=f"a balloon has roughly {BALLOON_MORE_DB:.0f} dB over hands in the bass",
            bands_hz=_hz(beyond),
            worth=_lifted(beyond, gain_db=BALLOON_MORE_DB),
        )
    if by_hand:
        yield Suggestion(
            code="clap-harder",
            do="clap as hard as you can, hands cupped and stiff",
            why=f"missing for full trust: {_missing(by_hand)}",
            buys=f"up to {HANDS_MORE_DB:.0f} dB over an ordinary clap",
            bands_hz=_hz(by_hand),
            worth=_lifted(by_hand, gain_db=HANDS_MORE_DB),
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
            worth=sum(_weight(band) for band in outlook.bands if band.missing_db() != 0.0),
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
            f"claps had {free_s:.1f} s to themselves, and {_names(cut)} did not sink into the background"
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
        bands_hz=_hz(cut),
        worth=2.0 * sum(_weight(band) for band in cut) + _PER_CROWDED_CLAP * outlook.crowded,
    )


# ------------------------------------------------------------------ words and weights


def _says(reading: Reading, code: str) -> bool:
    concerns = [remark for take in reading.takes for remark in take.concerns]
    concerns += [remark for take in reading.takes for clap in take.claps for remark in clap.concerns]
    return any(remark.code == code for remark in concerns)


def _weight(band: BandOutlook) -> float:
    return BAND_WEIGHTS.get(band.band.nominal_hz, 1.0) * (2.0 if band.verdict == "unusable" else 1.0)


def _lifted(bands: Iterable[BandOutlook], *, gain_db: float) -> float:
    """Weight of the bands, each as far as the gain takes it to full trust."""
    worth = 0.0
    for band in bands:
        missing_db = band.missing_db()
        if missing_db != 0.0:
            worth += _weight(band) * min(1.0, gain_db / (missing_db or 2.0 * BALLOON_MORE_DB))
    return worth


def _names(bands: Sequence[BandOutlook]) -> str:
    return joined(band_name(band.band.nominal_hz) for band in bands)


def _hz(bands: Sequence[BandOutlook]) -> tuple[float, ...]:
    return tuple(band.band.nominal_hz for band in bands)


def _stay(bands: Sequence[BandOutlook]) -> str:
    return "stays" if len(bands) == 1 else "stay"


def _missing(bands: Sequence[BandOutlook]) -> str:
    parts = []
    for band in bands:
        missing_db = band.missing_db()
        much = "all of it" if missing_db is None else f"{_upwards(missing_db)} dB"
        parts.append(f"{much} at {band_name(band.band.nominal_hz)}")
    return joined(parts)


def _upwards(missing_db: float) -> str:
    """Round what is missing so that nobody is promised too much."""
    return f"{math.ceil(missing_db - 1e-9)}"


def _percent(half_width: float) -> str:
    return (
        f"within {math.ceil(100.0 * half_width - 1e-9)} %"
        if half_width < 1.0
        else "no better than a factor of two"
    )


def _dbfs(peak_dbfs: float) -> str:
    return "full scale" if peak_dbfs > -0.05 else f"{-peak_dbfs:.1f} dB below full scale"
