"""The fitted decay as plain numbers: every derived figure against its definition. All values invented."""

import numpy as np
import pytest

from tests.decays import LN_60_DB, model_of

TWO = model_of((0.4, 0.0), (1.1, -13.0), noise_db=-50.0)


def test_energy_and_its_moment_are_the_integrals_of_what_still_decays():
    time_s = np.linspace(0.2, 12.0, 400_001)
    power = np.array(
        [np.exp(-rate * time_s) * level for rate, level in zip(TWO.rates, TWO.levels, strict=True)]
    )
    left = np.trapezoid(power.sum(axis=0), time_s)
    assert TWO.energy_after(0.2) == pytest.approx(left, rel=1e-5)
    # The moment is the area under the energy still to come: the integral of (t - 0.2) p^2.
    assert TWO.moment_after(0.2) == pytest.approx(
        np.trapezoid((time_s - 0.2) * power.sum(axis=0), time_s), rel=1e-5
    )
    assert TWO.decaying(0.2) == pytest.approx(power.sum(axis=0)[0], rel=1e-12)


def test_the_steepest_slope_comes_first():
    assert TWO.n_slopes == 2
    assert TWO.decay_times_s == pytest.approx((0.4, 1.1))


@pytest.mark.parametrize(("range_db", "time_s"), [(30.0, 0.5), (60.0, 0.5), (45.0, 2.0)])
def test_decay_and_background_cross_where_the_range_is_used_up(range_db, time_s):
    model = model_of((time_s, 0.0), noise_db=-range_db)
    cross_s = model.crosspoint_s(10.0)
    assert cross_s == pytest.approx(range_db / 60.0 * time_s, rel=1e-6)
    assert model.range_db(from_s=0.0, end_s=10.0) == pytest.approx(range_db)
    # From a later start there is less to be seen.
    assert model.range_db(from_s=0.1 * time_s, end_s=10.0) == pytest.approx(range_db - 6.0)
    assert not model.is_cut_off(10.0)


def test_of_a_decay_cut_off_the_range_is_what_was_heard():
    model = model_of((1.0, 0.0), noise_db=-60.0)
    assert model.is_cut_off(0.5)
    assert model.crosspoint_s(0.5) == 0.5
    assert model.range_db(from_s=0.0, end_s=0.5) == pytest.approx(30.0)


def test_without_background_a_decay_is_followed_to_its_end():
    model = model_of((1.0, 0.0))
    assert model.crosspoint_s(3.0) == 3.0
    assert model.range_db(from_s=0.0, end_s=3.0) == pytest.approx(180.0)


def test_a_rate_is_sixty_decibels_over_the_decay_time():
    assert model_of((0.5, 0.0)).rates[0] == pytest.approx(LN_60_DB / 0.5)
    assert 10.0 * np.log10(model_of((0.5, 0.0)).decaying(0.5)) == pytest.approx(-60.0)
