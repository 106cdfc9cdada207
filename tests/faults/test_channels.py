"""Two microphones that do not hear a clap together. All figures are invented."""

import numpy as np
import pytest

from tests.faults.rooms import RATE_HZ, clapped, codes, inspected, rounded


def pair(*, delay_s: float, gain: float = 0.7) -> np.ndarray:
    sound = np.array(clapped(seed=16).samples)
    n = round(abs(delay_s) * RATE_HZ)
    late = np.concatenate([np.zeros(n), sound])[: sound.size] * gain
    both = [sound, late] if delay_s >= 0.0 else [late, sound]
    return rounded(np.stack(both, axis=1))


@pytest.mark.parametrize("delay_s", [0.012, 0.03, -0.02])
def test_a_channel_that_comes_late_is_named_with_its_delay(delay_s: float):
    (fault,) = [fault for fault in inspected(pair(delay_s=delay_s)) if fault.remark.code == "channels-apart"]

    when = "later" if delay_s > 0.0 else "earlier"
    assert f"channel 2 comes {1000.0 * abs(delay_s):.0f} ms {when} than channel 1" in fault.remark.says


@pytest.mark.parametrize("delay_s", [0.0, 0.0005, 0.003])
def test_the_microphones_of_one_recorder_are_not_apart(delay_s: float):
    assert codes(inspected(pair(delay_s=delay_s))) == set()


def test_channels_that_hear_nothing_alike_are_not_said_to_be_apart():
    sound = pair(delay_s=0.0)
    sound[:, 1] = rounded(np.random.default_rng(2).standard_normal(sound.shape[0]) * 0.001)

    assert "channels-apart" not in codes(inspected(sound))
