"""Reflections are found where they were put, at their level; a second blow is no echo. Values invented."""

from __future__ import annotations

import numpy as np
import pytest

from roomir.synth.sources import clap_pulse
from tests.findings.sounds import RATE_HZ, findings_of, response
from tests.findings.test_flutter import C, box


def with_reflection(rng, *, delay_s, level_db, decay_time_s=0.5, direct_db=6.0):
    room = response(rng, decay_time_s=decay_time_s, n_early=0, direct_db=direct_db)
    room[round(delay_s * RATE_HZ)] += abs(room[0]) * 10.0 ** (level_db / 20.0)
    return room


def test_a_late_echo_is_found_with_time_level_and_detour():
    rng = np.random.default_rng(1)
    room = with_reflection(rng, delay_s=0.09, level_db=-12.0)
    (echo,) = findings_of([room], rng, claps=3).echoes

    assert echo.delay_s == pytest.approx(0.09, abs=0.001)
    assert echo.level_db == pytest.approx(-12.0, abs=2.0)
    assert echo.path_difference_m == pytest.approx(0.09 * 343.2, abs=0.4)
    assert echo.claps == echo.of_claps


def test_an_early_reflection_behind_the_clap_is_listed_as_such():
    rng = np.random.default_rng(2)
    room = with_reflection(rng, delay_s=0.021, level_db=-7.0)
    found = findings_of([room], rng, claps=2)

    assert found.echoes == ()
    (one,) = [r for r in found.reflections if abs(r.delay_s - 0.021) < 0.001]
    assert one.level_db == pytest.approx(-7.0, abs=2.0)


def test_nothing_stands_out_of_a_diffuse_decay():
    for seed in range(5):
        rng = np.random.default_rng([3, seed])
        found = findings_of([response(rng, decay_time_s=0.5, n_early=0)], rng, claps=2)
        assert found.echoes == ()
        assert found.reflections == ()


def test_the_reflection_of_a_simulated_wall_comes_as_much_later_as_geometry_says():
    rng = np.random.default_rng(4)
    # One bare wall 4 m behind the clap; everything else absorbs nearly all.
    room = box(
        (9.0, 6.0, 5.0),
        (0.02, *(0.97,) * 5),
        source_m=(4.0, 3.0, 2.5),
        ear_m=(5.2, 3.0, 2.5),
        duration_s=0.15,
    )
    room = (
        room + rng.standard_normal(room.size) * 10.0 ** (-3.0 * np.arange(room.size) / RATE_HZ / 0.3) * 0.004
    )
    found = findings_of([room], rng)
    way_m = 4.0 + 5.2 - 1.2

    assert any(
        one.path_difference_m / 343.2 * C == pytest.approx(way_m, abs=0.4) for one in found.reflections
    )


def test_a_second_blow_that_falls_elsewhere_every_time_is_no_echo():
    for seed in range(3):
        rng = np.random.default_rng([5, seed])
        room = response(rng, decay_time_s=0.4, direct_db=3.0)
        claps = []
        for _ in range(3):
            twice = np.zeros(round(0.2 * RATE_HZ))
            for at_s, level_db in ((0.0, 0.0), (rng.uniform(0.07, 0.13), -rng.uniform(6.0, 12.0))):
                pulse = clap_pulse(rng=rng, sample_rate_hz=RATE_HZ) * 10.0 ** (level_db / 20.0)
                at = round(at_s * RATE_HZ)
                twice[at : at + pulse.size] += pulse
            claps.append(np.convolve(room, twice))
        found = findings_of(claps, rng, dry=np.ones(1))
        assert found.echoes == ()
        assert found.flutter is None
