"""Telling what the room sends back from a second event."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from roomir.audio.recording import Sound
from roomir.claps.candidates import Arrival
from roomir.claps.envelope import Envelope, changes, lag_frames

SAME_EVENT_S = 0.012
"""What arrives within this time belongs to the same event: nobody claps twice in it. [s]"""

ALIKE = 0.6
"""Least likeness of a reflection to what it reflects."""

_PULSE_S = 0.0025
_SLACK_S = 0.0015
_HELD = 0.9
_SPEED_OF_SOUND_M_PER_S = 343.0
_FAR_SOURCE_M = 8.0
_EARLY_S = 0.06
_EARLY_ALIKE_DB = 9.0
_LATE_ALIKE_DB = 6.5
_BLOW_RISE_DB = 5.5
_REPEATED_ALIKE = 0.75
_REPEATED_SAME = 0.93
_LONG_PERIOD_S = 0.16
_LONGEST_PERIOD_S = 0.4
_UNEQUAL_DB = 5.0


def loudest_echo_db(delay_s: float, *, alike: bool) -> float:
    """Level above which something that arrives ``delay_s`` later is no reflection. [dB re first arrival].

    What arrives later has come a longer way. With the source 8 m from the
    recorder, farther than in any room that is read, a reflection is weaker by
    ``20 log10(1 + c dt / 8 m)``; for a copy of the direct sound 9 dB are
    allowed on top (6.5 dB after 60 ms), for a source aimed at the wall and for
    reflections that fall together. One that no longer looks like the direct
    sound has been scattered, and has to be weaker.
    """
    spreading = -20.0 * float(np.log10(1.0 + _SPEED_OF_SOUND_M_PER_S * delay_s / _FAR_SOURCE_M))
    if not alike:
        return spreading
    return spreading + (_EARLY_ALIKE_DB if delay_s < _EARLY_S else _LATE_ALIKE_DB)


def is_echo(sound: Sound, *, first: Arrival, onset: int, energy: float) -> bool:
    """Whether an arrival at ``onset`` may be a reflection of the first, by delay, level and likeness."""
    delay_s = (onset - first.onset) / sound.sample_rate_hz
    level_db = _decibels(energy, over=first.energy)
    if level_db <= loudest_echo_db(delay_s, alike=False):
        return True
    if level_db > loudest_echo_db(delay_s, alike=True):
        return False
    return likeness(sound, first=first.onset, later=onset) >= ALIKE


def likeness(sound: Sound, *, first: int, later: int) -> float:
    """How far what arrives at a later onset is a copy of the first sound, 0 to 1.

    The first 2.5 ms, or as many as hold its energy, are looked for within
    1.5 ms of the later onset. What is explained by a scaled copy is compared
    with what has come on top of the energy before.
    """
    rate = sound.sample_rate_hz
    lag = max(1, lag_frames(sample_rate_hz=rate) // 2)
    n_pulse = max(round(_PULSE_S * rate), 4)
    n_slack = round(_SLACK_S * rate)
    pulses = changes(sound, start=first, stop=first + n_pulse, lag=lag, from_silence=True).astype(np.float64)
    channel = int(np.argmax(np.sum(pulses**2, axis=0)))
    pulse = pulses[:, channel]
    held = np.cumsum(pulse**2)
    if not held[-1] > 0.0:
        return 0.0
    pulse = pulse[: max(int(np.searchsorted(held, _HELD * held[-1])) + 1, 4)]
    start = max(later - n_slack - n_pulse, 0)
    where = changes(sound, start=start, stop=later + n_pulse + n_slack, lag=lag).astype(np.float64)[
        :, channel
    ]
    if where.size < pulse.size:
        return 0.0
    energies = np.convolve(where**2, np.ones(pulse.size), mode="valid")
    explained = np.correlate(where, pulse) ** 2 / float(np.sum(pulse**2))
    begin = min(max(later - n_slack, 0) - start, explained.size - 1)
    before = float(energies[: max(begin, 1)].mean()) if begin > 0 else 0.0
    best = begin + int(np.argmax(explained[begin:]))
    on_top = max(float(energies[best]) - before, 0.3 * float(energies[best]), 1e-30)
    return min(float(np.sqrt(float(explained[best]) / on_top)), 1.0)


def repeats(sound: Sound, *, envelope: Envelope, first: Arrival, later: Arrival) -> bool:
    """Whether a later arrival is one of a row of like echoes at equal distances, each weaker.

    Flutter between two walls and the echo of a long hall go on repeating; a
    second clap does not.
    """
    delay = later.onset - first.onset
    delay_s = delay / sound.sample_rate_hz
    if delay_s > _LONGEST_PERIOD_S:
        return False
    i_again = round((later.onset + delay) / envelope.n_step)
    again = envelope.energy[max(i_again - 2, 0) : i_again + 4]
    if again.size == 0 or not 0.0 < float(again.max()) < later.energy < first.energy:
        return False
    # Energy is lost alike from wall to wall, but the first echo has also lost to distance.
    unequal_db = _decibels(later.energy, over=float(again.max())) - _decibels(first.energy, over=later.energy)
    if unequal_db > _UNEQUAL_DB:
        return False
    # Walls so far apart belong to a hall; in a room it may be every tenth echo of a faster flutter.
    least = _REPEATED_ALIKE if delay_s < _LONG_PERIOD_S else _REPEATED_SAME
    return all(
        likeness(sound, first=first.onset, later=onset) >= least
        for onset in (later.onset, later.onset + delay)
    )


def later_blows(
    sound: Sound, *, envelope: Envelope, first: Arrival, from_s: float, to_s: float
) -> Iterator[float]:
    """Find blows so soon after the first that the envelope's rises don't show them.

    Parameters
    ----------
    sound : Sound
        The recording.
    envelope : Envelope
        Its envelope.
    first : Arrival
        The event.
    from_s, to_s : float
        Where to look, from its onset. [s]

    Yields
    ------
    float
        How long after the onset another blow falls: something that stands
        out of the decay and is no reflection. [s]
    """
    energy, step_s = envelope.energy, envelope.step_s
    begin = first.i_step + max(round(from_s / step_s), 7)
    stop = min(first.i_step + round(to_s / step_s), energy.size - 3)
    for i in range(begin, stop):
        top = float(energy[i : i + 2].max())
        if top < float(energy[i - 4 : i + 3].max()):
            continue
        rise_db = _decibels(0.5 * float(energy[i] + energy[i + 1]), over=float(energy[i - 7 : i - 1].mean()))
        if rise_db < _BLOW_RISE_DB:
            continue
        delay_s = (i - first.i_step) * step_s
        onset = first.onset + round(delay_s * sound.sample_rate_hz)
        if not is_echo(sound, first=first, onset=onset, energy=top):
            yield delay_s


def _decibels(energy: float, *, over: float) -> float:
    if not energy > 0.0:
        return float("-inf")
    return 10.0 * float(np.log10(energy / over)) if over > 0.0 else float("inf")
