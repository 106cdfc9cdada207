"""Decays that fall by a step, and decays that do not."""

import numpy as np
import pytest

from roomir.faults.drops import find_drop
from tests.faults.rooms import RATE_HZ, clapped, codes, inspected, rounded

TAKE = {"seed": 12, "decay_time_s": 0.6}


def cut(*, at_s: float, length_s: float) -> np.ndarray:
    take = clapped(**TAKE)
    sound = np.array(take.samples)
    at = int((take.claps[0].onset_s + at_s) * RATE_HZ)
    return np.concatenate([sound[:at], sound[at + round(length_s * RATE_HZ) :]])


@pytest.mark.parametrize("at_s", [0.1, 0.2])
def test_a_piece_cut_out_of_a_decay_is_named_with_its_place(at_s: float):
    (fault,) = inspected(rounded(cut(at_s=at_s, length_s=0.1)))

    assert fault.remark.code == "level-drops"
    assert fault.weighs
    assert abs(float(fault.remark.says.split(" ms")[0]) - 1000.0 * at_s) < 12.0


def test_an_uncut_decay_does_not_drop():
    for seed in range(20, 26):
        assert codes(inspected(rounded(clapped(seed=seed, decay_time_s=0.6).samples))) == set(), seed


def test_a_flutter_echo_goes_down_in_steps_and_is_not_accused():
    rng = np.random.default_rng(3)
    time_s = np.arange(RATE_HZ) / RATE_HZ
    sound = 0.02 * rng.standard_normal(RATE_HZ) * 10.0 ** (-3.0 * time_s / 0.5)
    for echo in range(1, 60):
        at = int(echo * 0.012 * RATE_HZ)
        sound[at : at + 48] += 0.3 * 10.0 ** (-3.0 * echo * 0.012 / 0.4) * rng.standard_normal(48)

    assert find_drop(sound[:, np.newaxis] + 1e-5 * rng.standard_normal((RATE_HZ, 1)), rate_hz=RATE_HZ) is None


def test_the_end_of_a_decay_in_digital_silence_is_no_drop():
    rng = np.random.default_rng(4)
    time_s = np.arange(RATE_HZ) / RATE_HZ
    response = rng.standard_normal(RATE_HZ) * 10.0 ** (-3.0 * time_s / 0.5)
    response[RATE_HZ // 2 :] = 0.0

    assert find_drop(response[:, np.newaxis], rate_hz=RATE_HZ) is None
