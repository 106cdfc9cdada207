"""A room over its stages: what is compared with what, as text and as a document. All rooms invented."""

import json

from roomir.compare.aim import aim_at
from roomir.report.document import as_json_text
from roomir.report.history import history_document, render_history
from roomir.report.table import stages_csv
from roomir.report.unit_system import US
from roomir.rooms.targets import find_target
from tests.compare.stories import room, stage, story
from tests.contract import BAND, check_document, optional
from tests.readings import nothing_read

CONTRACT = {
    "schema": {"roomir/history/1"},
    "room": str,
    "stages": [
        {
            "name": str,
            "takes": [{"sha256": str, "name": str}],
            "bands": [{**BAND, "claps_used": int, "spots": int}],
            "against_previous": optional({"headline": {"verdict": str, "says": str}}),
            "against_first": optional({"headline": {"verdict": str, "says": str}}),
        }
    ],
}


def test_every_stage_stands_against_the_one_before_and_the_first():
    told = story()
    changes = [None if one is None else one.bands[0].change_s for one in told.against_previous]
    since_first = [None if one is None else one.bands[0].change_s for one in told.against_first]
    assert changes[0] is None
    assert [round(one, 2) for one in changes[1:]] == [-0.3, -0.4]
    # The second stage has only the first before it, and need not be told twice.
    assert since_first[:2] == [None, None]
    assert round(since_first[2], 2) == -0.7
    assert told.first_to_last is told.against_first[2]


def test_positions_of_the_same_name_are_paired_and_the_air_is_known():
    told = story()
    whole = told.first_to_last
    assert {one.positions for one in whole.bands} == {5}
    assert whole.bands[0].added_absorption_m2 > 0.0
    assert not {"temperature-assumed", "air-taken-alike"} & {one.code for one in whole.guards}


def test_a_single_stage_and_none_are_stories_too():
    alone = story(stages=[stage("bare", room(1.2))])
    assert alone.first_to_last is None
    assert "one stage" in render_history(alone)
    empty = story(stages=[])
    assert empty.first_to_last is None
    assert render_history(empty).startswith("shed, 5 x 4 x 3 m: no stages")
    check_document(history_document(empty), wanted=CONTRACT)


def test_a_stage_that_gave_nothing_does_not_end_the_story():
    told = story(stages=[stage("bare", room(1.2)), stage("noise", nothing_read()), stage("now", room(0.5))])
    assert told.against_previous[1].headline.verdict == "cannot tell"
    assert told.first_to_last.headline.verdict == "changed"
    assert "No reading" in render_history(told)


def test_the_text_fits_the_screen_and_says_it_all():
    target = find_target("live room")
    told = story()
    aims = [aim_at(target, one.reading, volume_m3=60.0) for one in told.stages]
    text = render_history(told, aims=aims, units=US)
    assert max(map(len, text.splitlines())) <= 80
    assert "16.4 x 13.1 x 9.8 ft" in text
    assert "Since boards, changed: shorter" in text
    assert "boards on two walls" in text
    assert "live room (0.4 to 0.8 s): reached in all 6 bands." in text


def test_the_document_keeps_the_contract():
    check_document(json.loads(as_json_text(history_document(story()))), wanted=CONTRACT)


def test_names_do_nothing_on_the_screen_or_in_a_spreadsheet():
    told = story(
        room="shed\x1b[2J", stages=[stage("=1+1", room(1.2)), stage("[red]x\n", room(0.5), done="\x07")]
    )
    text = render_history(told)
    assert "\x1b" not in text
    assert "\x07" not in text
    assert "\n'=1+1," in stages_csv(told)
    assert len(stages_csv(told).splitlines()) == 1 + 2 * 7
