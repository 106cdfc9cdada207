"""From an event's course to a verdict in words: used, or set aside and why."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomir.bands.band import Band
from roomir.claps.candidates import Arrival
from roomir.claps.fitness import Course
from roomir.remarks import Remark

LEAST_RISE_DB = 11.0
"""A clap rises at least this much within two milliseconds. [dB]"""

LEAST_RANGE_DB = 15.0
"""Free decay below the onset that at least one octave has to show. [dB]"""

LEAST_RANGE_BEFORE_NEXT_DB = 20.0
"""The same where the next event follows before the background is reached. [dB]"""

LEAST_SECOND_RANGE_DB = 10.0
"""And a second octave. [dB]"""

LEAST_FREE_S = 0.12
"""Of a decay that the next event or the end of the recording cuts off. [s]"""

_RISING_DB = 8.0
_RISING_OCTAVES = 3
_LATEST_ATTACK_DB = -9.0
_SWELLING_DB = -11.5
_HELD_ON_DB = 1.8
_LATE_DB = 6.4
"""Of a thousand claps drawn at random one came later than this; coughs reach 6.5 to 11. [dB]"""

_HELD_DB = -2.5
_HELD_BEYOND_FALL_DB = 0.1
_EARLY_S = 0.04
_OVERTAKEN_DB = 4.5
_READABLE_DB = 10.0
_DULL_BASS_DB = -1.0
_DULL_TREBLE_DB = -14.0
_SLOW_DB = -3.0
_SLOW_BASS_DB = -4.0
_MUFFLED_DB = -3.0
_SLOW_TREBLE_DB = -9.5
_GONE_AT_ONCE_DB = 22.0
_GONE_SOON_DB = -45.0
_STILL_SOUNDING_DB = 8.0
_CLEAR_RISE_DB = 15.0
_LEAST_DECAY_S = 0.052
_CLEARLY_HEARD_DB = 35.0
_DEAD_DB = -36.0
_UNFINISHED_DB = 10.0
_LEAST_LATE_FALL_DB = 12.0


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


def not_sudden(arrival: Arrival) -> Remark | None:
    """Say so where an arrival swells instead of striking."""
    swells = arrival.attack_db < _LATEST_ATTACK_DB or arrival.attack_db + arrival.opening_db < _SWELLING_DB
    if swells or arrival.rise_db < LEAST_RISE_DB:
        rise = min(arrival.rise_db, arrival.rise_db + arrival.attack_db)
        # Over digital silence anything rises without end.
        bring = f": the first two milliseconds bring {max(rise, 0.0):.0f} dB" if np.isfinite(rise) else ""
        return Remark(
            code="not-impulsive",
            says=f"it swells instead of striking{bring}",
            # What shuts between claps opens a moment before one, and its opening looks like a swell.
            remedy="a single sharp clap, boards struck together or a balloon starts at once; if it was one,"
            " switch the phone's noise reduction off",
        )
    return None


def not_alone(around: Surroundings) -> Remark | None:
    """Say so where another event of like strength is close by."""
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


def not_fit(
    arrival: Arrival, *, course: Course, bands: tuple[Band, ...], around: Surroundings
) -> Remark | None:
    """Say why a course is not that of a clap in a room, or that too little of it is seen.

    Parameters
    ----------
    arrival : Arrival
        The event.
    course : Course
        The course over the free stretch.
    bands : tuple of Band
        Its octaves.
    around : Surroundings
        How long the stretch is and what ends it.

    Returns
    -------
    Remark or None
        The first reason that holds; ``None`` where the decay can be read.
    """
    hz = np.array([band.nominal_hz for band in bands])
    heard = hz >= 250.0
    rising = (course.rise_db >= _RISING_DB) & heard
    # Two octaves may lie below a clap's own range; the rest has to rise, or three of the rest.
    if int(rising.sum()) < min(_RISING_OCTAVES, max(int(heard.sum()) - 2, 1)):
        return Remark(
            code="not-impulsive",
            says=f"only {int(rising.sum())} octaves rise with it: a clap is heard in all of them",
            remedy="a single sharp clap, boards struck together or a balloon sounds in every octave",
        )
    sounding = (course.before_db > _STILL_SOUNDING_DB) & (course.rise_db < _CLEAR_RISE_DB) & heard
    if int(sounding.sum()) >= 2:
        return Remark(
            code="follows-another-sound",
            says="another sound was still going on when it came",
            remedy="wait until it is quiet, then clap once",
        )
    readable = rising & (course.range_db >= _READABLE_DB)
    if not readable.any():
        return _too_little(course, heard=heard, around=around)
    if int((course.late_gain_db[heard] > _OVERTAKEN_DB).sum()) >= 2:
        return Remark(
            code="not-impulsive",
            says="something louder follows in the same breath, as the vowel follows a consonant",
            remedy="let one clap die away before the next sound",
        )
    held_db = float(np.mean(course.late_gain_db[readable]))
    # In a very live room the first 40 ms alone hardly fall.
    fallen_db = _EARLY_S * float(np.mean(np.maximum(course.fall_db_per_s[readable], 0.0)))
    held = held_db > _HELD_DB and held_db + fallen_db > _HELD_BEYOND_FALL_DB
    # Far from the microphone a clap's direct sound is weaker than the room's answer, which swells
    # too; but its decay, followed back, starts at the level of the beginning. What goes on sounding
    # falls later, and its decay followed back starts higher.
    told = readable & (hz >= 500.0) & np.isfinite(course.excess_db)
    beyond_db = float(np.median(course.excess_db[told])) if told.any() else np.inf
    lateness_db = (
        -0.5 * min(arrival.attack_db, 3.0)
        - min(arrival.opening_db, 5.0)
        + 0.5 * float(np.clip(beyond_db, -3.0, 12.0))
        + 0.3 * max(held_db, -12.0)
    )
    if beyond_db > _HELD_ON_DB and (held or lateness_db > _LATE_DB):
        return Remark(
            code="not-impulsive",
            says="it keeps on sounding for a while before it falls",
            remedy="the sound itself has to be over at once, so that only the room is heard",
        )
    strength = course.strength_db
    bass_db = float(strength[hz <= 125.0].max()) - float(strength[hz >= 500.0].max())
    treble_db = float(strength[hz >= 1000.0].max()) - float(strength.max())
    swell_db = arrival.attack_db + arrival.opening_db
    slow = swell_db < _SLOW_DB
    # A big balloon has as much bass as anything else, but it falls by no more than 3 dB per octave.
    muffled = float(strength[-1]) - float(strength.max()) < _MUFFLED_DB - 3.0 * np.log2(hz[-1] / 250.0)
    boomy = muffled and bass_db > (_SLOW_BASS_DB if slow else _DULL_BASS_DB)
    if boomy or treble_db < (_SLOW_TREBLE_DB if slow else _DULL_TREBLE_DB):
        return Remark(
            code="too-dull",
            says="nearly all of it lies in the bass, like a step, a bump or a door",
            remedy="clap with stiff hands, strike two boards together or pop a balloon",
        )
    clear = heard & (course.rise_db >= _CLEARLY_HEARD_DB)
    too_fast = np.nan_to_num(course.fall_db_per_s, nan=np.inf) > 60.0 / _LEAST_DECAY_S
    dead = clear & (too_fast | (course.excess_db < _DEAD_DB))
    gone = arrival.opening_db > _GONE_AT_ONCE_DB or held_db < _GONE_SOON_DB
    if gone or 2 * int(dead.sum()) > int(clear.sum()):
        return Remark(
            code="no-room-in-it",
            says="it is gone at once, without any decay: a click of the recorder or a touch of its case",
            remedy="lay the recorder down and leave it alone",
        )
    return _too_little(course, heard=heard, around=around)


def _too_little(course: Course, *, heard: NDArray[np.bool_], around: Surroundings) -> Remark | None:
    best = np.sort(course.range_db[heard])[::-1]
    # Where the next event ends the decay, the background isn't heard, and more has to be seen.
    ended = around.cut and around.free_s < course.end_s + 0.1
    if ended and (around.free_s < LEAST_FREE_S or best[0] < LEAST_RANGE_BEFORE_NEXT_DB):
        return cut_short(around, range_db=float(best[0]))
    falling = heard & (course.range_db > 0.0) & (course.before_db < -_UNFINISHED_DB)
    if around.cut and 2 * int(falling.sum()) > int((heard & (course.range_db > 0.0)).sum()):
        late_db = float(np.max(course.late_fall_db[falling]))
        if late_db < _LEAST_LATE_FALL_DB:
            return cut_short(around, range_db=late_db / 0.75)
    if best[0] >= LEAST_RANGE_DB and best[1] >= LEAST_SECOND_RANGE_DB:
        return None
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


def nothing_after(around: Surroundings, *, recording_ends: bool) -> Remark:
    """Say that hardly any of the decay is there, and no other sound is to blame."""
    after_ms = 1000.0 * around.free_s
    if recording_ends:
        return Remark(
            code="stops-inside-decay",
            says=f"the recording ends {after_ms:.0f} ms after it",
            remedy="let the recorder run for five seconds after the last clap",
        )
    return Remark(
        code="no-room-in-it",
        says=f"digital silence follows after {after_ms:.0f} ms: a click of the recorder, or all else was cut"
        " away",
        remedy="lay the recorder down and leave it alone, and switch its noise reduction off",
    )


def cut_short(around: Surroundings, *, range_db: float) -> Remark:
    """Say that the next event leaves too little of the decay."""
    return Remark(
        code="second-event-in-decay",
        says=f"the next sound comes after {around.free_s:.2f} s, when it has fallen by {range_db:.0f} dB; "
        f"{LEAST_RANGE_BEFORE_NEXT_DB:.0f} dB are needed",
        remedy="let one clap die away before the next sound",
    )
