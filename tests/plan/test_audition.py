"""What is heard of a room reads as the room was predicted."""

import numpy as np
import pytest

from roomir.plan.audition import in_room, make_response
from roomir.rooms.statistics import direct_to_reverberant_db, reverberation_distance_m

FALLING = (0.45, 0.42, 0.38, 0.34, 0.32, 0.3, 0.28, 0.26)
"""Invented: a small treated room."""


def response(seed, decay_time_s=FALLING, **options):
    told = {
        "volume_m3": 30.0,
        "distance_m": 2.0,
        "directivity": 2.0,
        "sound_speed": 343.2,
        "sample_rate_hz": 24_000,
    }
    return make_response(decay_time_s, seed=seed, **(told | options))


def test_over_twenty_seeds_a_response_reads_as_asked():
    made = [response(seed) for seed in range(20)]
    # 8 kHz reaches to 11.2 kHz, where 24 000 Hz of sampling end; the seven below are whole.
    ratios = np.array([[r / a for r, a in zip(one.read_s[:7], one.asked_s[:7], strict=True)] for one in made])

    assert ratios.mean(axis=0) == pytest.approx(1.0, abs=0.01)
    for one, row in zip(made, ratios, strict=True):
        for ratio, asked, interval in zip(row, one.asked_s, one.read_ci95_s, strict=False):
            assert abs(ratio - 1.0) < 0.03 or interval[0] <= asked <= interval[1]


def test_direct_and_reverberant_sound_stand_as_the_diffuse_field_says():
    # Kuttruff, "Room Acoustics", chapter 5, at two distances; less what decays before the direct sound.
    for distance_m in (0.5, 2.0):
        levels = []
        for seed in range(3):
            samples = response(seed, (0.5,) * 8, distance_m=distance_m, sample_rate_hz=48_000).samples
            at = int(np.argmax(samples > 0.9))
            late = samples.copy()
            late[at] -= 1.0
            levels.append(-10.0 * np.log10(np.sum(late**2)))
        reach_m = reverberation_distance_m(
            volume_m3=30.0, decay_time_s=0.5, sound_speed=343.2, directivity=2.0
        )
        expected = direct_to_reverberant_db(distance_m=distance_m, reverberation_distance_m=reach_m)
        expected += 60.0 * distance_m / 343.2 / 0.5
        assert np.mean(levels) == pytest.approx(expected, abs=0.3)


def test_the_same_seed_gives_the_same_room():
    one, two, other = response(1), response(1), response(2)
    assert np.array_equal(one.samples, two.samples)
    assert not np.array_equal(one.samples, other.samples)


def test_a_click_in_a_room_is_its_response():
    one = response(3)
    click = np.zeros(100)
    click[10] = 1.0
    heard = in_room(click, one)
    start = round(0.05 * 24_000)
    assert heard[10 : 10 + 1000] == pytest.approx(one.samples[start : start + 1000], abs=1e-9)


@pytest.mark.parametrize("wrong", [{"distance_m": 0.0}, {"volume_m3": -1.0}, {"sample_rate_hz": 8000}])
def test_what_cannot_be_heard_is_refused(wrong):
    with pytest.raises(ValueError, match=r"positive|too low"):
        response(1, **wrong)
