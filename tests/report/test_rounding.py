"""A number shows as many digits as its interval supports."""

from __future__ import annotations

import pytest

from roomir.report.rounding import decimals_for, decimals_of, rounded, rounded_outwards, significant


@pytest.mark.parametrize(
    ("half_width", "decimals"),
    [
        (0.04, 2),
        (0.02, 2),
        (0.0199, 3),  # begins with a 1: cutting it to one digit would lose too much of it
        (0.1, 2),
        (0.2, 1),
        (0.99, 1),
        (1.0, 1),
        (2.0, 0),
        (30.0, 0),
        (0.0004, 3),  # never finer than a millisecond
        (0.0, 3),
    ],
)
def test_the_half_width_of_the_interval_decides_the_decimals(half_width: float, decimals: int):
    assert decimals_for(half_width) == decimals


def test_a_number_without_interval_has_two_significant_digits():
    assert [decimals_of(value, interval=None) for value in (12.0, 1.2, 0.12)] == [0, 1, 2]


@pytest.mark.parametrize("centre", [0.1234, 0.5, 0.881, 2.4567])
@pytest.mark.parametrize("half_width", [0.0015, 0.004, 0.0149, 0.037, 0.2])
def test_rounding_never_makes_an_interval_narrower(centre: float, half_width: float):
    low, high = centre - half_width, centre + half_width
    shown_low, shown_high = rounded_outwards((low, high), decimals=decimals_for(half_width))

    assert float(shown_low) <= low + 1e-9
    assert float(shown_high) >= high - 1e-9
    # Nor does it make it look much wider: by less than one unit of the last digit at either end.
    assert float(shown_high) - float(shown_low) < (high - low) + 2 * 10.0 ** -decimals_for(half_width)


def test_ends_that_are_round_already_stay_where_they_are():
    # 0.84 * 100 is 84.0 and 1.15 * 100 is 114.99999999999999 in binary arithmetic.
    assert rounded_outwards((0.84, 1.15), decimals=2) == ("0.84", "1.15")


def test_nothing_is_shown_as_minus_zero():
    assert rounded(-0.04, decimals=1) == "0.0"


def test_a_withheld_figure_is_a_dash_and_never_a_number():
    assert rounded(None, decimals=2) == significant(None, digits=2) == "-"
