"""From an event's course to a verdict in words: used, or set aside and why."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from roomir.bands.band import Band
from roomir.claps.candidates import Arrival
from roomir.claps.fitness import Course
from roomir.remarks import Remark

LEAST_RISE_DB = 11.0
"""A clap rises at least this much within two milliseconds. [dB]"""

LEAST_RANGE_DB = 20.0
"""Free decay below the onset that at least one octave has to show. [dB]"""

LEAST_SECOND_RANGE_DB = 12.0
"""And a second octave. [dB]"""

_RISING_DB = 8.0
_RISING_OCTAVES = 3
_LATEST_ATTACK_DB = -6.5
_HELD_DB = -2.0
_READABLE_DB = 10.0
_DULL_BASS_DB = -1.0
_DULL_TREBLE_DB = -12.0
_STILL_SOUNDING_DB = 8.0
_CLEAR_RISE_DB = 15.0
_LEAST_DECAY_S = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """What happens close to an event.

    Attributes
    ----------
    since_last_s : float or None
        Time since the last event that is loud enough to matter. [s]
    until_next_s : float or None
        Time to the next such event. [s]
    struck_again_s : float or None
        Time to a second blow of the same event. [s]
    free_s : float
        Length of the free decay. [s]
    cut : bool
        Whether another event ends the free decay, not the recording or the search.
    """

    since_last_s: float | None
    until_next_s: float | None
    struck_again_s: float | None
    free_s: float
    cut: bool


def judge(
    arrival: Arrival, *, course: Course | None, bands: tuple[Band, ...], around: Surroundings
) -> Remark | None:
    """Say why an event is set aside, or nothing where it is fit to be read.

    Parameters
    ----------
    arrival : Arrival
        The event.
    course : Course or None
        Its course; ``None`` where the next event follows too soon to see any.
    bands : tuple of Band
        The octaves of the course.
    around : Surroundings
        What happens close by.

    Returns
    -------
    Remark or None
        The first reason that holds, most telling first.
    """
    return (
        _not_sudden(arrival)
        or _not_alone(around)
        or (
            _cut_short(around, range_db=0.0) if course is None else _unfit(course, bands=bands, around=around)
        )
    )


def _not_sudden(arrival: Arrival) -> Remark | None:
    if arrival.attack_db < _LATEST_ATTACK_DB or arrival.rise_db < LEAST_RISE_DB:
        rise = min(arrival.rise_db, arrival.rise_db + arrival.attack_db)
        return Remark(
            code="not-impulsive",
            says=f"it swells instead of striking: the first two milliseconds bring {max(rise, 0.0):.0f} dB",
            remedy="a single sharp clap, boards struck together or a balloon starts at once",
        )
    return None


def _not_alone(around: Surroundings) -> Remark | None:
    if around.struck_again_s is not None:
        return Remark(
            code="struck-twice",
            says=f"a second blow follows after {1000.0 * around.struck_again_s:.0f} ms",
            remedy="clap so that the hands meet once, one person at a time",
        )
    if around.until_next_s is not None:
        return Remark(
            code="second-event-in-decay",
            says=f"another sound begins {1000.0 * around.until_next_s:.0f} ms later, amid the decay",
            remedy="let one clap die away before the next sound",
        )
    if around.since_last_s is not None:
        return Remark(
            code="follows-another-sound",
            says=f"it comes {1000.0 * around.since_last_s:.0f} ms after another sound that still dies away",
            remedy="wait until it is quiet, then clap once",
        )
    return None


def _unfit(course: Course, *, bands: tuple[Band, ...], around: Surroundings) -> Remark | None:
    hz = np.array([band.nominal_hz for band in bands])
    rising = (course.rise_db >= _RISING_DB) & (hz >= 250.0)
    if int(rising.sum()) < min(_RISING_OCTAVES, int((hz >= 250.0).sum())):
        return Remark(
            code="not-impulsive",
            says=f"only {int(rising.sum())} octaves rise with it: a clap is heard in all of them",
            remedy="a single sharp clap, boards struck together or a balloon sounds in every octave",
        )
    sounding = (course.before_db > _STILL_SOUNDING_DB) & (course.rise_db < _CLEAR_RISE_DB) & (hz >= 250.0)
    if int(sounding.sum()) >= 2:
        return Remark(
            code="follows-another-sound",
            says="another sound was still going on when it came",
            remedy="wait until it is quiet, then clap once",
        )
    readable = rising & (course.range_db >= _READABLE_DB)
    if not readable.any():
        return _too_little(course, around=around)
    if float(np.mean(course.late_gain_db[readable])) > _HELD_DB:
        return Remark(
            code="not-impulsive",
            says="it keeps on sounding: 40 ms later it is as loud as at the start",
            remedy="the sound itself has to be over at once, so that only the room is heard",
        )
    strength = course.strength_db
    low = float(strength[hz <= 125.0].max())
    mid = float(strength[hz >= 500.0].max())
    high = float(strength[hz >= 1000.0].max())
    if low - mid > _DULL_BASS_DB or high - float(strength.max()) < _DULL_TREBLE_DB:
        return Remark(
            code="too-dull",
            says="nearly all of it lies in the bass, like a step, a bump or a door",
            remedy="clap with stiff hands, strike two boards together or pop a balloon",
        )
    fastest = 60.0 / float(np.min(course.fall_db_per_s[readable]))
    if fastest < _LEAST_DECAY_S:
        return Remark(
            code="no-room-in-it",
            says="it is gone at once, without any decay: a click of the recorder or a touch of its case",
            remedy="lay the recorder down and leave it alone",
        )
    return _too_little(course, around=around)


def _too_little(course: Course, *, around: Surroundings) -> Remark | None:
    best = np.sort(course.range_db)[::-1]
    if best[0] >= LEAST_RANGE_DB and best[1] >= LEAST_SECOND_RANGE_DB:
        return None
    if around.cut and around.free_s < course.end_s + 0.1:
        return _cut_short(around, range_db=float(best[0]))
    if best[0] <= 0.0:
        return Remark(
            code="no-room-in-it",
            says="no decay is heard after it: a click of the recorder, or too weak for the background",
            remedy="clap louder, or make the room quieter",
        )
    return Remark(
        code="too-weak",
        says=f"its decay stands {best[0]:.0f} dB over the background in the best octave, "
        f"{LEAST_RANGE_DB:.0f} dB are needed",
        remedy="clap louder, come closer, or switch off what hums and blows",
    )


def _cut_short(around: Surroundings, *, range_db: float) -> Remark:
    return Remark(
        code="second-event-in-decay",
        says=f"the next sound comes after {around.free_s:.2f} s, when it has fallen by {range_db:.0f} dB; "
        f"{LEAST_RANGE_DB:.0f} dB are needed",
        remedy="let one clap die away before the next sound",
    )
