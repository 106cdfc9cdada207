"""From a recording to its claps: every sudden event, used or set aside with the reason."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from roomir.audio.recording import Sound
from roomir.claps.candidates import Arrival, find_arrivals
from roomir.claps.clap import Clap
from roomir.claps.echoes import ALIKE, SAME_EVENT_S, is_echo, later_blows, likeness, repeats
from roomir.claps.envelope import Envelope, onset_envelope
from roomir.claps.fitness import Course, follow, free_steps
from roomir.claps.portrait import Portrait, portray
from roomir.claps.verdict import (
    LEAST_FREE_S,
    Surroundings,
    cut_short,
    not_alone,
    not_fit,
    not_sudden,
    nothing_after,
)
from roomir.remarks import Remark

LONGEST_DECAY_S = 8.0
"""A free decay is followed no longer than this. [s]"""

_BEFORE_S = 0.3
_SHORTEST_PORTRAIT_S = 0.04
_CLOSE_S = 0.4
_BLOWS_S = 0.06
_AMPLE_DB = 25.0
_MATTERS_DB = -15.0
_PERIOD_SLACK_S = 0.004
_ALIKE_BETWEEN = 0.75


def find_claps(sound: Sound) -> tuple[Clap, ...]:
    """Find every sudden event of a recording and say which are fit to be read.

    Parameters
    ----------
    sound : Sound
        Gone through once in blocks; full rate is looked up only around events,
        so an hour takes no more memory than its longest decay.

    Returns
    -------
    tuple of Clap
        In time order, used ones and others. Empty for silence, steady noise
        and whatever else never starts suddenly.

    Notes
    -----
    Fit is a single impulsive event, whoever made it, whose decay is free of
    others: it rises within milliseconds in several octaves over the
    background and over what is left of an earlier event, falls from then on,
    and falls far enough before the next event or the background takes over.
    Reflections and repeating echoes belong to the room. Nothing depends on
    the absolute level.
    """
    envelope = onset_envelope(sound)
    arrivals = find_arrivals(sound, envelope=envelope)
    claps: list[Clap] = []
    taken: set[int] = set()
    for i in range(len(arrivals)):
        if i not in taken:
            clap, own = _examine(sound, envelope=envelope, arrivals=arrivals, i=i)
            claps.append(clap)
            taken.update(own)
    return tuple(claps)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sequel:
    """What arrives after an event.

    Attributes
    ----------
    i_next : int or None
        The next arrival that the room didn't make.
    echoes : frozenset of int
        Arrivals before it that are copies of the event.
    period_s : float
        Distance of echoes that repeat; 0 where none do. [s]
    """

    i_next: int | None
    echoes: frozenset[int]
    period_s: float


def _examine(
    sound: Sound, *, envelope: Envelope, arrivals: Sequence[Arrival], i: int
) -> tuple[Clap, frozenset[int]]:
    """Judge one arrival; return it and the later arrivals that belong to it."""
    rate = sound.sample_rate_hz
    arrival = arrivals[i]
    limit = min(sound.n_frames, arrival.onset + round(LONGEST_DECAY_S * rate))
    over = arrival.onset + round(SAME_EVENT_S * rate)
    because = not_sudden(arrival)
    if because is not None:
        own = _before(arrivals, over, i=i)
        return _clap(arrivals, i=i, stop=limit, own=own, rate=rate, because=because), own
    sequel = _sequel(sound, envelope=envelope, arrivals=arrivals, i=i)
    next_at = limit if sequel.i_next is None else min(arrivals[sequel.i_next].onset, limit)
    stop = _end_of_sound(sound, start=arrival.onset, stop=next_at)
    blows = later_blows(sound, envelope=envelope, first=arrival, from_s=SAME_EVENT_S, to_s=_BLOWS_S)
    around = Surroundings(
        since_last_s=_since_last(arrivals, i=i, rate=rate),
        until_next_s=_until_next(arrivals, i=i, i_next=sequel.i_next, rate=rate),
        struck_again_s=next(blows, None),
        free_s=(stop - arrival.onset) / rate,
        cut=stop == next_at < limit,
    )
    because = not_alone(around)
    ends = stop == sound.n_frames
    if stop - arrival.onset < _SHORTEST_PORTRAIT_S * rate:
        short = cut_short(around, range_db=0.0) if around.cut else nothing_after(around, recording_ends=ends)
        because = because or short
    else:
        portrait = portray(sound, onset=arrival.onset, before_s=_BEFORE_S, stop=stop)
        n_free, course, unfit = _longest_fit(
            arrival, portrait=portrait, period_s=sequel.period_s, around=around
        )
        if unfit is not None and ends and around.free_s < LEAST_FREE_S:
            # Too little is left to say anything else of it.
            unfit = nothing_after(around, recording_ends=True)
        because = because or unfit
        if n_free < portrait.n_steps - portrait.i_onset:
            stop = arrival.onset + n_free * portrait.n_step
        over = max(over, min(stop, arrival.onset + round(course.end_s * rate)))
    own = _before(arrivals, over, i=i) | frozenset(j for j in sequel.echoes if arrivals[j].onset < stop)
    return _clap(arrivals, i=i, stop=stop, own=own, rate=rate, because=because), own


def _longest_fit(
    arrival: Arrival, *, portrait: Portrait, period_s: float, around: Surroundings
) -> tuple[int, Course, Remark | None]:
    """Judge the stretch that is free in every octave or, where that is short, in the event's own.

    Returns
    -------
    n_free : int
        Free steps.
    course : Course
        The course over them.
    unfit : Remark or None
        Why it cannot be read.
    """
    n_all = portrait.n_steps - portrait.i_onset
    judged = []
    for n_free in dict.fromkeys(free_steps(portrait, period_s=period_s)):
        course = follow(portrait, n_free=n_free)
        here = replace(around, free_s=n_free * portrait.step_s, cut=around.cut or n_free < n_all)
        unfit = not_fit(arrival, course=course, bands=portrait.bands, around=here)
        judged.append((n_free, course, unfit))
        if unfit is None and float(course.range_db.max()) >= _AMPLE_DB:
            break
    fit = [entry for entry in judged if entry[2] is None]
    return fit[-1] if fit else judged[0]


def _end_of_sound(sound: Sound, *, start: int, stop: int) -> int:
    """Frame after the last one that isn't digital silence: what was never recorded is no background."""
    while stop > start:
        begin = max(stop - sound.sample_rate_hz, start)
        loud = np.flatnonzero(sound.stretch(start=begin, stop=stop).any(axis=1))
        if loud.size:
            return begin + int(loud[-1]) + 1
        stop = begin
    return stop


