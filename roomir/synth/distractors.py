"""Sounds on a take that are not claps: talking, walking, doors, the recorder itself.

Each function gives the dry sound of one disturbance, largest magnitude 1.
Some happen in the room and are heard with its decay, some at the recorder or
in its electronics and are not; ``KINDS`` says which, and how loud each
usually is beside a clap. The sounds are models made for trying the clap
finder, varied as widely as a generator can be; they imitate nobody.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from roomir.synth.sources import board_pulse, clap_pulse

Sound = NDArray[np.float64]
"""Dry sound, shape (n,), largest magnitude 1."""


class DrySound(Protocol):
    """Something that can sound once."""

    def __call__(self, *, rng: np.random.Generator, sample_rate_hz: int) -> Sound:
        """Make the sound with all its variation drawn from ``rng``."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One kind of disturbance.

    Attributes
    ----------
    make : DrySound
        Makes one.
    in_the_room : bool
        Whether the room is heard with it.
    level_db : (float, float)
        Usual highest magnitude re the highest of a clap, from quiet to loud. [dB]
    """

    make: DrySound
    in_the_room: bool
    level_db: tuple[float, float]


def speech(*, rng: np.random.Generator, sample_rate_hz: int) -> Sound:
    """Say a phrase of 2 to 12 syllables at 3 to 6 syllables a second."""
    pitch_hz = rng.uniform(85.0, 260.0)
    syllables = [
        _syllable(rng=rng, rate=sample_rate_hz, pitch_hz=pitch_hz * rng.uniform(0.85, 1.2))
        for _ in range(int(rng.integers(2, 13)))
    ]
    gaps_s = rng.uniform(0.0, 0.06, size=len(syllables)) + (rng.random(len(syllables)) < 0.15) * 0.25
    return _peak_one(_one_after_another(syllables, gaps_s=gaps_s, rate=sample_rate_hz))


def counting(*, rng: np.random.Generator, sample_rate_hz: int) -> Sound:
    """Count aloud: one to four words, one or two syllables each, at a walking pace."""
    pitch_hz = rng.uniform(85.0, 260.0)
    pace_s = rng.uniform(0.4, 1.0)
    words = []
    for _ in range(int(rng.integers(1, 5))):
        syllables = [
            _syllable(rng=rng, rate=sample_rate_hz, pitch_hz=pitch_hz, stressed=True)
            for _ in range(int(rng.integers(1, 3)))
        ]
        words.append(_one_after_another(syllables, gaps_s=np.full(len(syllables), 0.01), rate=sample_rate_hz))
    gaps_s = np.array([max(pace_s - word.size / sample_rate_hz, 0.05) for word in words])
    return _peak_one(_one_after_another(words, gaps_s=gaps_s, rate=sample_rate_hz))


def cough(*, rng: np.random.Generator, sample_rate_hz: int) -> Sound:
    """Cough once or twice: a sudden burst of breath and a voiced rest."""
    coughs = []
    for _ in range(int(rng.integers(1, 3))):
        time_s = _times(rng.uniform(0.2, 0.45), sample_rate_hz)
        burst = _coloured(rng=rng, n=time_s.size, low_hz=300.0, high_hz=3500.0, rate=sample_rate_hz)
        envelope = (1.0 - np.exp(-time_s / rng.uniform(0.001, 0.008))) * (
            np.exp(-time_s / rng.uniform(0.03, 0.06)) + 0.4 * np.exp(-(((time_s - 0.16) / 0.07) ** 2))
        )
        coughs.append(burst * envelope)
    return _peak_one(
        _one_after_another(coughs, gaps_s=rng.uniform(0.05, 0.3, size=len(coughs)), rate=sample_rate_hz)
    )


def footsteps(*, rng: np.random.Generator, sample_rate_hz: int) -> Sound:
    """Walk two to eight steps: a thump of the floor, with or without the tick of a heel and a scuff."""
    pace_s = rng.uniform(0.4, 0.75)
    heel = rng.choice([0.0, rng.uniform(0.02, 0.35)])
    floor_hz = rng.uniform(50.0, 180.0)
    n_steps = int(rng.integers(2, 9))
    sound = np.zeros(int((n_steps * pace_s + 0.6) * sample_rate_hz))
    for step in range(n_steps):
        time_s = _times(0.35, sample_rate_hz)
        thump = _together(
            rng.uniform(0.4, 1.0)
            * _mode(time_s, hz=floor_hz * ratio * rng.uniform(0.9, 1.1), fall_s=rng.uniform(0.02, 0.08))
            for ratio in (1.0, 1.7, 2.6)
        )
        sole = _coloured(rng=rng, n=time_s.size, low_hz=200.0, high_hz=1500.0, rate=sample_rate_hz)
        sole *= 0.2 * np.exp(-time_s / rng.uniform(0.01, 0.03)) * (1.0 - np.exp(-time_s / 0.004))
        tick = clap_pulse(rng=rng, sample_rate_hz=sample_rate_hz, cavity_hz=rng.uniform(800.0, 2500.0))
        whole = _peak_one(thump) + sole
        _add(whole, heel * tick, at=0)
        _add(whole, heel * 0.7 * tick, at=int(rng.uniform(0.05, 0.12) * sample_rate_hz))
        at = int((step * pace_s + rng.uniform(0.0, 0.05)) * sample_rate_hz)
        _add(sound, whole * rng.uniform(0.5, 1.0), at=at)
    return _peak_one(sound)


def handling(*, rng: np.random.Generator, sample_rate_hz: int) -> Sound:
    """Move the recorder: thumps of its case, taps of a finger and rubbing."""
    sound = np.zeros(int(rng.uniform(0.5, 2.5) * sample_rate_hz))
    for _ in range(int(rng.integers(1, 7))):
        at = int(rng.uniform(0.0, 0.8) * sound.size)
        time_s = _times(0.2, sample_rate_hz)
        if rng.random() < 0.5:
            bump = _mode(time_s, hz=rng.uniform(25.0, 140.0), fall_s=rng.uniform(0.01, 0.06))
        else:
            bump = _mode(time_s, hz=rng.uniform(200.0, 1500.0), fall_s=rng.uniform(0.002, 0.008))
            bump += 0.3 * rng.standard_normal(time_s.size) * np.exp(-time_s / 0.001)
        _add(sound, bump * rng.uniform(0.2, 1.0), at=at)
    rubbing = _coloured(rng=rng, n=sound.size, low_hz=100.0, high_hz=3000.0, rate=sample_rate_hz)
    strength = _smooth_noise(rng=rng, n=sound.size, corner_hz=rng.uniform(3.0, 12.0), rate=sample_rate_hz)
    sound += rng.uniform(0.0, 0.5) * rubbing * np.clip(strength, 0.0, None) * _faded(sound.size)
    return _peak_one(sound)


def door_slam(*, rng: np.random.Generator, sample_rate_hz: int) -> Sound:
    """Shut a door: the latch, the leaf against its frame, and what rattles afterwards."""
    sound = np.zeros(int(1.0 * sample_rate_hz))
    time_s = _times(0.7, sample_rate_hz)
    lead = int(rng.uniform(0.02, 0.12) * sample_rate_hz)
    leaf = _together(
        rng.uniform(0.3, 1.0) * _mode(time_s, hz=rng.uniform(40.0, 220.0), fall_s=rng.uniform(0.03, 0.12))
        for _ in range(5)
    )
    crash = _coloured(
        rng=rng, n=time_s.size, low_hz=150.0, high_hz=rng.uniform(800.0, 3000.0), rate=sample_rate_hz
    )
    crash *= np.exp(-time_s / rng.uniform(0.015, 0.05)) * (1.0 - np.exp(-time_s / rng.uniform(0.0005, 0.006)))
    _add(sound, _peak_one(leaf) + rng.uniform(0.2, 1.2) * _peak_one(crash), at=lead)
    latch = clap_pulse(rng=rng, sample_rate_hz=sample_rate_hz, cavity_hz=rng.uniform(1500.0, 3000.0))
    _add(sound, rng.uniform(0.02, 0.3) * latch, at=0)
    for _ in range(int(rng.integers(1, 5))):
        _add(sound, rng.uniform(0.02, 0.2) * latch, at=lead + int(rng.uniform(0.03, 0.3) * sample_rate_hz))
    return _peak_one(sound)


def recorder_clicks(*, rng: np.random.Generator, sample_rate_hz: int) -> Sound:
    """Let the electronics click: single frames, steps that leak away, bursts of lost data."""
    sound = np.zeros(int(rng.uniform(0.2, 1.5) * sample_rate_hz) + 8)
    for _ in range(int(rng.integers(1, 4))):
        at = int(rng.uniform(0.0, 0.9) * sound.size)
        shape = int(rng.integers(0, 3))
        if shape == 0:
            _add(sound, rng.choice([-1.0, 1.0]) * np.ones(int(rng.integers(1, 4))), at=at)
        elif shape == 1:
            _add(sound, np.exp(-_times(0.05, sample_rate_hz) / rng.uniform(0.0005, 0.01)), at=at)
        else:
            _add(
                sound, rng.uniform(-1.0, 1.0, size=int(rng.uniform(0.001, 0.012) * sample_rate_hz) + 2), at=at
            )
    return _peak_one(sound)


def double_clap(*, rng: np.random.Generator, sample_rate_hz: int) -> Sound:
    """Clap twice in quick succession, 50 to 220 ms apart."""
    return _clap_pair(rng=rng, rate=sample_rate_hz, apart_s=rng.uniform(0.05, 0.22))


def flam(*, rng: np.random.Generator, sample_rate_hz: int) -> Sound:
    """Clap so that the hands meet twice, 15 to 50 ms apart, or two people clapping almost together."""
    return _clap_pair(rng=rng, rate=sample_rate_hz, apart_s=rng.uniform(0.015, 0.05))


def dropped_object(*, rng: np.random.Generator, sample_rate_hz: int) -> Sound:
    """Drop something hard: bounces that come ever faster and softer."""
    bounce = rng.uniform(0.35, 0.75)
    flight_s = rng.uniform(0.12, 0.4)
    ring_hz = rng.uniform(400.0, 5000.0, size=4)
    hits: list[tuple[float, float]] = []
    at_s, strength = 0.0, 1.0
    while strength > 0.03 and len(hits) < 12:
        hits.append((at_s, strength))
        at_s += flight_s
        flight_s *= bounce
        strength *= bounce
    sound = np.zeros(int((at_s + 0.4) * sample_rate_hz))
    time_s = _times(0.3, sample_rate_hz)
    for at_s, strength in hits:
        hit = _together(
            rng.uniform(0.2, 1.0) * _mode(time_s, hz=float(hz), fall_s=rng.uniform(0.003, 0.03))
            for hz in ring_hz
        )
        hit = hit + rng.standard_normal(time_s.size) * np.exp(-time_s / 0.0006)
        _add(sound, strength * hit, at=int(at_s * sample_rate_hz))
    return _peak_one(sound)


def knock_with_rattle(*, rng: np.random.Generator, sample_rate_hz: int) -> Sound:
    """Knock on something that rattles on for 0.1 to 0.5 s."""
    length_s = rng.uniform(0.1, 0.5)
    sound = np.zeros(int((length_s + 0.2) * sample_rate_hz))
    _add(sound, board_pulse(rng=rng, sample_rate_hz=sample_rate_hz), at=0)
    at_s = rng.uniform(0.015, 0.04)
    strength = rng.uniform(0.2, 0.7)
    while at_s < length_s:
        _add(
            sound,
            strength * board_pulse(rng=rng, sample_rate_hz=sample_rate_hz),
            at=int(at_s * sample_rate_hz),
        )
        at_s += rng.uniform(0.012, 0.05)
        strength *= rng.uniform(0.75, 1.0)
    return _peak_one(sound)


def chair_scrape(*, rng: np.random.Generator, sample_rate_hz: int) -> Sound:
    """Push a chair: the stick and slip of its legs, 40 to 300 times a second."""
    n = int(rng.uniform(0.3, 1.5) * sample_rate_hz)
    rate_hz = rng.uniform(40.0, 300.0) * (
        1.0 + 0.2 * _smooth_noise(rng=rng, n=n, corner_hz=6.0, rate=sample_rate_hz)
    )
    phase = np.cumsum(np.abs(rate_hz)) / sample_rate_hz
    slips = np.diff(np.floor(phase), prepend=0.0) * rng.uniform(0.3, 1.0, size=n)
    body = board_pulse(rng=rng, sample_rate_hz=sample_rate_hz)
    sound = _convolved(slips, body) * np.interp(np.arange(n + body.size - 1), np.arange(n), _faded(n))
    return _peak_one(sound)


def keys(*, rng: np.random.Generator, sample_rate_hz: int) -> Sound:
    """Shake a bunch of keys: many small bright hits in no order."""
    sound = np.zeros(int(rng.uniform(0.3, 1.2) * sample_rate_hz))
    time_s = _times(0.12, sample_rate_hz)
    for at_s in np.sort(rng.uniform(0.0, 0.9 * sound.size / sample_rate_hz, size=int(rng.integers(5, 30)))):
        top_hz = min(12000.0, 0.45 * sample_rate_hz)
        hit = _together(
            _mode(time_s, hz=rng.uniform(0.2, 1.0) * top_hz, fall_s=rng.uniform(0.004, 0.03))
            for _ in range(3)
        )
        _add(sound, rng.uniform(0.1, 1.0) * hit, at=int(at_s * sample_rate_hz))
    return _peak_one(sound)


def beeps(*, rng: np.random.Generator, sample_rate_hz: int) -> Sound:
    """Let a device beep: tones that start within a millisecond or two and stop as quickly."""
    tones = []
    for _ in range(int(rng.integers(1, 4))):
        time_s = _times(rng.uniform(0.05, 0.4), sample_rate_hz)
        edge_s = rng.uniform(0.0003, 0.01)
        gate = np.minimum(1.0, np.minimum(time_s, time_s[-1] - time_s) / edge_s)
        tones.append(
            gate * np.sin(2.0 * np.pi * rng.uniform(400.0, min(4000.0, 0.4 * sample_rate_hz)) * time_s)
        )
    return _peak_one(
        _one_after_another(tones, gaps_s=rng.uniform(0.03, 0.3, size=len(tones)), rate=sample_rate_hz)
    )


def wind(*, rng: np.random.Generator, sample_rate_hz: int) -> Sound:
    """Blow across the microphone: a gust of rumble."""
    n = int(rng.uniform(0.8, 3.0) * sample_rate_hz)
    rumble = _coloured(rng=rng, n=n, low_hz=15.0, high_hz=rng.uniform(60.0, 250.0), rate=sample_rate_hz)
    gust = np.clip(0.5 + _smooth_noise(rng=rng, n=n, corner_hz=3.0, rate=sample_rate_hz), 0.0, None)
    return _peak_one(rumble * gust * _faded(n))


def hum(*, rng: np.random.Generator, sample_rate_hz: int) -> Sound:
    """Switch on a machine that hums at the mains' frequency and its multiples for 1 to 4 s."""
    time_s = _times(rng.uniform(1.0, 4.0), sample_rate_hz)
    mains_hz = rng.choice([50.0, 60.0])
    sound = np.zeros_like(time_s)
    for multiple in range(1, 13):
        if multiple * mains_hz < 0.45 * sample_rate_hz:
            phase = rng.uniform(0.0, 2.0 * np.pi)
            level = rng.uniform(0.1, 1.0) / multiple
            sound += level * np.sin(2.0 * np.pi * multiple * mains_hz * time_s + phase)
    start_s = rng.uniform(0.0005, 0.2)
    return _peak_one(
        sound * (1.0 - np.exp(-time_s / start_s)) * np.minimum(1.0, (time_s[-1] - time_s) / 0.05)
    )


