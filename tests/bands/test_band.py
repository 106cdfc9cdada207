"""The bands themselves."""

from itertools import pairwise

import pytest

from roomir.bands.band import BAND_SETS, OCTAVES, THIRD_OCTAVES


@pytest.mark.parametrize("bands", BAND_SETS.values(), ids=BAND_SETS)
def test_each_band_ends_where_the_next_begins(bands):
    for lower, upper in pairwise(bands):
        assert lower.high_hz == pytest.approx(upper.low_hz, rel=1e-12)
        assert lower.high_hz - lower.low_hz == lower.width_hz


@pytest.mark.parametrize("bands", BAND_SETS.values(), ids=BAND_SETS)
def test_the_name_of_a_band_is_its_midband_frequency_rounded(bands):
    # Nominal midband frequencies of IEC 61260-1:2014, Annex E (from memory): none is 1.1 % off, 160 Hz for
    # 158.5 Hz being nearly 1 %.
    for band in bands:
        assert band.nominal_hz == pytest.approx(band.exact_hz, rel=0.011)


def test_octaves_are_seventy_and_third_octaves_twenty_three_hundredths_of_their_midband_frequency_wide():
    # The widths ISO 3382-2:2008, clause 7 uses: 0.71 f and 0.23 f; exactly 0.7046 f and 0.2308 f.
    for band in OCTAVES:
        assert band.width_hz / band.exact_hz == pytest.approx(0.7046, abs=1e-4)
    for band in THIRD_OCTAVES:
        assert band.width_hz / band.exact_hz == pytest.approx(0.2308, abs=1e-4)


def test_three_third_octaves_make_an_octave():
    names = {band.nominal_hz: band for band in THIRD_OCTAVES}
    for low_hz, octave_hz, high_hz in ((100, 125, 160), (400, 500, 630), (6300, 8000, 10000)):
        octave = next(band for band in OCTAVES if band.nominal_hz == octave_hz)
        assert names[low_hz].low_hz == pytest.approx(octave.low_hz, rel=1e-12)
        assert names[high_hz].high_hz == pytest.approx(octave.high_hz, rel=1e-12)
        assert names[octave_hz].exact_hz == pytest.approx(octave.exact_hz, rel=1e-12)


def test_decades_of_third_octaves_repeat():
    names = {band.nominal_hz: band.exact_hz for band in THIRD_OCTAVES}
    assert names[100] * 10.0 == pytest.approx(names[1000], rel=1e-12)
    assert names[1000] * 10.0 == pytest.approx(names[10000], rel=1e-12)
    assert names[1000] == 1000.0
