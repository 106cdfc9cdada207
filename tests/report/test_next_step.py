"""What to hang next, on the page of a room. All rooms invented."""

import io
from dataclasses import replace

import numpy as np
import pytest
import soundfile
from pyloudnorm import Meter

from roomir import planning
from roomir.errors import RoomirError
from roomir.planning.players import LONGEST_S, RATE_HZ, players
from roomir.remarks import Remark
from roomir.report.page import room_page
from roomir.report.planning.next_step import AS_FORESEEN, LONGER, Player, next_step_document, verdicts
from roomir.report.planning.next_step_view import next_step_view
from roomir.report.unit_system import US
from tests.compare.stories import room, stage, story
from tests.plan.rooms import box_text
from tests.readings import nothing_read
from tests.report.test_page import NASTY, Reader

SIZE = (5.0, 4.0, 3.0)
# Fewer walls to hang on are worked out sooner.
TEXT = box_text(SIZE).replace('facing = "y"', 'facing = "y"\nkeep_live = true')


@pytest.fixture(scope="module")
def told():
    return story(stages=[stage("bare", room(1.2))])


@pytest.fixture(scope="module")
def step(told):
    return planning.next_step(told, description=TEXT, target="practice room")


@pytest.fixture(scope="module")
def page(told, step):
    return room_page(told, step=step)


def test_the_section_says_what_to_hang_where_and_what_comes_of_it(page, step):
    words = " ".join(Reader(page).words.split())
    section = words[words.index("What to hang next") : words.index("How it was measured")]

    assert step.proposal.feasible
    for item in step.proposal.then.items:
        assert f"{item.count} x {item.absorber.name}" in section
        assert f"{item.area_m2:.1f} m2" in section
        assert item.surface in section
    for said in ("Target: practice room", "bring every band inside", "What limits it is", "= inside"):
        assert said in section
    assert "Thin foam everywhere, or fewer and thicker" in section
    assert "fire class" in section
    assert "corrected by what was read in " in section


def test_the_section_has_two_pictures_and_nothing_that_runs_or_is_fetched(page, told):
    found, without = Reader(page), Reader(room_page(told))

    assert found.tags["svg"] - without.tags["svg"] == 2
    assert not found.tags["script"]
    assert not found.tags["audio"]
    for name, value in found.attributes:
        if name in ("src", "href", "xlink:href", "action"):
            assert value.startswith("#")
    ids = [value for name, value in found.attributes if name == "id"]
    assert len(set(ids)) == len(ids)
    assert "media-src" not in page


def test_a_verdict_is_a_word_and_a_sign_and_never_a_colour_alone(step):
    view = next_step_view(step)
    pairs = {(row.now_verdict.sign, row.now_verdict.word) for row in view.bands}
    pairs |= {(row.then_verdict.sign, row.then_verdict.word) for row in view.bands}
    pairs |= {(row.foam_verdict.sign, row.foam_verdict.word) for row in view.bands}

    assert pairs <= {("=", "inside"), (">", "too long"), ("<", "too short"), ("?", "undecided")}
    assert ("=", "inside") in pairs
    assert ("<", "too short") in pairs  # thin foam eats the top


def test_numbers_are_those_of_the_proposal(step):
    view = next_step_view(step)
    then = step.proposal.then.expected

    for row, time_s, (low_s, high_s) in zip(view.bands, then.decay_time_s, then.ci95_s, strict=True):
        assert float(row.then.time) == pytest.approx(time_s, abs=0.051)
        low, high = map(float, row.then.ends.split(" to "))
        assert low <= low_s < high_s <= high
    assert step.proposal.now.expected.decay_time_s == pytest.approx(np.full(6, 1.2), rel=0.05)


def test_areas_are_in_the_units_that_were_asked_for(step, told):
    view = next_step_view(step, units=US)

    assert all(row.area.endswith(" ft2") for row in view.hung)
    assert " m2" not in view.answer + " ".join(view.against_foam)
    assert "ft2" in room_page(told, step=step, units=US)


def test_a_prediction_is_held_against_the_reading_within_both_their_uncertainties(step):
    for verdict, predicted_s, spread in zip(
        verdicts(step), step.foreseen.decay_time_s, step.foreseen.log_spread, strict=True
    ):
        off = abs(np.log(1.2 / predicted_s))
        if off < 1.9 * spread:
            assert verdict == AS_FORESEEN
    live = planning.next_step(story(stages=[stage("bare", room(9.0))]), description=TEXT)
    assert set(verdicts(live)) == {LONGER}
    assert "longer at 125 Hz to 4 kHz" in next_step_view(live).foreseen_says[0]


def test_without_a_target_the_prediction_stands_alone(told):
    step = planning.next_step(told, description=TEXT)
    view = next_step_view(step)

    assert (view.answer, view.hung, view.bands) == ("", (), ())
    assert len(view.foreseen) == 6
    assert "Name a target" in room_page(told, step=step)


def test_without_description_the_room_is_taken_as_it_was_read(told):
    step = planning.next_step(told, target="practice room")

    assert step.foreseen is None
    assert step.proposal.feasible
    assert any("what the surfaces are made of is not known" in one.says for one in step.remarks)
    assert "Prediction against reading" not in room_page(told, step=step)


def test_with_neither_there_is_no_section(told):
    assert planning.next_step(told) is None
    assert "What to hang next" not in room_page(told)


@pytest.mark.parametrize(
    ("history", "says"),
    [
        (story(stages=[]), "Neither a reading nor a description"),
        (story(stages=[stage("noise", nothing_read())]), "Neither a reading nor a description"),
        (story(stages=[stage("bare", room(1.2))], dimensions_m=None), "dimensions of shed"),
    ],
)
def test_where_nothing_can_be_proposed_the_section_says_what_is_lacking(history, says):
    step = planning.next_step(history, target="practice room")

    assert step.proposal is None
    assert says in step.lacks
    assert says in room_page(history, step=step)