KINDS: Mapping[str, Kind] = {
    "speech": Kind(make=speech, in_the_room=True, level_db=(-30.0, 0.0)),
    "counting": Kind(make=counting, in_the_room=True, level_db=(-30.0, 0.0)),
    "cough": Kind(make=cough, in_the_room=True, level_db=(-25.0, 0.0)),
    "footsteps": Kind(make=footsteps, in_the_room=True, level_db=(-40.0, -8.0)),
    "handling": Kind(make=handling, in_the_room=False, level_db=(-35.0, 3.0)),
    "door-slam": Kind(make=door_slam, in_the_room=True, level_db=(-20.0, 3.0)),
    "recorder-clicks": Kind(make=recorder_clicks, in_the_room=False, level_db=(-30.0, 6.0)),
    "double-clap": Kind(make=double_clap, in_the_room=True, level_db=(-10.0, 0.0)),
    "flam": Kind(make=flam, in_the_room=True, level_db=(-10.0, 0.0)),
    "dropped-object": Kind(make=dropped_object, in_the_room=True, level_db=(-25.0, 0.0)),
    "knock-with-rattle": Kind(make=knock_with_rattle, in_the_room=True, level_db=(-20.0, 0.0)),
    "chair-scrape": Kind(make=chair_scrape, in_the_room=True, level_db=(-30.0, 0.0)),
    "keys": Kind(make=keys, in_the_room=True, level_db=(-30.0, -5.0)),
    "beeps": Kind(make=beeps, in_the_room=True, level_db=(-35.0, -5.0)),
    "wind": Kind(make=wind, in_the_room=False, level_db=(-30.0, 3.0)),
    "hum": Kind(make=hum, in_the_room=False, level_db=(-40.0, -10.0)),
}
"""Every kind of disturbance by name."""


