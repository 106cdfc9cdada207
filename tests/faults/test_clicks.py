"""Clicks that something other than the room has made. All figures are invented."""

import numpy as np
import pytest

from roomir.faults.clicks import clicks
from roomir.reading.take import take_reading
from roomir.synth.takes import make_take
from tests.faults.rooms import RATE_HZ, clapped, codes, inspected, recorded, rounded


def clicked(*, times: float, after_s: float = 0.2, frames: int = 2, claps: int = 1) -> np.ndarray:
    """Put a click of so many times the decay's own level into the decays of the first claps."""
    sound = np.array(clapped(seed=13, n_claps=4).samples, dtype=float)
    for clap in clapped(seed=13, n_claps=4).claps[:claps]:
        first = int((clap.onset_s + after_s) * RATE_HZ)
        level = float(np.std(sound[first - 500 : first + 500]))
        sound[first : first + frames] += times * level * np.resize([1.0, -0.6], frames)
    return rounded(sound)


@pytest.mark.parametrize("times", [12.0, 30.0])
def test_a_click_in_a_decay_is_named(times: float):
    (fault,) = inspected(clicked(times=times))

    assert fault.remark.code == "clicks"
    assert fault.weighs == (times > 20.0)


def test_a_click_louder_than_the_decay_costs_its_clap_and_no_other():
    (take,) = take_reading([recorded(clicked(times=30.0))]).takes

    assert [clap.used for clap in take.claps] == [False, True, True, True]


def test_noise_has_no_clicks_and_an_echo_of_the_clap_is_none():
    noise = np.random.default_rng(5).standard_normal(5 * RATE_HZ)
    echo = noise.copy()
    echo[RATE_HZ : RATE_HZ + 96] += 25.0 * noise[:96]

    assert clicks(noise, rate_hz=RATE_HZ) == []
    assert clicks(echo, rate_hz=RATE_HZ) == []


@pytest.mark.parametrize("decay_time_s", [0.15, 0.4, 1.2])
def test_a_clean_decay_has_no_clicks(decay_time_s: float):
    take = make_take(
        seed=14,
        sample_rate_hz=RATE_HZ,
        decay_time_s=decay_time_s,
        n_claps=2,
        background_db=-60.0,
        spacing_s=(1.6 * decay_time_s + 0.7, 1.6 * decay_time_s + 0.8),
    )

    assert "clicks" not in codes(inspected(rounded(take.samples)))
