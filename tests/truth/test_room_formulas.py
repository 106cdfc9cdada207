"""Room formulas against worked examples that others have published."""

import pytest

from roomir.bands.band import OCTAVES
from roomir.rooms.air import air_attenuation_db_per_m, energy_attenuation_per_m
from roomir.rooms.statistics import (
    direct_to_reverberant_db,
    eyring_decay_time_s,
    least_source_distance_m,
    reverberation_distance_m,
    sabine_decay_time_s,
    schroeder_frequency_hz,
    sound_speed_m_per_s,
)
from roomir.units import METRES_PER_FOOT, parse_dimensions_m, parse_volume_m3

SOUND_SPEED = 343.2
SQUARE_FOOT_M2 = METRES_PER_FOOT**2

# F. A. Everest, "The Master Handbook of Acoustics", two worked examples of a room of 23.3 x 16 x 10 ft
# (3728 ft3): concrete floor 373 ft2, gypsum board on walls and ceiling 1159 ft2; then 340 ft2 of acoustical
# tile are added. Coefficients, sabins (ft2) and decay times as printed, 125 Hz to 4 kHz.
# The book works with 0.049 V/A in feet, that is c = 343.8 m/s, and rounds times to 0.01 s.
CONCRETE = (0.01, 0.01, 0.015, 0.02, 0.02, 0.02)
GYPSUM = (0.29, 0.10, 0.05, 0.04, 0.07, 0.09)
TILE = (0.09, 0.28, 0.78, 0.84, 0.73, 0.64)
TREATED_SABINS = (370.4, 214.8, 328.8, 339.5, 336.8, 329.4)
TREATED_S = (0.49, 0.85, 0.56, 0.54, 0.54, 0.55)


def test_everests_untreated_room_rings_as_printed():
    volume_m3 = parse_volume_m3("3728 ft3")
    for sabins, printed_s in ((339.8, 0.54), (53.9, 3.39)):  # 125 Hz and 1 kHz, example 1
        time_s = sabine_decay_time_s(
            volume_m3=volume_m3, absorption_area_m2=sabins * SQUARE_FOOT_M2, sound_speed=SOUND_SPEED
        )
        assert time_s == pytest.approx(printed_s, abs=0.006 + 0.002 * printed_s)


@pytest.mark.parametrize("octave", range(6))
def test_everests_treated_room_rings_as_printed(octave):
    sabins = 373 * CONCRETE[octave] + 1159 * GYPSUM[octave] + 340 * TILE[octave]
    assert sabins == pytest.approx(TREATED_SABINS[octave], abs=0.35)  # as printed, example 2
    time_s = sabine_decay_time_s(
        volume_m3=parse_volume_m3("3728 cu ft"),
        absorption_area_m2=sabins * SQUARE_FOOT_M2,
        sound_speed=SOUND_SPEED,
    )
    assert time_s == pytest.approx(TREATED_S[octave], abs=0.007)


def test_everests_dimensions_make_everests_volume():
    length_m, width_m, height_m = parse_dimensions_m("23.3 ft x 16 ft x 10 ft")
    assert length_m * width_m * height_m == pytest.approx(parse_volume_m3("3728 ft3"), rel=1e-9)


def test_the_handbook_room_of_ninety_cubic_metres_rings_a_little_less_than_half_a_second():
    # "Sound System Design Reference Manual", chapter on room acoustics: 5 x 6 x 3 m, surface 126 m2, sum of
    # area times coefficient 24.9 m2, "a little less than 0.5 s" off an Eyring chart. The chart is coarse.
    time_s = eyring_decay_time_s(
        volume_m3=90.0, surface_m2=126.0, mean_absorption=24.9 / 126.0, sound_speed=SOUND_SPEED
    )
    assert time_s == pytest.approx(0.5, rel=0.05)


def test_a_loss_of_a_fifth_per_reflection_is_the_printed_decibel():
    # The same manual: a mean coefficient of 0.2 takes 0.97 dB per reflection. Over the mean free path 4V/S
    # that is a decay of 60 dB in the Eyring time: two roads to one number.
    mean_free_path_m = 4 * 90.0 / 126.0
    reflections = 60.0 / 0.97
    time_s = eyring_decay_time_s(
        volume_m3=90.0, surface_m2=126.0, mean_absorption=0.2, sound_speed=SOUND_SPEED
    )
    assert time_s == pytest.approx(reflections * mean_free_path_m / SOUND_SPEED, rel=0.002)


def test_the_least_distance_for_a_hall_of_450_cubic_metres_is_as_published():
    # ISO 3382-2:2008, 4.3, as worked in a published tutorial: V = 450 m3, c = 342 m/s, T = 2 s, 1.6 m.
    distance_m = least_source_distance_m(volume_m3=450.0, decay_time_s=2.0, sound_speed=342.0)
    assert round(distance_m, 1) == 1.6