def _syllable(*, rng: np.random.Generator, rate: int, pitch_hz: float, stressed: bool = False) -> Sound:
    """One syllable: perhaps a consonant, a vowel of pulses through formants, perhaps a closing consonant."""
    vowel = _vowel(
        rng=rng,
        rate=rate,
        pitch_hz=pitch_hz,
        length_s=rng.uniform(0.12, 0.35) if stressed else rng.uniform(0.06, 0.22),
    )
    parts: list[Sound] = []
    gaps_s: list[float] = []
    opening = rng.random()
    if opening < 0.4:  # plosive: a burst, then the wait for the voice
        parts.append(_peak_one(_burst(rng=rng, rate=rate)) * rng.uniform(0.1, 0.8))
        gaps_s.append(rng.uniform(0.0, 0.05))
    elif opening < 0.65:
        parts.append(_hiss(rng=rng, rate=rate) * rng.uniform(0.05, 0.4))
        gaps_s.append(0.0)
    parts.append(vowel)
    gaps_s.append(rng.uniform(0.0, 0.01))
    closing = rng.random()
    if closing < 0.25:  # closure, then release
        gaps_s[-1] = rng.uniform(0.03, 0.12)
        parts.append(_peak_one(_burst(rng=rng, rate=rate)) * rng.uniform(0.05, 0.6))
        gaps_s.append(0.0)
    elif closing < 0.45:
        parts.append(_hiss(rng=rng, rate=rate) * rng.uniform(0.05, 0.35))
        gaps_s.append(0.0)
    return _one_after_another(parts, gaps_s=np.array(gaps_s), rate=rate) * rng.uniform(0.4, 1.0)


