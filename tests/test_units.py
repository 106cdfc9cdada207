"""Sizes as builders write them: invented texts, and the international foot of 0.3048 m (1959)."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from roomir.errors import ParameterError
from roomir.units import parse_area_m2, parse_dimensions_m, parse_length_m, parse_volume_m3


@pytest.mark.parametrize(
    ("written", "length_m"),
    [
        ("3.2", 3.2),
        ("3,2", 3.2),
        (" 3.2 m ", 3.2),
        ("3.2 meters", 3.2),
        ("320 cm", 3.2),
        ("3200mm", 3.2),
        ("3 m 20 cm", 3.2),
        ("3 m 200 mm", 3.2),
        ("0,234", 0.234),
        ("1.234,5 cm", 12.345),
        ("1,234.5 mm", 1.2345),
        (".5 m", 0.5),
        ("12 ft 6 in", 3.81),
        ("12 ft. 6 in.", 3.81),
        ("12 feet, 6 inches", 3.81),
        ("12 ft and 6 in", 3.81),
        ("12.5ft", 3.81),
        ("12' 6\"", 3.81),
        ("12'6", 3.81),
        ("12'-6\"", 3.81),
        ("12\u2032 6\u2033", 3.81),
        ("12\u2019 6\u201d", 3.81),
        ("12' 6''", 3.81),
        ("12' 6 1/2\"", 3.8227),
        ("3\u00bd ft", 1.0668),
        ("6-1/2 in", 0.1651),
        ("1/2 in", 0.0127),
    ],
)
def test_a_length_on_the_tape_is_the_length_in_metres(written, length_m):
    assert parse_length_m(written) == pytest.approx(length_m, abs=1e-9)


@pytest.mark.parametrize(
    ("written", "volume_m3"),
    [
        ("20.8", 20.8),
        ("20,8 m3", 20.8),
        ("20.8 m\u00b3", 20.8),
        ("20.8 m^3", 20.8),
        ("20.8 cubic metres", 20.8),
        ("735 ft3", 735 * 0.3048**3),
        ("735 cu. ft.", 735 * 0.3048**3),
        ("735 Cubic Feet", 735 * 0.3048**3),
        ("1,234.5 ft\u00b3", 1234.5 * 0.3048**3),
    ],
)
def test_a_volume_is_read_in_either_system(written, volume_m3):
    assert parse_volume_m3(written) == pytest.approx(volume_m3, rel=1e-12)


@pytest.mark.parametrize(
    ("written", "area_m2"),
    [("12", 12.0), ("12 m\u00b2", 12.0), ("12 sq m", 12.0), ("130 sq. ft", 130 * 0.3048**2)],
)
def test_an_area_is_read_in_either_system(written, area_m2):
    assert parse_area_m2(written) == pytest.approx(area_m2, rel=1e-12)


@pytest.mark.parametrize(
    "written",
    [
        "3.2 x 2.6 x 2.5",
        "3.2x2.6x2.5",
        "3.2 X 2.6 X 2.5 m",
        "3,2 \u00d7 2,6 \u00d7 2,5",
        "3.2 by 2.6 by 2.5",
        "3.2 * 2.6 * 2.5",
        "3.2, 2.6, 2.5",
        "3,2, 2,6, 2,5",
        "3,2; 2,6; 2,5",
        "320x260x250cm",
        "320 cm x 2.6 m x 2500 mm",
        "3 m 20 cm x 2 m 60 cm x 2 m 50 cm",
    ],
)
def test_the_same_room_is_read_however_its_dimensions_are_joined(written):
    assert parse_dimensions_m(written) == pytest.approx((3.2, 2.6, 2.5), abs=1e-9)


def test_two_commas_make_three_dimensions_in_one_way_only():
    assert parse_dimensions_m("9,6,3.2") == (9.0, 6.0, 3.2)


@pytest.mark.parametrize(
    ("written", "feet"),
    [
        ("12 ft 6 in x 10 ft x 8 ft", (12.5, 10, 8)),
        ("12'6\" x 10' x 8'", (12.5, 10, 8)),
        ("12 x 10 x 8 ft", (12, 10, 8)),
        ("12.5 ft by 10 ft by 8 ft", (12.5, 10, 8)),
    ],
)
def test_a_room_measured_in_feet_comes_out_in_metres(written, feet):
    assert parse_dimensions_m(written) == pytest.approx(tuple(0.3048 * f for f in feet), abs=1e-9)


@pytest.mark.parametrize(
    ("written", "code"),
    [
        ("1,234", "ambiguous-number"),  # one and a bit, or a thousand and a bit
        ("12 ft 14 in", "bad-length"),
        ("12.5 ft 6 in", "bad-length"),
        ("3.2 m 5", "bad-length"),
        ("3 ft 4 ft", "bad-length"),
        ("6 in 3 ft", "bad-length"),
        ("3 2", "bad-length"),
        ("3m20", "bad-length"),
        ("3 furlongs", "bad-length"),
        ("ft", "bad-length"),
        ("", "bad-length"),
        ("nan", "bad-length"),
        ("inf", "bad-length"),
        ("1e3", "bad-length"),
        ("12 ft,", "bad-length"),
        ("3..2", "bad-number"),
        ("1/0 ft", "bad-number"),
        ("9" * 5000, "bad-number"),
        ("0", "out-of-range"),
        ("0.0 ft", "out-of-range"),
        ("-3", "out-of-range"),
        ("\u22123 m", "out-of-range"),
        ("101", "out-of-range"),
        ("250", "out-of-range"),
        ("9" * 90, "out-of-range"),
    ],
)
def test_a_length_that_makes_no_sense_is_refused_with_a_reason(written, code):
    with pytest.raises(ParameterError) as refused:
        parse_length_m(written)
    assert refused.value.code == code
    assert refused.value.says


@pytest.mark.parametrize(
    ("written", "code"),
    [
        ("3 x 2", "bad-dimensions"),
        ("3 x 2 x", "bad-dimensions"),
        ("3 x 2 x 2 x 2", "bad-dimensions"),
        ("20.8 m3", "bad-dimensions"),
        ("3,2,2,6,2,5", "ambiguous-dimensions"),
        ("12 ft x 10 x 8", "ambiguous-dimensions"),
        ("12 x 10 x 8 ft 6 in", "ambiguous-dimensions"),
        ("3 x -2 x 2", "out-of-range"),
        ("3 x 2 x 0", "out-of-range"),
        ("320 x 260 x 250", "out-of-range"),  # centimetres meant, metres read
        ("3.2 mm x 2.6 x 2.5", "ambiguous-dimensions"),
        ("3 x 0.2 x 2", "out-of-range"),
        ("3 x 2 x nan", "bad-length"),
    ],
)
def test_dimensions_that_make_no_sense_are_refused_with_a_remedy(written, code):
    with pytest.raises(ParameterError) as refused:
        parse_dimensions_m(written)
    assert refused.value.code == code
    assert refused.value.remedy


@pytest.mark.parametrize(
    ("written", "code"),
    [
        ("3 x 2 x 2", "bad-volume"),
        ("20 m", "bad-volume"),
        ("nan", "bad-volume"),
        ("", "bad-volume"),
        ("1,200 m3", "ambiguous-number"),
        ("0 m3", "out-of-range"),
        ("0.02", "out-of-range"),
        ("-20 m3", "out-of-range"),
        ("1000001", "out-of-range"),
        ("9" * 99, "out-of-range"),
    ],
)
def test_a_volume_that_makes_no_sense_is_refused_with_a_remedy(written, code):
    with pytest.raises(ParameterError) as refused:
        parse_volume_m3(written)
    assert refused.value.code == code
    assert refused.value.remedy


def test_the_largest_sizes_allowed_are_read():
    assert parse_length_m("100") == 100.0
    assert parse_volume_m3("1000000") == 1e6
    assert parse_dimensions_m("0.5 x 0.5 x 0.5") == (0.5, 0.5, 0.5)


@given(millimetres=st.integers(min_value=1, max_value=100_000))
def test_a_metric_length_is_the_same_in_every_unit_and_with_either_decimal_mark(millimetres):
    metres = millimetres / 1000
    for written in (
        f"{metres:.4f} m",
        f"{metres:.4f}".replace(".", ","),
        f"{millimetres} mm",
        f"{millimetres / 10:.1f} cm",
        f"{millimetres // 1000} m {millimetres % 1000} mm",
    ):
        assert parse_length_m(written) == pytest.approx(metres, abs=1e-9)


@given(
    feet=st.integers(min_value=0, max_value=327),
    inches=st.integers(min_value=0, max_value=11),
    sixteenths=st.integers(min_value=1, max_value=15),
)
def test_feet_inches_and_fractions_add_up(feet, inches, sixteenths):
    expected = 0.0254 * (12 * feet + inches + sixteenths / 16)
    assert parse_length_m(f"{feet} ft {inches} {sixteenths}/16 in") == pytest.approx(expected, abs=1e-9)
    assert parse_length_m(f"{feet}' {inches}-{sixteenths}/16\"") == pytest.approx(expected, abs=1e-9)


@given(text=st.one_of(st.text(max_size=40), st.text(alphabet="0123456789.,/-' \"xmcftinby;*", max_size=25)))
def test_whatever_is_typed_gives_a_sane_size_or_is_refused(text):
    for parse, most in (
        (parse_length_m, 100.0),
        (parse_area_m2, 1e5),
        (parse_volume_m3, 1e6),
        (parse_dimensions_m, 100.0),
    ):
        try:
            sizes = parse(text)
        except ParameterError:
            continue
        for size in sizes if isinstance(sizes, tuple) else (sizes,):
            assert math.isfinite(size)
            assert 0.0 < size <= most
