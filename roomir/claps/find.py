"""From a recording to its claps: every sudden event, used or set aside with the reason."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from roomir.audio.recording import Sound
from roomir.claps.candidates import Arrival, find_arrivals
from roomir.claps.clap import Clap
from roomir.claps.echoes import SAME_EVENT_S, is_echo, repeats, strikes_twice
from roomir.claps.envelope import Envelope, onset_envelope
from roomir.claps.fitness import follow, free_steps
from roomir.claps.portrait import portray
from roomir.claps.verdict import Surroundings, judge

LONGEST_DECAY_S = 8.0
"""A free decay is followed no longer than this. [s]"""

_BEFORE_S = 0.3
_SHORTEST_PORTRAIT_S = 0.04
_CLOSE_S = 0.3
_MATTERS_DB = -15.0
_PERIOD_SLACK_S = 0.004


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
    i = 0
    while i < len(arrivals):
        clap, after = _examine(sound, envelope=envelope, arrivals=arrivals, i=i)
        claps.append(clap)
        i += 1
        while i < len(arrivals) and arrivals[i].onset < after:
            i += 1
    return tuple(claps)


def _examine(sound: Sound, *, envelope: Envelope, arrivals: Sequence[Arrival], i: int) -> tuple[Clap, int]:
    """Judge one arrival; return it and the frame up to which later arrivals belong to it."""
    rate = sound.sample_rate_hz
    arrival = arrivals[i]
    i_next, period_s = _next_event(sound, envelope=envelope, arrivals=arrivals, i=i)
    limit = min(sound.n_frames, arrival.onset + round(LONGEST_DECAY_S * rate))
    stop = min(arrivals[i_next].onset, limit) if i_next is not None else limit
    around = Surroundings(
        since_last_s=_since_last(arrivals, i=i, rate=rate),
        until_next_s=_until_next(arrivals, i=i, i_next=i_next, rate=rate),
        struck_again_s=strikes_twice(sound, envelope=envelope, first=arrival),
        free_s=(stop - arrival.onset) / rate,
        cut=stop < limit,
    )
    over = arrival.onset + round(SAME_EVENT_S * rate)
    if stop - arrival.onset < _SHORTEST_PORTRAIT_S * rate:
        because = judge(arrival, course=None, bands=(), around=around)
    else:
        portrait = portray(sound, onset=arrival.onset, before_s=_BEFORE_S, stop=stop)
        # A stretch that is free in every octave is best; one that is free in most of them will do.
        for n_free in dict.fromkeys(free_steps(portrait, period_s=period_s)):
            course = follow(portrait, n_free=n_free)
            cut_here = n_free < portrait.n_steps - portrait.i_onset
            here = replace(around, free_s=n_free * portrait.step_s, cut=around.cut or cut_here)
            because = judge(arrival, course=course, bands=portrait.bands, around=here)
            if because is None:
                break
        if cut_here:
            stop = arrival.onset + n_free * portrait.n_step
        over = max(over, min(stop, arrival.onset + round(course.end_s * rate)))
    # Something small may arrive once the decay is over; it ends the free stretch all the same.
    stop = next((a.onset for a in arrivals[i + 1 :] if over <= a.onset < stop), stop)
    clap = Clap(
        onset=arrival.onset,
        stop=stop,
        sample_rate_hz=rate,
        peak_dbfs=20.0 * math.log10(max(arrival.peak, 1e-12)),
        set_aside_because=because,
    )
    return clap, over


def _next_event(
    sound: Sound, *, envelope: Envelope, arrivals: Sequence[Arrival], i: int
) -> tuple[int | None, float]:
    """Find the next arrival that isn't the room's own, and the period of repeating echoes. [s]."""
    rate = sound.sample_rate_hz
    first = arrivals[i]
    period_s = 0.0
    for j in range(i + 1, len(arrivals)):
        later = arrivals[j]
        delay_s = (later.onset - first.onset) / rate
        if delay_s < SAME_EVENT_S or is_echo(sound, first=first, onset=later.onset, energy=later.energy):
            continue
        if delay_s > LONGEST_DECAY_S:
            return j, period_s
        if period_s and abs(delay_s - period_s * round(delay_s / period_s)) < _PERIOD_SLACK_S:
            continue
        if repeats(sound, envelope=envelope, first=first, later=later):
            period_s = period_s or delay_s
            continue
        return j, period_s
    return None, period_s


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
    if until_s > _CLOSE_S or not _matters(arrivals[i_next], beside=arrivals[i]):
        return None
    return until_s


def _matters(arrival: Arrival, *, beside: Arrival) -> bool:
    return 10.0 * math.log10(arrival.energy / beside.energy) > _MATTERS_DB