def test_the_schroeder_frequency_of_a_great_hall_is_twenty_hertz():
    # M. R. Schroeder, J. Acoust. Soc. Am. 99 (1996) 3240: f = 2000 (T/V)^0.5; the textbook case of a hall of
    # 20 000 m3 and 2 s is 20 Hz.
    assert schroeder_frequency_hz(volume_m3=20_000.0, decay_time_s=2.0) == pytest.approx(20.0)


def test_the_reverberation_distance_has_the_textbook_constant():
    # H. Kuttruff, "Room Acoustics", chapter 5: r = 0.057 (Q V / T)^0.5 in metres, cubic metres and seconds.
    distance_m = reverberation_distance_m(
        volume_m3=1.0, decay_time_s=1.0, sound_speed=SOUND_SPEED, directivity=1.0
    )
    assert round(distance_m, 3) == 0.057
    doubled_m = reverberation_distance_m(
        volume_m3=8.0, decay_time_s=0.5, sound_speed=SOUND_SPEED, directivity=4.0
    )
    assert doubled_m == pytest.approx(8.0 * distance_m)


@pytest.mark.parametrize(("times", "printed_db"), [(1.0, 0.0), (2.0, -6.0), (4.0, -12.0)])
def test_direct_sound_falls_by_six_decibels_per_doubling_from_the_reverberation_distance(times, printed_db):
    # "Sound System Design Reference Manual", chapter on room acoustics: 0, -6 and -12 dB.
    assert direct_to_reverberant_db(distance_m=0.6 * times, reverberation_distance_m=0.6) == pytest.approx(
        printed_db, abs=0.05
    )


@pytest.mark.parametrize("temperature_c", [15.0, 20.0, 25.0, 30.0])
def test_the_speed_of_sound_agrees_with_the_laboratory_rule(temperature_c):
    # ISO 354:2003, 8.1.2.1: c = 331 + 0.6 t between 15 and 30 degC.
    assert sound_speed_m_per_s(temperature_c=temperature_c) == pytest.approx(
        331.0 + 0.6 * temperature_c, rel=0.002
    )


# ISO 9613-2:1996, Table 2: attenuation by the air in dB/km at 63 Hz to 8 kHz, temperature and humidity.
AIR = {
    (10, 70): (0.1, 0.4, 1.0, 1.9, 3.7, 9.7, 32.8, 117.0),
    (20, 70): (0.1, 0.3, 1.1, 2.8, 5.0, 9.0, 22.9, 76.6),
    (30, 70): (0.1, 0.3, 1.0, 3.1, 7.4, 12.7, 23.1, 59.3),
    (15, 20): (0.3, 0.6, 1.2, 2.7, 8.2, 28.2, 88.8, 202.0),
    (15, 50): (0.1, 0.5, 1.2, 2.2, 4.2, 10.8, 36.2, 129.0),
    (15, 80): (0.1, 0.3, 1.1, 2.4, 4.1, 8.3, 23.7, 82.8),
}


@pytest.mark.parametrize("climate", AIR)
def test_air_takes_what_the_standards_table_says(climate):
    temperature_c, humidity_percent = climate
    for band, printed in zip(OCTAVES, AIR[climate], strict=True):
        per_km = 1000.0 * air_attenuation_db_per_m(
            band.exact_hz, temperature_c=temperature_c, humidity_percent=humidity_percent
        )
        assert per_km == pytest.approx(printed, abs=0.06 if printed < 100 else 0.5)


@pytest.mark.parametrize(
    ("frequency_hz", "temperature_c", "humidity_percent", "printed"),
    [(50.12, -20.0, 10.0, 0.589), (6309.57, 20.0, 15.0, 175.0)],  # ISO 9613-1:1993, Table 1, dB/km
)
def test_air_takes_what_the_table_of_pure_tones_says(frequency_hz, temperature_c, humidity_percent, printed):
    per_km = 1000.0 * air_attenuation_db_per_m(
        frequency_hz, temperature_c=temperature_c, humidity_percent=humidity_percent
    )
    assert per_km == pytest.approx(printed, rel=0.004)


def test_a_room_of_nothing_but_air_loses_energy_at_the_rate_of_the_air():
    # ISO 354:2003, 8.1.2.1: m = a / (10 lg e), so 60 dB take 60/a metres, whatever the volume.
    a = air_attenuation_db_per_m(7943.28, temperature_c=20.0, humidity_percent=50.0)
    time_s = eyring_decay_time_s(
        volume_m3=60.0,
        surface_m2=94.0,
        mean_absorption=0.0,
        sound_speed=SOUND_SPEED,
        air_per_m=energy_attenuation_per_m(a),
    )
    assert time_s == pytest.approx(60.0 / a / SOUND_SPEED, rel=1e-9)
