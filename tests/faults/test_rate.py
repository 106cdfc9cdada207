"""Hum that gives a wrong rate away, and hum that does not."""

import numpy as np
import pytest

from roomir.faults.rate import find_wrong_rate, hum_lines, rate_from_hum
from tests.faults.rooms import RATE_HZ, clapped, codes, inspected, recorded


def hummed(mains_hz: float, *, multiples: tuple[int, ...] = (1, 2, 3, 4, 5, 6)) -> np.ndarray:
    sound = np.array(clapped(seed=11, decay_time_s=0.8).samples, dtype=float)
    turns = 2.0 * np.pi * mains_hz * np.arange(sound.size) / RATE_HZ
    return sound + 0.002 * sum(np.sin(k * turns + k) / k for k in multiples)


@pytest.mark.parametrize("mains_hz", [49.95, 50.0, 60.0, 60.03])
def test_hum_of_the_mains_is_no_fault(mains_hz: float):
    assert codes(inspected(hummed(mains_hz))) == set()


@pytest.mark.parametrize("mains_hz", [50.0, 60.0])
@pytest.mark.parametrize("label_hz", [44100, 32000, 24000, 16000])
def test_hum_gives_the_rate_away_at_which_a_take_was_recorded(mains_hz: float, label_hz: int):
    (fault,) = find_wrong_rate(recorded(hummed(mains_hz), rate_hz=label_hz).sound, take=0)

    assert "in a take of 48000 samples a second" in fault.remark.says
    assert "too long" in fault.remark.says
    assert fault.weighs


def test_twice_the_rate_cannot_be_told_from_a_transformer_and_is_said_to_be_in_doubt():
    (fault,) = find_wrong_rate(recorded(hummed(50.0), rate_hz=96000).sound, take=0)

    assert "either a transformer hums" in fault.remark.says


def test_one_clear_tone_of_a_transformer_is_enough_where_the_rate_is_in_doubt():
    (fault,) = find_wrong_rate(recorded(hummed(50.0, multiples=(1,)), rate_hz=96000).sound, take=0)

    assert "all times are half of what they are" in fault.remark.says


def test_hum_at_the_mains_frequency_itself_leaves_a_high_rate_without_doubt():
    sound = recorded(hummed(50.0).repeat(2), rate_hz=96000).sound

    assert find_wrong_rate(sound, take=0) == []


def test_hum_fainter_than_the_background_is_heard_between_claps():
    rng = np.random.default_rng(3)
    sound = np.array(clapped(seed=11, decay_time_s=0.8, n_claps=6).samples)
    turns = 2.0 * np.pi * 50.0 * np.arange(sound.size) / RATE_HZ
    hum = 2e-4 * sum(np.sin(k * turns + k) / k for k in range(1, 7))
    sound += hum + 1e-3 * rng.standard_normal(sound.size)

    assert len(find_wrong_rate(recorded(sound, rate_hz=96000).sound, take=0)) == 1


def test_two_tones_tell_apart_the_two_rates_that_are_taken_for_one_another():
    (fault,) = find_wrong_rate(recorded(hummed(60.0, multiples=(1, 2)), rate_hz=44100).sound, take=0)

    assert "in a take of 48000 samples a second" in fault.remark.says
    assert find_wrong_rate(recorded(hummed(60.0, multiples=(1, 2)), rate_hz=32000).sound, take=0) == []


def test_a_transformer_at_an_ordinary_rate_is_not_accused():
    assert find_wrong_rate(recorded(hummed(100.0)).sound, take=0) == []


def test_a_fan_with_its_multiples_is_not_taken_for_mains():
    assert find_wrong_rate(recorded(hummed(47.3)).sound, take=0) == []
    assert find_wrong_rate(recorded(hummed(54.42, multiples=(2,))).sound, take=0) == []


def test_lines_are_found_to_a_few_hundredths_of_a_hertz():
    lines = hum_lines(recorded(hummed(50.0, multiples=(1, 2, 3))).sound)

    assert [f for f, over_db in lines if over_db > 15.0] == pytest.approx([50.0, 100.0, 150.0], abs=0.06)


def test_a_single_strange_tone_says_nothing():
    assert rate_from_hum([(54.42, 30.0), (100.0, 30.0), (150.0, 20.0)], rate_hz=48000) is None