def _vowel(*, rng: np.random.Generator, rate: int, pitch_hz: float, length_s: float) -> Sound:
    from scipy.signal import lfilter

    n = int(length_s * rate)
    glide = np.linspace(1.0, rng.uniform(0.8, 1.15), n) * (1.0 + 0.01 * rng.standard_normal(n))
    phase = np.cumsum(pitch_hz * glide) / rate
    sound = np.diff(np.floor(phase), prepend=0.0) + 0.01 * rng.standard_normal(n)
    slope = np.exp(-2.0 * np.pi * 120.0 / rate)
    sound = lfilter([1.0 - slope], [1.0, -slope], sound)  # the glottis: -6 dB per octave
    for low_hz, high_hz, width_hz in (
        (250.0, 850.0, 80.0),
        (800.0, 2300.0, 110.0),
        (2200.0, 3200.0, 160.0),
        (3300.0, 4200.0, 250.0),
    ):
        centre_hz = rng.uniform(low_hz, high_hz)
        if centre_hz > 0.45 * rate:
            continue
        radius = np.exp(-np.pi * width_hz / rate)
        turn = 2.0 * np.pi * centre_hz / rate
        sound = lfilter(
            [1.0 - 2.0 * radius * np.cos(turn) + radius**2],
            [1.0, -2.0 * radius * np.cos(turn), radius**2],
            sound,
        )
    time_s = np.arange(n) / rate
    rise_s, fall_s = rng.uniform(0.003, 0.04), rng.uniform(0.02, 0.08)
    gate = np.minimum(1.0, np.minimum(time_s / rise_s, (time_s[-1] - time_s) / fall_s))
    return _peak_one(np.diff(sound, prepend=0.0) * gate)


