"""Telling what the room sends back from a second event."""

from __future__ import annotations

import numpy as np

from roomir.audio.recording import Sound
from roomir.claps.candidates import Arrival
from roomir.claps.envelope import Envelope, changes, lag_frames

SAME_EVENT_S = 0.012
"""What arrives within this time belongs to the same event: nobody claps twice in it. [s]"""

_PULSE_S = 0.0025
_SLACK_S = 0.0015
_ALIKE = 0.6
_SPEED_OF_SOUND_M_PER_S = 343.0
_FAR_SOURCE_M = 8.0
_AIMED_AT_WALL_DB = 4.0
_UNLIKE_DB = 0.0
_STRIKE_RISE = 3.0
_REPEATED_ALIKE = 0.75


def loudest_echo_db(delay_s: float, *, alike: bool) -> float:
    """Level above which something that arrives ``delay_s`` later is no reflection. [dB re first arrival].

    What arrives later has come a longer way. With the source 8 m from the
    recorder, farther than in any room that is read, a reflection is weaker by
    ``20 log10(1 + c dt / 8 m)``; 4 dB are allowed on top for a source aimed at
    the wall. A reflection that no longer looks like the direct sound has been
    scattered, and has to be weaker still.
    """
    spreading = -20.0 * float(np.log10(1.0 + _SPEED_OF_SOUND_M_PER_S * delay_s / _FAR_SOURCE_M))
    return spreading + (_AIMED_AT_WALL_DB if alike else _UNLIKE_DB)


def is_echo(sound: Sound, *, first: Arrival, onset: int, energy: float) -> bool:
    """Whether an arrival at ``onset`` may be a reflection of the first, by delay, level and likeness."""
    delay_s = (onset - first.onset) / sound.sample_rate_hz
    level_db = 10.0 * float(np.log10(energy / first.energy))
    if level_db <= loudest_echo_db(delay_s, alike=False):
        return True
    if level_db > loudest_echo_db(delay_s, alike=True):
        return False
    return likeness(sound, first=first.onset, later=onset) >= _ALIKE


def likeness(sound: Sound, *, first: int, later: int) -> float:
    """Largest normalised correlation of the sound at two onsets, within 1.5 ms; 0 to 1."""
    rate = sound.sample_rate_hz
    lag = max(1, lag_frames(sample_rate_hz=rate) // 2)
    n_pulse = max(round(_PULSE_S * rate), 4)
    n_slack = round(_SLACK_S * rate)
    pulses = changes(sound, start=first, stop=first + n_pulse, lag=lag, from_silence=True).astype(np.float64)
    channel = int(np.argmax(np.sum(pulses**2, axis=0)))
    pulse = pulses[:, channel]
    start, stop = max(later - n_slack, 0), later + n_pulse + n_slack
    where = changes(sound, start=start, stop=stop, lag=lag).astype(np.float64)[:, channel]
    if where.size < pulse.size or not pulse.any():
        return 0.0
    products = np.correlate(where, pulse)
    energies = np.convolve(where**2, np.ones(pulse.size), mode="valid")
    scale = np.sqrt(energies * float(np.sum(pulse**2)))
    return float(np.max(np.abs(products) / np.maximum(scale, 1e-30)))


def repeats(sound: Sound, *, envelope: Envelope, first: Arrival, later: Arrival) -> bool:
    """Whether a later arrival is one of a row of like echoes at equal distances, each weaker.

    Flutter between two walls and the echo of a long hall go on repeating; a
    second clap does not.
    """
    delay = later.onset - first.onset
    i_again = round((later.onset + delay) / envelope.n_step)
    again = envelope.energy[max(i_again - 2, 0) : i_again + 4]
    if again.size == 0 or not float(again.max()) < later.energy < first.energy:
        return False
    return all(
        likeness(sound, first=first.onset, later=onset) >= _REPEATED_ALIKE
        for onset in (later.onset, later.onset + delay)
    )


def strikes_twice(
    sound: Sound, *, envelope: Envelope, first: Arrival, within_s: float = 0.06
) -> float | None:
    """Look for a second blow so soon after the first that the envelope's rises don't show it.

    Returns
    -------
    float or None
        How long after the onset the hands (or two people's hands) met again. [s]
    """
    energy, step_s = envelope.energy, envelope.step_s
    begin = first.i_step + round(SAME_EVENT_S / step_s)
    for i in range(begin, min(first.i_step + round(within_s / step_s), energy.size - 6)):
        top = float(energy[i : i + 2].max())
        local = float(energy[i - 7 : i - 1].mean())
        if 0.5 * (energy[i] + energy[i + 1]) < _STRIKE_RISE * local or top < energy[i - 4 : i + 6].max():
            continue
        delay_s = (i - first.i_step) * step_s
        if 10.0 * np.log10(top / first.energy) <= loudest_echo_db(delay_s, alike=False):
            continue
        if not is_echo(
            sound, first=first, onset=first.onset + round(delay_s * sound.sample_rate_hz), energy=top
        ):
            return delay_s
    return None
