"""Reverberation that an app adds is told by the delays it is made of. All values are invented."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import lfilter

from roomir.audio.recording import SoundInMemory
from roomir.faults.added import LEAST_DELAYS, find_added, repeated_delays
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
    assert find_added(sound, [(0.0, 0.2), (0.3, 0.5)], take=0) == []
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
