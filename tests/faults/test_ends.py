"""Fades at the ends of a take, and ends that are none."""

import numpy as np
import pytest

from roomir.faults.ends import follow_fade
from tests.faults.rooms import RATE_HZ, clapped, codes, inspected, recorded, rounded


def faded(length_s: float, *, shape: str, backwards: bool = True) -> np.ndarray:
    sound = np.array(clapped(seed=9, decay_time_s=0.4).samples)
    gain = np.ones(sound.size)
    left = np.linspace(1.0, 0.0, round(length_s * RATE_HZ))
    gain[-left.size :] = left if shape == "line" else np.sin(0.5 * np.pi * left) ** 2
    return sound * (gain if backwards else gain[::-1])


@pytest.mark.parametrize("shape", ["line", "sine"])
@pytest.mark.parametrize("length_s", [0.3, 1.0])
def test_a_fade_is_followed_as_far_as_it_goes(shape: str, length_s: float):
    fade = follow_fade(recorded(rounded(faded(length_s, shape=shape))).sound, backwards=True)

    assert fade is not None
    assert 0.4 * length_s <= fade.length_s <= 2.0 * length_s


def test_a_fade_over_a_decay_weighs_on_that_clap_only():
    (fault,) = [f for f in inspected(rounded(faded(1.25, shape="line"))) if f.weighs]

    assert fault.remark.code == "faded-out"
    assert fault.place == 1


def test_a_fade_in_weighs_on_the_clap_that_rings_in_it():
    (fault,) = inspected(rounded(faded(0.9, shape="line", backwards=False)))

    assert fault.remark.code == "faded-in"
    assert fault.place == 0


def test_a_take_that_ends_in_background_silence_or_inside_a_decay_is_not_faded():
    sound = rounded(clapped(seed=9, decay_time_s=0.4).samples)
    inside = int((clapped(seed=9, decay_time_s=0.4).claps[-1].onset_s + 0.25) * RATE_HZ)

    assert codes(inspected(sound)) == set()
    assert codes(inspected(np.concatenate([sound, np.zeros(RATE_HZ // 2, dtype=np.float32)]))) == set()
    assert codes(inspected(sound[:inside])) == set()


@pytest.mark.parametrize("decay_time_s", [0.1, 0.2, 0.4, 1.0])
def test_a_measured_response_that_decays_to_its_end_is_not_faded(decay_time_s: float):
    rng = np.random.default_rng(2)
    time_s = np.arange(round(0.5 * RATE_HZ)) / RATE_HZ
    response = rng.standard_normal(time_s.size) * 10.0 ** (-3.0 * time_s / decay_time_s)

    for stop_s in (0.1, 0.2, 0.5):
        sound = recorded(response[: round(stop_s * RATE_HZ)].astype(np.float32)).sound
        assert follow_fade(sound, backwards=True) is None, stop_s
