"""Reverberation that an app adds is told by the delays it is made of. All values are invented."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import fftconvolve, lfilter

from roomir.audio.recording import SoundInMemory
from roomir.faults.added import LEAST_DELAYS, find_added, repeated_delays
from roomir.synth.box import BoxRoom, box_response
from roomir.synth.takes import make_take
from tests.faults import gained

DELAYS_S = (0.0297, 0.0371, 0.0411, 0.0437)
RATE_HZ = gained.RATE_HZ


def recirculated(sound: np.ndarray, delays_s: tuple[float, ...], *, feedback: float = 0.8) -> np.ndarray:
    out = np.zeros(sound.size)
    for delay_s in delays_s:
        n = round(delay_s * RATE_HZ)
        out += lfilter([1.0], [1.0, *np.zeros(n - 1), -feedback], sound)
    return sound + 0.5 * out


def hiss(seed: int, *, seconds: float = 0.7) -> np.ndarray:
    return np.random.default_rng(seed).standard_normal(round(seconds * RATE_HZ))


def test_each_delay_of_a_reverberator_is_found_in_hiss() -> None:
    found = repeated_delays([recirculated(hiss(1), DELAYS_S), recirculated(hiss(2), DELAYS_S)], rate=RATE_HZ)
    for delay_s in DELAYS_S:
        assert min(abs(delay_s - other) for other in found) < 1.5 / RATE_HZ


@pytest.mark.parametrize("seed", range(10, 16))
def test_plain_hiss_has_no_delay(seed: int) -> None:
    assert repeated_delays([hiss(seed), hiss(seed + 100)], rate=RATE_HZ) == []


@pytest.mark.parametrize("seed", range(20, 24))
def test_a_flutter_echo_has_one_delay_and_its_multiples(seed: int) -> None:
    found = repeated_delays([recirculated(hiss(seed), (0.0197,))], rate=RATE_HZ)
    assert 1 <= len(found) < LEAST_DELAYS


def test_hum_with_all_its_harmonics_is_no_reverberator() -> None:
    time_s = np.arange(round(0.7 * RATE_HZ)) / RATE_HZ
    hum = sum(np.sin(2.0 * np.pi * 50.0 * k * time_s + k**2) for k in range(1, 100))
    assert len(repeated_delays([hiss(30) + 0.3 * hum], rate=RATE_HZ)) < LEAST_DELAYS


def test_what_is_too_short_to_tell_says_nothing() -> None:
    sound = gained.recording_of(recirculated(hiss(40), DELAYS_S)).sound
    assert find_added(sound, [(0.0, 0.3), (0.4, 0.52)], take=0) == []
    assert len(find_added(sound, [(0.0, 0.7)], take=0)) == 1


def test_a_take_through_a_reverberator_says_what_is_possible() -> None:
    take = make_take(
        seed=50,
        sample_rate_hz=RATE_HZ,
        decay_time_s=0.4,
        n_claps=3,
        background_db=-60.0,
        spacing_s=(3.0, 3.2),
    )
    clean = gained.sound_of(take)
    assert gained.faults_of(clean) == ()
    (fault,) = gained.faults_of(recirculated(clean, DELAYS_S))
    assert fault.remark.code == "added-reverberation"
    assert "possibly" in fault.remark.says


def test_without_a_background_the_decays_tell() -> None:
    take = make_take(
        seed=51,
        sample_rate_hz=RATE_HZ,
        decay_time_s=0.5,
        n_claps=3,
        background_db=None,
        spacing_s=(1.0, 1.1),
    )
    clean = gained.sound_of(take)
    times_s = [clap.onset_s for clap in take.claps]
    decays_s = [(time_s + 0.05, time_s + 0.6) for time_s in times_s]

    assert find_added(_sound(clean), [], decays_s, take=0) == []
    (fault,) = find_added(_sound(recirculated(clean, DELAYS_S)), [], decays_s, take=0)
    assert "late decay" in fault.remark.says


def _in_a_bare_box(sound: np.ndarray, *, alpha: float) -> np.ndarray:
    """What a place in a box of 5.2 x 3.9 x 2.6 m gets of a source in another."""
    sides = ("west", "east", "south", "north", "floor", "ceiling")
    response = box_response(
        BoxRoom(length_m=5.2, width_m=3.9, height_m=2.6, **dict.fromkeys(sides, (alpha,) * 8)),
        source_m=(0.9, 1.1, 0.8),
        microphone_m=(3.6, 2.7, 1.4),
        sample_rate_hz=RATE_HZ,
        duration_s=0.8,
        sound_speed_m_per_s=343.0,
        rng=np.random.default_rng(7),
    )
    return np.asarray(fftconvolve(sound, response)[: sound.size])


@pytest.mark.parametrize("alpha", [0.08, 0.3])
def test_one_machine_in_a_bare_box_is_no_reverberator(alpha: float) -> None:
    noise = _in_a_bare_box(hiss(60, seconds=8.0), alpha=alpha)

    assert find_added(_sound(noise), [(0.5, 8.0)], take=0) == []


@pytest.mark.parametrize("alpha", [0.08, 0.3])
def test_claps_in_a_bare_box_are_in_no_reverberator(alpha: float) -> None:
    claps = np.zeros(RATE_HZ * 3)
    claps[[100, RATE_HZ, 2 * RATE_HZ]] = 1.0
    decays_s = [(at + 0.06, at + 0.7) for at in (0.0, 1.0, 2.0)]

    assert find_added(_sound(_in_a_bare_box(claps, alpha=alpha)), [], decays_s, take=0) == []


@pytest.mark.parametrize("seed", range(3))
def test_the_last_bit_of_a_measured_impulse_response_is_no_reverberator(seed: int) -> None:
    # A few steps of one bit are left of the decay, and silence.
    tail = np.round(hiss(seed) * 0.3 * np.exp(-np.arange(round(0.7 * RATE_HZ)) / (0.07 * RATE_HZ)))

    assert find_added(_sound(tail), [(0.0, 0.7)], take=0) == []


@pytest.mark.parametrize("seed", range(3))
def test_samples_written_again_for_a_higher_rate_are_no_reverberator(seed: int) -> None:
    sound = _sound(np.repeat(np.round(hiss(seed) * 100.0), 6), rate_hz=48_000)

    assert find_added(sound, [(0.0, 0.7)], take=0) == []


def _sound(samples: np.ndarray, *, rate_hz: int = RATE_HZ) -> SoundInMemory:
    return SoundInMemory(samples=samples.astype(np.float32)[:, np.newaxis], sample_rate_hz=rate_hz)
