"""What the room formulas owe each other, and what they refuse."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from roomir.errors import ParameterError
from roomir.rooms.air import air_attenuation_db_per_m
from roomir.rooms.statistics import (
    direct_to_reverberant_db,
    eyring_decay_time_s,
    least_source_distance_m,
    reverberation_distance_m,
    sabine_decay_time_s,
    schroeder_frequency_hz,
    sound_speed_m_per_s,
)


@given(
    volume_m3=st.floats(5.0, 5000.0),
    surface_m2=st.floats(10.0, 3000.0),
    mean_absorption=st.floats(0.001, 0.95),
    air_per_m=st.floats(0.0, 0.03),
)
def test_eyring_never_rings_longer_than_sabine_and_agrees_in_hard_rooms(
    volume_m3, surface_m2, mean_absorption, air_per_m
):
    eyring_s = eyring_decay_time_s(
        volume_m3=volume_m3,
        surface_m2=surface_m2,
        mean_absorption=mean_absorption,
        sound_speed=343.2,
        air_per_m=air_per_m,
    )
    sabine_s = sabine_decay_time_s(
        volume_m3=volume_m3,
        absorption_area_m2=surface_m2 * mean_absorption,
        sound_speed=343.2,
        air_per_m=air_per_m,
    )
    assert eyring_s <= sabine_s * (1 + 1e-12)
    # -ln(1 - a) = a + a^2/2 + ...: half the mean absorption is what divides them.
    if mean_absorption < 0.2:
        assert sabine_s / eyring_s - 1.0 <= 0.6 * mean_absorption


@given(distance_m=st.floats(0.1, 50.0), volume_m3=st.floats(5.0, 5000.0), decay_time_s=st.floats(0.1, 5.0))
def test_at_the_reverberation_distance_both_fields_carry_the_same_energy(distance_m, volume_m3, decay_time_s):
    # Direct intensity Q/(4 pi r^2) against the diffuse field's 4/A.
    area_m2 = 24.0 * math.log(10.0) * volume_m3 / (343.2 * decay_time_s)
    critical_m = reverberation_distance_m(
        volume_m3=volume_m3, decay_time_s=decay_time_s, sound_speed=343.2, directivity=2.0
    )
    level_db = direct_to_reverberant_db(distance_m=distance_m, reverberation_distance_m=critical_m)
    energies = (2.0 / (4.0 * math.pi * distance_m**2)) / (4.0 / area_m2)
    assert level_db == pytest.approx(10.0 * math.log10(energies), abs=1e-9)


def test_more_air_absorption_shortens_the_decay():
    still = sabine_decay_time_s(volume_m3=172.8, absorption_area_m2=15.0, sound_speed=343.2)
    damped = sabine_decay_time_s(volume_m3=172.8, absorption_area_m2=15.0, sound_speed=343.2, air_per_m=0.024)
    assert damped < 0.6 * still


@pytest.mark.parametrize("wrong", [0.0, -1.0, float("nan"), float("inf")])
@pytest.mark.parametrize(
    "formula", [schroeder_frequency_hz, least_source_distance_m, reverberation_distance_m]
)
@pytest.mark.parametrize("name", ["volume_m3", "decay_time_s"])
def test_a_room_without_a_size_or_a_decay_has_no_answer(formula, name, wrong):
    figures = {"volume_m3": 50.0, "decay_time_s": 0.5, "sound_speed": 343.2, "directivity": 1.0}
    taken = {key: figures[key] for key in _names(formula)}
    with pytest.raises(ParameterError, match=name):
        formula(**(taken | {name: wrong}))


def _names(formula):
    return [name for name in formula.__annotations__ if name != "return"]


@pytest.mark.parametrize("alpha", [-0.1, 1.0, 1.2, float("nan")])
def test_a_mean_absorption_outside_its_range_is_refused(alpha):
    with pytest.raises(ParameterError, match="absorption"):
        eyring_decay_time_s(volume_m3=50.0, surface_m2=90.0, mean_absorption=alpha, sound_speed=343.2)


def test_a_room_in_which_nothing_absorbs_is_refused():
    with pytest.raises(ParameterError, match="absorption"):
        eyring_decay_time_s(volume_m3=50.0, surface_m2=90.0, mean_absorption=0.0, sound_speed=343.2)


@pytest.mark.parametrize("temperature_c", [-274.0, float("nan")])
def test_air_below_absolute_zero_is_refused(temperature_c):
    with pytest.raises(ParameterError):
        sound_speed_m_per_s(temperature_c=temperature_c)
    with pytest.raises(ParameterError):
        air_attenuation_db_per_m(1000.0, temperature_c=temperature_c, humidity_percent=50.0)


@pytest.mark.parametrize("humidity_percent", [0.0, -5.0, 101.0, float("nan")])
def test_a_humidity_that_does_not_exist_is_refused(humidity_percent):
    with pytest.raises(ParameterError, match="humidity"):
        air_attenuation_db_per_m(1000.0, temperature_c=20.0, humidity_percent=humidity_percent)


@given(frequency_hz=st.floats(20.0, 10_000.0), step=st.floats(1.01, 2.0))
def test_air_takes_more_the_higher_the_sound(frequency_hz, step):
    low = air_attenuation_db_per_m(frequency_hz, temperature_c=14.0, humidity_percent=65.0)
    high = air_attenuation_db_per_m(frequency_hz * step, temperature_c=14.0, humidity_percent=65.0)
    assert 0.0 < low < high
