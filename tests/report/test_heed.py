"""The faults of the recordings, said beside the answer."""

import ast
from dataclasses import replace
from pathlib import Path

import roomir
from roomir.remarks import Remark
from roomir.report.heed import SHORT, heed
from roomir.report.view import view
from tests import readings

DROPOUT = Remark(code="dropout", says="sound was lost 120 ms after the clap", remedy="record again")


def clapped(*faults: tuple[Remark, ...], left_out: int = 0):
    """A reading of one take whose claps have these concerns, the first ones set aside for them."""
    clap = next(clap for clap in readings.take().claps if clap.used)
    claps = tuple(
        replace(
            clap,
            onset_s=float(place),
            stop_s=place + 0.9,
            concerns=concerns,
            set_aside_because=concerns[0] if place < left_out else None,
            bands=() if place < left_out else clap.bands,
        )
        for place, concerns in enumerate(faults)
    )
    return readings.reading(takes=(readings.take(concerns=(), claps=claps),))


def test_a_reading_without_faults_has_nothing_to_heed():
    assert heed(clapped((), ())) == ()


def test_a_fault_of_the_whole_take_is_said_in_a_few_words():
    (said,) = heed(readings.reading(takes=(readings.take(concerns=(readings.CLIPPED,)),)))

    assert said.startswith("Heed the recording: too loud for the recorder (clipped)")


def test_of_several_takes_it_is_said_how_many_have_it():
    good = readings.take("b.wav", concerns=())
    (said,) = heed(readings.reading(takes=(readings.take(concerns=(readings.CLIPPED,)), good, good)))

    assert "in one of three recordings" in said


def test_claps_that_are_struck_are_counted_and_those_left_out_said():
    (said,) = heed(clapped((DROPOUT,), (), (), left_out=1))

    assert said == "Heed the recording: sound was lost, at one of three claps, left out."
    assert heed(clapped((DROPOUT,), (DROPOUT,))) == ("Heed the recording: sound was lost, at every clap.",)


def test_the_answer_on_the_screen_is_followed_by_it():
    assert view(clapped((DROPOUT,), ())).but[0].startswith("Heed the recording: sound was lost")


def test_every_fault_that_the_sound_can_show_has_short_words():
    codes = set()
    for path in (Path(roomir.__file__).parent / "faults").glob("*.py"):
        if path.name == "other_sounds.py":  # what it says is why an event is no clap, and no fault
            continue
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.keyword) and node.arg == "code":
                codes |= {one.value for one in ast.walk(node.value) if isinstance(one, ast.Constant)}

    assert {code for code in codes if isinstance(code, str)} <= set(SHORT)
