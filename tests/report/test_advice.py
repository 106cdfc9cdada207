"""What to do next: the remedy that helps most comes first, and nobody is told a list."""

from __future__ import annotations

from dataclasses import replace

from roomir.remarks import Remark
from roomir.report.advice import MOST_STEPS, next_steps
from tests.readings import (
    CLIPPED,
    SHORT_RANGE,
    SPEECH,
    indicative_band,
    reading,
    room_band,
    take,
    unusable_band,
)


def test_a_fault_of_the_recording_comes_before_any_band():
    steps = next_steps(reading(takes=(take(concerns=(CLIPPED,)), *reading().takes[1:])))

    assert steps[0].do == CLIPPED.remedy


def test_a_remedy_for_the_middle_comes_before_one_for_the_edge():
    edge = Remark(code="edge", says="8 kHz is weak", remedy="use a bigger balloon")
    middle = Remark(code="middle", says="1 kHz is weak", remedy="move closer")
    bands = (
        indicative_band(8000.0, reasons=(edge,)),
        indicative_band(1000.0, reasons=(middle,)),
        room_band(500.0),
    )

    assert [step.do for step in next_steps(reading(bands=bands))] == ["move closer", "use a bigger balloon"]


def test_one_remark_in_many_bands_is_one_step_that_names_them():
    steps = next_steps(reading(bands=(indicative_band(125.0), indicative_band(250.0), room_band(500.0))))

    assert [(step.do, step.bands) for step in steps] == [
        ("switch the heater off, move closer, or pop a balloon", ("125 Hz", "250 Hz"))
    ]


def test_a_step_for_every_band_names_none():
    (step,) = next_steps(reading(bands=(indicative_band(125.0), indicative_band(250.0))))

    assert step.bands == ()


def test_the_worst_band_words_the_step():
    mild = Remark(code="short-range", says="a little short", remedy="move a step closer")
    grave = Remark(code="short-range", says="much too short", remedy="pop a balloon")
    bands = (
        indicative_band(250.0, reasons=(mild,)),
        unusable_band(125.0, reasons=(grave,)),
        room_band(500.0),
    )

    assert next_steps(reading(bands=bands))[0].do == "pop a balloon"


def test_with_fewer_than_four_spots_more_of_them_are_asked_for():
    assert "three more spots" in next_steps(reading(bands=(room_band(500.0, spots=1),)))[0].do
    assert "one more spot " in next_steps(reading(bands=(room_band(500.0, spots=3),)))[0].do
    assert next_steps(reading(bands=(room_band(500.0, spots=4),))) == ()


def test_more_spots_are_asked_for_once():
    wide = Remark(code="interval-too-wide", says="known to within 30 %", remedy="clap in more spots")

    assert len(next_steps(reading(bands=(indicative_band(500.0, reasons=(wide,), spots=1),)))) == 1
    assert next_steps(reading(bands=(indicative_band(500.0, reasons=(wide,), spots=5),)))[0].do == wide.remedy


def test_an_event_set_aside_matters_only_where_nothing_else_was_read():
    clap, set_aside = take().claps

    assert next_steps(reading(takes=(take(claps=(clap, set_aside)),), bands=())) == ()
    assert next_steps(reading(takes=(take(claps=(set_aside,)),), bands=()))[0].do == SPEECH.remedy


def test_two_reasons_with_one_remedy_are_one_step():
    few_db = Remark(code="t20-withheld", says="T20 needs 35 dB", remedy=SHORT_RANGE.remedy)
    (step,) = next_steps(
        reading(bands=(indicative_band(125.0), indicative_band(250.0, reasons=(few_db,)), room_band(500.0)))
    )

    assert step.do == SHORT_RANGE.remedy
    assert step.bands == ("125 Hz", "250 Hz")


def test_nobody_has_to_work_for_what_a_reliable_band_lacks():
    few_db = Remark(code="t30-withheld", says="T30 needs 45 dB", remedy="clap harder")

    assert next_steps(reading(bands=(room_band(500.0, reasons=(few_db,)),))) == ()


def test_there_are_never_more_steps_than_anybody_follows():
    reasons = tuple(Remark(code=f"reason-{i}", says="weak", remedy=f"do {i}") for i in range(9))

    assert len(next_steps(reading(bands=(indicative_band(500.0, reasons=reasons),)))) == MOST_STEPS


def test_a_remark_nothing_can_be_done_about_is_no_step():
    hopeless = replace(SPEECH, code="hopeless", remedy="")

    assert next_steps(reading(bands=(indicative_band(500.0, reasons=(hopeless,)),))) == ()


def test_a_clap_that_was_left_out_for_its_fault_comes_behind_what_bands_lack():
    clap = take().claps[0]
    struck = replace(clap, concerns=(CLIPPED,), set_aside_because=CLIPPED, bands=())
    others = (replace(clap, onset_s=7.0, stop_s=9.0),)
    lost = (replace(take(), claps=(struck, *others)), *reading().takes[1:])
    alone = (replace(take(), claps=(replace(struck, set_aside_because=None, bands=clap.bands),)),)

    assert next_steps(reading(takes=lost))[0].do != CLIPPED.remedy
    assert next_steps(reading(takes=alone))[0].do == CLIPPED.remedy