def _burst(*, rng: np.random.Generator, rate: int) -> Sound:
    time_s = _times(rng.uniform(0.01, 0.06), rate)
    low_hz = rng.choice([400.0, 1200.0, 2500.0])
    noise = _coloured(rng=rng, n=time_s.size, low_hz=low_hz, high_hz=4.0 * low_hz, rate=rate)
    return noise * (1.0 - np.exp(-time_s / 0.0004)) * np.exp(-time_s / rng.uniform(0.004, 0.02))


def _hiss(*, rng: np.random.Generator, rate: int) -> Sound:
    n = int(rng.uniform(0.05, 0.16) * rate)
    return _peak_one(
        _coloured(rng=rng, n=n, low_hz=rng.uniform(1500.0, 4500.0), high_hz=9000.0, rate=rate) * _faded(n)
    )


def _clap_pair(*, rng: np.random.Generator, rate: int, apart_s: float) -> Sound:
    first = clap_pulse(rng=rng, sample_rate_hz=rate)
    same_hands = rng.random() < 0.3
    second = first if same_hands else clap_pulse(rng=rng, sample_rate_hz=rate)
    sound = np.zeros(int(apart_s * rate) + max(first.size, second.size))
    _add(sound, first, at=0)
    _add(sound, 10.0 ** (rng.uniform(-8.0, 6.0) / 20.0) * second, at=int(apart_s * rate))
    return _peak_one(sound)


