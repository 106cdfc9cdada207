"""The modes of a box against a handbook, and against their own count."""

from __future__ import annotations

import math
from collections import Counter

import pytest

from roomir.errors import ParameterError
from roomir.rooms.modes import box_modes, merged, mode_width_hz

FOOT_M = 0.3048


def test_axial_modes_agree_with_the_handbook():
    # Ballou (ed.), Handbook for Sound Engineers, p. 130: a room of 16 x 12 x 8 ft, c = 1130 ft/s.
    size_m = (16 * FOOT_M, 12 * FOOT_M, 8 * FOOT_M)
    modes = box_modes(size_m, sound_speed=1130 * FOOT_M, highest_hz=150.0)
    axial = {mode.orders: mode.frequency_hz for mode in modes if mode.kind == "axial"}

    for orders, hz in {
        (1, 0, 0): 35.31, (2, 0, 0): 70.63, (3, 0, 0): 105.94,
        (0, 1, 0): 47.08, (0, 2, 0): 94.17, (0, 3, 0): 141.25,
        (0, 0, 1): 70.63, (0, 0, 2): 141.25,
    }.items():  # fmt: skip
        assert axial[orders] == pytest.approx(hz, abs=0.01)


def test_the_third_mode_of_the_height_is_as_printed_where_it_can_be_read():
    # The handbook's figure is blurred after 211; computed 211.88 Hz.
    size_m = (16 * FOOT_M, 12 * FOOT_M, 8 * FOOT_M)
    modes = box_modes(size_m, sound_speed=1130 * FOOT_M, highest_hz=215.0)
    third = next(mode.frequency_hz for mode in modes if mode.orders == (0, 0, 3))

    assert int(third) == 211
    assert third == pytest.approx(211.88, abs=0.01)


def test_axial_modes_coincide_as_printed():
    # The same page: two axes at 70 Hz, all three at 141 Hz.
    size_m = (16 * FOOT_M, 12 * FOOT_M, 8 * FOOT_M)
    modes = box_modes(size_m, sound_speed=1130 * FOOT_M, highest_hz=150.0)
    axial = Counter(int(mode.frequency_hz) for mode in modes if mode.kind == "axial")

    assert {hz: n for hz, n in axial.items() if n > 1} == {70: 2, 141: 3}


def test_the_first_modes_of_a_box_are_as_computed():
    # 5 x 4 x 3 m, c = 343 m/s, enumerated outside roomir.
    modes = box_modes((5.0, 4.0, 3.0), sound_speed=343.0, highest_hz=86.0)
    computed = {
        (1, 0, 0): 34.30, (0, 1, 0): 42.88, (1, 1, 0): 54.91, (0, 0, 1): 57.17, (1, 0, 1): 66.67,
        (2, 0, 0): 68.60, (0, 1, 1): 71.46, (1, 1, 1): 79.26, (2, 1, 0): 80.90, (0, 2, 0): 85.75,
    }  # fmt: skip

    assert [mode.orders for mode in modes] == list(computed)
    assert [mode.frequency_hz for mode in modes] == pytest.approx(list(computed.values()), abs=0.006)


@pytest.mark.parametrize(("hz", "counted", "formula"), [(100, 13, 14.3), (200, 76, 78.4), (300, 230, 229.9)])
def test_modes_up_to_a_frequency_are_as_many_as_computed(hz, counted, formula):
    # 5 x 4 x 3 m, c = 343 m/s: counted one by one, and after the formula of the next test.
    modes = box_modes((5.0, 4.0, 3.0), sound_speed=343.0, highest_hz=hz)
    assert len(modes) == counted
    assert len(modes) == pytest.approx(formula, rel=0.1)


def test_kinds_below_200_hz_are_counted_as_by_hand():
    # 5 x 4 x 3 m, c = 343 m/s: 12 axial, 36 tangential, 28 oblique, enumerated outside roomir.
    modes = box_modes((5.0, 4.0, 3.0), sound_speed=343.0, highest_hz=200.0)

    assert Counter(mode.kind for mode in modes) == {"axial": 12, "tangential": 36, "oblique": 28}


def test_their_number_grows_as_the_formula_says():
    # Kuttruff, "Room Acoustics", chapter 3: N = 4 pi V f^3 / 3 c^3 + pi S f^2 / 4 c^2 + L f / 8 c,
    # L all edges.
    size_m, hz, c = (5.0, 4.0, 3.0), 300.0, 343.0
    volume, surface, edges = 60.0, 94.0, 48.0
    expected = (
        4 * math.pi * volume * hz**3 / (3 * c**3)
        + math.pi * surface * hz**2 / (4 * c**2)
        + edges * hz / (8 * c)
    )

    assert len(box_modes(size_m, sound_speed=c, highest_hz=hz)) == pytest.approx(expected, rel=0.02)


def test_modes_merge_where_they_follow_within_a_width():
    modes = box_modes((5.0, 4.0, 3.0), sound_speed=343.0, highest_hz=72.0)
    groups = merged(modes, width_hz=mode_width_hz(decay_time_s=0.9))

    # 34.3 | 42.9 | 54.9 and 57.2, 2.3 Hz apart | 66.7, 68.6 | 71.5: wider than 2.44 Hz from one to the next.
    assert [len(group) for group in groups] == [1, 1, 2, 2, 1]


@pytest.mark.parametrize("size_m", [(0.0, 4.0, 3.0), (5.0, math.nan, 3.0), (5000.0, 4000.0, 3000.0)])
def test_a_box_without_size_or_beyond_all_measure_has_no_list(size_m):
    with pytest.raises(ParameterError):
        box_modes(size_m, sound_speed=343.0, highest_hz=200.0)
