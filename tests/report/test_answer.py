"""The answer in words says how long, how sure, and where it does not hold."""

from __future__ import annotations

import pytest

from roomir.decay.combine import PRIOR_FACTOR
from roomir.reading.reading import MidFigures
from roomir.report.answer import answer, bass_ratio, but, interval_note
from tests.readings import (
    NO_RANGE,
    SHORT_RANGE,
    indicative_band,
    nothing_read,
    reading,
    room_band,
    take,
    unusable_band,
)


def test_the_first_sentence_is_time_interval_spots_and_trust():
    assert answer(reading()) == (
        "Rings for 0.88 s (0.84 to 0.92) at mid frequencies, five spots, trust: reliable.",
        "reliable",
    )


@pytest.mark.parametrize(
    ("at_500", "at_1000", "trust"),
    [
        ("reliable", "reliable", "reliable"),
        ("reliable", "indicative", "indicative"),
        ("indicative", "reliable", "indicative"),
        ("unusable", "reliable", "unusable"),
        ("unusable", "indicative", "unusable"),
    ],
)
def test_the_mean_is_trusted_no_more_than_its_worse_octave(at_500: str, at_1000: str, trust: str):
    said, verdict = answer(
        reading(bands=(room_band(500.0, verdict=at_500), room_band(1000.0, verdict=at_1000)))
    )

    assert verdict == trust
    assert f"trust: {trust}" in said
    assert ("do not build on this number" in said) == (trust == "unusable")


def test_the_spots_told_are_those_of_the_octave_with_fewer():
    said, _ = answer(reading(bands=(room_band(500.0, spots=3), room_band(1000.0, spots=1))))

    assert ", one spot, " in said


def test_without_mid_frequencies_the_best_band_answers_and_says_that_it_does():
    bands = (indicative_band(250.0), unusable_band(500.0), unusable_band(1000.0), room_band(4000.0))
    said, verdict = answer(reading(bands=bands, mid=MidFigures()))

    assert said == (
        "No answer at mid frequencies. Rings for 0.88 s (0.84 to 0.92) at 4 kHz, five spots, trust: reliable."
    )
    assert verdict == "reliable"


def test_a_time_without_interval_is_told_in_two_digits_and_with_about():
    said, _ = answer(reading(mid=MidFigures(decay_time_s=0.8812)))

    assert said.startswith("Rings for about 0.88 s (no interval can be given) at mid frequencies")


def test_where_no_band_has_a_decay_there_is_no_reading():
    said, verdict = answer(reading(bands=(unusable_band(),), mid=MidFigures()))

    assert said.startswith("No reading: in no band")
    assert verdict == "unusable"


def test_where_no_clap_was_found_or_no_file_opened_that_is_what_is_said():
    assert (
        "no clap fit to be read in one recording"
        in answer(reading(takes=(take(),), bands=(), mid=MidFigures()))[0]
    )
    assert "no file could be opened" in answer(nothing_read())[0]


def test_a_band_alone_in_its_trouble_is_not_named_twice():
    assert but((indicative_band(), room_band(500.0))) == (
        "125 Hz only indicative: the decay is visible for 22 dB, T20 needs 35.",
    )


def test_bands_in_the_same_trouble_share_a_sentence():
    other = SHORT_RANGE.__class__(
        code="short-range", says="at 8 kHz the decay is visible for 30 dB, T20 needs 35"
    )

    assert but((indicative_band(), room_band(500.0), indicative_band(8000.0, reasons=(other,)))) == (
        "125 Hz and 8 kHz only indicative: at 125 Hz the decay is visible for 22 dB, T20 needs 35.",
    )


def test_bands_with_the_same_reason_but_another_verdict_stand_apart():
    said = but((unusable_band(63.0), indicative_band(125.0, reasons=(NO_RANGE,)), room_band(500.0)))

    assert [sentence.split(":")[0] for sentence in said] == ["63 Hz unusable", "125 Hz only indicative"]


def test_reliable_bands_are_not_talked_about_even_if_they_carry_a_remark():
    assert but((room_band(500.0, reasons=(SHORT_RANGE,)),)) == ()


def test_the_kind_of_interval_is_named():
    by_scatter, by_theory = room_band(500.0), room_band(8000.0, interval_from="prior")

    assert "from the scatter between the spots" in interval_note((by_scatter,))
    assert "from theory" in interval_note((by_theory,))
    assert f"{PRIOR_FACTOR:g} times what theory says" in interval_note((by_theory,))
    both = interval_note((by_scatter, by_theory))
    assert both.startswith(
        "In brackets: 95 % interval for the room, from the scatter between the spots; at 8 kHz"
    )


def test_the_bass_ratio_is_trusted_no_more_than_its_worst_band():
    assert bass_ratio(reading()) == (
        "Bass ratio 1.03: 125 and 250 Hz against 500 Hz and 1 kHz; trust: indicative, for 125 Hz."
    )
    reliable = reading(bands=tuple(room_band(hz) for hz in (125.0, 250.0, 500.0, 1000.0)))
    assert "trust" not in bass_ratio(reliable)
    assert bass_ratio(reading(bass_ratio=None)) == ""


def test_without_intervals_nothing_is_said_about_their_kind():
    assert interval_note((unusable_band(),)) == ""