def _mode(time_s: Sound, *, hz: float, fall_s: float) -> Sound:
    """Struck mode with amplitude falling to 1/e in ``fall_s``; a rise of 0.2 ms keeps it free of a step."""
    sound: Sound = (
        np.sin(2.0 * np.pi * hz * time_s) * np.exp(-time_s / fall_s) * (1.0 - np.exp(-time_s / 0.0002))
    )
    return sound


def _coloured(*, rng: np.random.Generator, n: int, low_hz: float, high_hz: float, rate: int) -> Sound:
    """Gaussian noise between two frequencies with gentle edges, root mean square 1."""
    n_fft = 1 << (n - 1).bit_length()
    frequency = np.fft.rfftfreq(n_fft, 1.0 / rate)
    gain = 1.0 / np.sqrt(1.0 + (low_hz / np.maximum(frequency, 1e-3)) ** 4 + (frequency / high_hz) ** 4)
    noise: Sound = np.fft.irfft(np.fft.rfft(rng.standard_normal(n_fft)) * gain, n_fft)[:n]
    scatter = float(np.std(noise))
    return noise / scatter if scatter > 0.0 else noise


def _smooth_noise(*, rng: np.random.Generator, n: int, corner_hz: float, rate: int) -> Sound:
    """Slow random swing around zero, standard deviation about 1."""
    n_knots = max(int(2.0 * corner_hz * n / rate), 2) + 2
    return np.interp(np.linspace(0.0, n_knots - 1.0, n), np.arange(n_knots), rng.standard_normal(n_knots))


def _faded(n: int) -> Sound:
    """Rise and fall over a fifth of the length each."""
    place = np.linspace(0.0, 1.0, n)
    return np.clip(np.minimum(place, 1.0 - place) / 0.2, 0.0, 1.0)


def _together(sounds: Iterable[Sound]) -> Sound:
    total: Sound = np.sum(list(sounds), axis=0)
    return total


def _times(length_s: float, rate: int) -> Sound:
    return np.arange(max(int(length_s * rate), 4)) / rate


def _add(sound: Sound, piece: Sound, *, at: int) -> None:
    stop = min(at + piece.size, sound.size)
    sound[at:stop] += piece[: stop - at]


def _one_after_another(parts: list[Sound], *, gaps_s: Sound, rate: int) -> Sound:
    pieces: list[Sound] = []
    for part, gap_s in zip(parts, gaps_s, strict=True):
        pieces += [part, np.zeros(int(gap_s * rate))]
    return np.concatenate(pieces)


def _convolved(sound: Sound, body: Sound) -> Sound:
    n = sound.size + body.size - 1
    n_fft = 1 << (n - 1).bit_length()
    return np.fft.irfft(np.fft.rfft(sound, n_fft) * np.fft.rfft(body, n_fft), n_fft)[:n]


def _peak_one(sound: Sound) -> Sound:
    peak = float(np.max(np.abs(sound)))
    return sound / peak if peak > 0.0 else sound