def _before(arrivals: Sequence[Arrival], frame: int, *, i: int) -> frozenset[int]:
    """Arrivals after ``i`` that begin before a frame."""
    last = i + 1
    while last < len(arrivals) and arrivals[last].onset < frame:
        last += 1
    return frozenset(range(i + 1, last))


def _clap(
    arrivals: Sequence[Arrival], *, i: int, stop: int, own: frozenset[int], rate: int, because: Remark | None
) -> Clap:
    """Put a verdict into its value; something small after the decay ends the free stretch all the same."""
    strange = i + 1
    while strange in own:
        strange += 1
    if strange < len(arrivals):
        stop = min(stop, arrivals[strange].onset)
    return Clap(
        onset=arrivals[i].onset,
        stop=stop,
        sample_rate_hz=rate,
        peak_dbfs=20.0 * math.log10(max(arrivals[i].peak, 1e-12)),
        set_aside_because=because,
    )


def _sequel(sound: Sound, *, envelope: Envelope, arrivals: Sequence[Arrival], i: int) -> _Sequel:
    """Go through what arrives after an event up to the first thing that the room didn't make."""
    rate = sound.sample_rate_hz
    first = arrivals[i]
    period_s = 0.0
    echoes: set[int] = set()
    for j in range(i + 1, len(arrivals)):
        later = arrivals[j]
        delay_s = (later.onset - first.onset) / rate
        if delay_s > LONGEST_DECAY_S:
            return _Sequel(i_next=j, echoes=frozenset(echoes), period_s=period_s)
        if delay_s < SAME_EVENT_S:
            continue
        alike = likeness(sound, first=first.onset, later=later.onset)
        # The first echo of a row may hide in the reverberation, so that the second is met first.
        steps = (1, 2) if alike >= _ALIKE_BETWEEN else (1,)
        if _in_step(delay_s, period_s=period_s, steps=steps) or repeats(
            sound, envelope=envelope, first=first, later=later
        ):
            period_s = period_s or delay_s
            echoes.add(j)
        elif not is_echo(sound, first=first, onset=later.onset, energy=later.energy):
            return _Sequel(i_next=j, echoes=frozenset(echoes), period_s=period_s)
        elif alike >= ALIKE:
            echoes.add(j)
    return _Sequel(i_next=None, echoes=frozenset(echoes), period_s=period_s)


def _in_step(delay_s: float, *, period_s: float, steps: Sequence[int]) -> bool:
    """Whether a delay is a multiple of a period or of a part of it; never where there is no period."""
    parts_s = [period_s / step for step in steps] if period_s > 0.0 else []
    return any(abs(delay_s - part_s * round(delay_s / part_s)) < _PERIOD_SLACK_S for part_s in parts_s)


def _since_last(arrivals: Sequence[Arrival], *, i: int, rate: int) -> float | None:
    """Time since an earlier arrival close by that is not much weaker. [s]."""
    for earlier in reversed(arrivals[:i]):
        since_s = (arrivals[i].onset - earlier.onset) / rate
        if since_s > _CLOSE_S:
            break
        if _matters(earlier, beside=arrivals[i]):
            return since_s
    return None


def _until_next(arrivals: Sequence[Arrival], *, i: int, i_next: int | None, rate: int) -> float | None:
    """Time until the next event if it is close by and not much weaker. [s]."""
    if i_next is None:
        return None
    until_s = (arrivals[i_next].onset - arrivals[i].onset) / rate
    later = arrivals[i_next]
    # What swells up slowly only ends the decay; another blow makes one event of the two.
    if until_s > _CLOSE_S or not _matters(later, beside=arrivals[i]) or not_sudden(later) is not None:
        return None
    return until_s


def _matters(arrival: Arrival, *, beside: Arrival) -> bool:
    return 10.0 * math.log10(arrival.energy / beside.energy) > _MATTERS_DB
