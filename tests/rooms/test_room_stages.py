"""One room file for a room in several stages. All rooms are invented."""

import pytest

from roomir.errors import RoomirError
from roomir.rooms.materials import standard_materials
from roomir.rooms.room_file import parse_room
from tests.plan.rooms import box_text

STAGES = 'stages = ["bare", "curtains", "panels"]\n'
CURTAIN = """[[surfaces.parts]]
name = "curtain"
area_m2 = 4
material = "curtain, heavy velour, draped to half"
since = "curtains"
until = "Panels"
"""
PANEL = """[[surfaces.parts]]
name = "panels"
area_m2 = 6
material = "stone wool 50 mm, 80 kg/m3"
since = "panels"
"""
PERSON = '[[furnishings]]\nmaterial = "standing adult"\nuntil = "curtains"\n'


def staged(*, parts=CURTAIN + PANEL, stages=STAGES, more=PERSON):
    """A box whose ceiling, the last surface, changes from stage to stage."""
    return box_text(more=parts + more).replace("[room]\n", f"[room]\n{stages}")


def read(text, **options):
    return parse_room(text, name="room.toml", materials=standard_materials(), **options)


def areas(room):
    return [round(patch.area_m2, 6) for patch in room.surfaces[-1].patches]


def test_parts_come_and_go_with_the_stages_and_the_wall_behind_them_comes_back():
    room = read(staged())

    assert (room.stage, [one.stage for one in room.earlier]) == ("panels", ["bare", "curtains"])
    assert [areas(one) for one in (*room.earlier, room)] == [[20.0], [16.0, 4.0], [14.0, 6.0]]
    assert [len(one.furnishings) for one in (*room.earlier, room)] == [1, 0, 0]
    assert {one.surface_m2 for one in (*room.earlier, room)} == {room.surface_m2}


def test_a_stage_can_be_asked_for_and_knows_only_those_before_it():
    room = read(staged(), stage="Curtains")

    assert (room.stage, areas(room)) == ("curtains", [16.0, 4.0])
    assert [one.stage for one in room.earlier] == ["bare"]


def test_a_file_without_stages_is_one_room():
    room = read(box_text())

    assert (room.stage, room.earlier) == ("", ())


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (staged(stages=""), "parts[1].since is 'curtains', which is no stage of this file"),
        (staged(stages='stages = "bare"\n'), "room.stages is no list of names"),
        (staged(stages='stages = ["bare", "Bare"]\n'), "room.stages is no list of names"),
        (staged(more=PERSON.replace('"curtains"', "3")), "furnishings[1].until is 3"),
        (staged(parts=CURTAIN + PANEL.replace("= 6", "= 21")), "cover 21 m2 of 20 m2"),
    ],
)
def test_wrong_stages_are_named_by_their_key(text, says):
    with pytest.raises(RoomirError) as caught:
        read(text)
    assert any(says in one.says for one in (caught.value, *caught.value.others))


@pytest.mark.parametrize(
    ("text", "remedy"), [(staged(), "bare, curtains, panels"), (box_text(), "stages = [")]
)
def test_a_stage_that_the_file_does_not_name_is_refused_with_those_it_does(text, remedy):
    with pytest.raises(RoomirError) as caught:
        read(text, stage="paint")
    assert caught.value.code == "stage-not-described"
    assert remedy in caught.value.remedy