def test_a_description_of_another_size_than_the_logbooks_is_told(told):
    other = planning.next_step(told, description=box_text((5.0, 4.0, 2.0)))
    same = planning.next_step(told, description=TEXT)

    assert [one.code for one in same.remarks] == []
    assert [one.code for one in other.remarks] == ["sizes-differ"]
    assert "the description has 40.0 m3, but the logbook 60.0 m3" in other.remarks[0].says


def test_a_reading_of_an_earlier_stage_is_not_taken_for_the_room_as_it_is():
    told = story(stages=[stage("bare", room(1.2)), stage("lined", nothing_read())])

    assert planning.next_step(told, description=TEXT).stage == ""


def test_an_impossible_target_shows_the_nearest_choice_and_what_is_missed(told):
    step = planning.next_step(told, description=TEXT, target="0.05-0.06")
    view = next_step_view(step)

    assert not step.proposal.feasible
    assert view.answer.startswith("No choice from these absorbers and surfaces")
    assert "too long" in {row.then_verdict.word for row in view.bands}


def test_names_of_others_are_text_and_nothing_else(step):
    told = story(room=NASTY, stages=[stage(NASTY, room(1.2))])
    hung = tuple(replace(item, surface=NASTY) for item in step.proposal.then.items)
    remark = Remark(code="x", says=NASTY, remedy=NASTY)
    proposal = replace(
        step.proposal,
        room=replace(step.proposal.room, name=NASTY),
        window=replace(step.proposal.window, name=NASTY),
        then=replace(step.proposal.then, items=hung),
        full_surfaces=(NASTY,),
    )
    player = Player(words=NASTY, wav=b"RIFF")
    made = replace(step, stage=NASTY, proposal=proposal, lacks=NASTY, players=(player,), remarks=(remark,))
    found = Reader(room_page(told, step=made))

    assert not found.tags["script"]
    assert not found.tags["img"]
    assert "\x1b" not in found.words
    assert found.words.count("alert(1)") > 8
    assert [name for name, _ in found.attributes if name.startswith("on")] == []


def test_a_description_that_leans_on_another_file_is_refused(told):
    text = TEXT.replace('name = "room"', 'name = "room"\nmaterials = "/etc/passwd"', 1)
    with pytest.raises(RoomirError, match="names another file"):
        planning.next_step(told, description=text)


def test_players_are_short_equally_loud_and_inside_the_page(told, step):
    made = replace(step, players=players(step.proposal, dry=None))
    sounds = [soundfile.read(io.BytesIO(one.wav)) for one in made.players]

    assert [one.words for one in made.players] == ["The room as it is", "As proposed for practice room"]
    assert {rate_hz for _, rate_hz in sounds} == {RATE_HZ}
    assert all(samples.ndim == 1 and samples.size <= LONGEST_S * RATE_HZ for samples, _ in sounds)
    assert all(len(one.wav) <= 2 * LONGEST_S * RATE_HZ + 100 for one in made.players)
    loudness = [Meter(rate_hz).integrated_loudness(samples) for samples, rate_hz in sounds]
    assert loudness[0] == pytest.approx(loudness[1], abs=0.1)
    page = room_page(told, step=made)
    found = Reader(page)
    assert found.tags["audio"] == 2
    assert [value[:22] for name, value in found.attributes if name == "src"] == ["data:audio/wav;base64,"] * 2
    assert "img-src data:; media-src data:" in page
    labels = [value for name, value in found.attributes if name == "aria-labelledby"]
    assert set(labels) <= {value for name, value in found.attributes if name == "id"}


def test_a_dry_sound_that_is_too_short_is_one_clear_error(step, tmp_path):
    soundfile.write(tmp_path / "tick.wav", np.full(4800, 0.1), 48_000)
    with pytest.raises(RoomirError) as error:
        players(step.proposal, dry=tmp_path / "tick.wav")

    assert error.value.remedy


def test_the_document_has_the_proposal_and_the_prediction(step):
    document = next_step_document(step)

    assert document["proposal"]["schema"] == "roomir/proposal/1"
    assert [one["centre_hz"] for one in document["predicted"]] == [125, 250, 500, 1000, 2000, 4000]
    assert {one["read_s"] for one in document["predicted"]} == {1.2}


def test_a_description_in_stages_is_taken_as_it_was_in_the_last_stage_that_was_read():
    told = story(stages=[stage("bare", room(1.2)), stage("lined", room(0.5)), stage("cellar", room(3.0))])
    text = TEXT.replace("[room]\n", '[room]\nstages = ["bare", "Lined"]\n')
    step = planning.next_step(told, description=text)
    planned = planning.next_step(told, description=text.replace('"Lined"', '"lined", "panels"'))

    assert (step.stage, {time_s for time_s, _ in step.read.values()}) == ("lined", {0.5})
    assert [one.code for one in step.remarks] == ["stage-left-out"]
    # What is planned beyond it is not what hangs now.
    assert (planned.stage, planned.read) == (step.stage, step.read)


def test_a_description_none_of_whose_stages_was_read_is_taken_at_its_last():
    told = story(stages=[stage("cellar", room(3.0))])
    text = TEXT.replace("[room]\n", '[room]\nstages = ["bare", "lined"]\n')
    ahead = planning.next_step(told, description=text)

    assert (ahead.stage, ahead.read) == ("", {})
    assert "Nothing was read" in next_step_view(ahead).foreseen_says[0]
