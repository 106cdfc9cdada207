"""A room file read, and what is said about a wrong one."""

from pathlib import Path

import pytest

from roomir.rooms.materials import BadFileError, load_materials, standard_materials
from roomir.rooms.new_room import Answers, room_text
from roomir.rooms.prediction import predict
from roomir.rooms.room_file import load_room, parse_room

TABLE = standard_materials()

BOOTH = """
[room]
name = "booth"
dimensions_m = [3.2, 2.6, 2.5]
temperature_c = 20
humidity_percent = 50
[[surfaces]]
name = "floor"
area_m2 = 8.32
facing = "z"
material = "wood floor on joists"
[[surfaces]]
name = "ceiling"
area_m2 = 8.32
facing = "z"
alpha = [0.15, 0.11, 0.10, 0.07, 0.06, 0.07]
[[surfaces]]
name = "ends"
area_m2 = 13.0
facing = "x"
material = "gypsum board 13 mm on studs"
[[surfaces.parts]]
name = "door"
area_m2 = 1.9
material = "Solid Wooden-Door"
[[surfaces]]
name = "sides"
area_m2 = 16.0
facing = "y"
material = "gypsum board 13 mm on studs"
[[furnishings]]
material = "standing adult"
count = 2
"""


def read(text):
    return parse_room(text, name="booth.toml", materials=TABLE)


def faults(text):
    with pytest.raises(BadFileError) as caught:
        read(text)
    return [caught.value, *caught.value.others]


def test_a_room_file_says_what_the_room_is():
    room = read(BOOTH)

    assert room.volume_m3 == pytest.approx(20.8)
    assert room.surface_m2 == pytest.approx(45.64)
    assert room.remarks == ()
    ends = room.surfaces[2]
    assert [round(patch.area_m2, 2) for patch in ends.patches] == [11.1, 1.9]
    assert ends.patches[1].material == "solid wooden door"


def test_feet_and_inches_make_the_same_room():
    metric = read(BOOTH)
    us = read(
        BOOTH.replace(
            "dimensions_m = [3.2, 2.6, 2.5]", 'dimensions = ["10 ft 6 in", "8 ft 6.4 in", "8 ft 2.4 in"]'
        )
        .replace("temperature_c = 20", "temperature_f = 68")
        .replace("area_m2 = 13.0", 'area = "139.9 sq ft"')
    )

    assert us.volume_m3 == pytest.approx(metric.volume_m3, rel=0.005)
    assert us.surfaces[2].area_m2 == pytest.approx(13.0, rel=0.001)
    assert us.temperature_c == pytest.approx(20.0)


def test_a_missing_wall_is_named_as_a_gap():
    without_sides = BOOTH.replace("area_m2 = 16.0", "area_m2 = 8.0")
    (remark,) = read(without_sides).remarks

    assert remark.code == "areas-leave-a-gap"
    assert "the two walls facing y add up to 8.00 m2" in remark.says
    assert "8.00 m2 are missing" in remark.says


def test_a_wall_told_twice_is_named_as_an_overlap():
    (remark,) = read(BOOTH.replace("area_m2 = 13.0", "area_m2 = 15.0")).remarks

    assert remark.code == "areas-overlap"
    assert "facing x" in remark.says
    assert "2.00 m2 too much" in remark.says


def test_a_volume_needs_at_least_the_surface_of_a_ball():
    text = '[room]\nvolume_m3 = 100\ntemperature_c = 20\nhumidity_percent = 50\n[[surfaces]]\nname = "all"\n'
    remarks = read(text + "area_m2 = 90\nalpha = [0.1, 0.1, 0.1, 0.1, 0.1, 0.1]").remarks

    assert [one.code for one in remarks] == ["areas-leave-a-gap"]
    assert "at least 104.19 m2" in remarks[0].says  # (36 pi)^(1/3) V^(2/3)


@pytest.mark.parametrize(
    ("old", "new", "says", "remedy"),
    [
        ("area_m2 = 8.32", "area_m2 = -8.32", 'surfaces[1] ("floor").area_m2', "without a sign"),
        ('facing = "z"', 'facing = "up"', "facing is 'up'", '"z" for floor and ceiling'),
        (
            '"wood floor on joists"',
            '"wooden flour"',
            'no material called "wooden flour"',
            "wood floor on joists",
        ),
        ("alpha = [0.15,", "alpha = [1.5,", 'surfaces[2] ("ceiling").alpha holds 1.5', "six values"),
        ('facing = "z"', 'keep_live = "yes"\nfacing = "z"', "keep_live is 'yes'", "true or false"),
        ('facing = "z"', 'max_thickness_mm = -1\nfacing = "z"', "max_thickness_mm is -1", "from 0 to"),
        ("alpha = [0.15, 0.11,", "alpha = [0.15,", "has 5 values", "six values"),
        ("humidity_percent = 50", "humidity_percent = 0", "room.humidity_percent is 0", "from 1 to 100"),
        ("dimensions_m = [3.2, 2.6, 2.5]", "dimensions_m = [3.2, 2.6]", "not three lengths", "12 ft 6 in"),
        ("dimensions_m = [3.2, 2.6, 2.5]", "", "room.dimensions_m is missing", "volume_m3"),
        ("area_m2 = 1.9", "area_m2 = 19", "parts cover 19 m2 of 13 m2", "check their areas"),
        ('name = "sides"', 'name = "ends"', '"ends" is used twice', "its own name"),
        (
            "area_m2 = 8.32",
            'area_m2 = 8.32\narea = "400 sq ft"',
            'surfaces[1] ("floor").area stands beside area_m2',
            "give one",
        ),
        (
            "dimensions_m = [3.2, 2.6, 2.5]",
            'dimensions_m = [3.2, 2.6, 2.5]\ndimensions = "9x9x9"',
            "room.dimensions stands beside dimensions_m",
            "give one",
        ),
        (
            "humidity_percent = 50",
            "humidity_percent = 50\ntemperature_f = 90",
            "room.temperature_c stands beside temperature_f",
            "give one",
        ),
        (
            "humidity_percent = 50",
            "humidity_percent = 50\nmaterials = 3",
            "room.materials is no text",
            "name a",
        ),
        ('facing = "z"', 'spread_percent = 1e6\nfacing = "z"', "spread_percent is 1000000.0", "0 to 300"),
        ("alpha = [0.15,", "alpha_8khz = 7\nalpha = [0.15,", "alpha_8khz is 7", "0 to 1.2"),
        ("count = 2", "count = -2", "furnishings[1].count is -2", "from 0"),
        ("count = 2", 'colour = "red"', "furnishings[1].colour is not known", "the keys are"),
        ('material = "standing adult"', 'material = "rough concrete"', "values per m2", "parts of a surface"),
    ],
)
def test_a_bad_value_gets_a_line_with_its_key_and_the_remedy(old, new, says, remedy):
    assert old in BOOTH
    (fault,) = faults(BOOTH.replace(old, new, 1))

    assert fault.says.startswith("booth.toml: ")
    assert says in fault.says
    assert remedy in fault.remedy


def test_panels_hang_on_the_largest_part_of_a_wall_that_is_all_parts():
    room = read(
        '[room]\nvolume_m3 = 20\n[[surfaces]]\nname = "wall"\narea_m2 = 45\n'
        'parts = [{name = "door", area_m2 = 2, alpha = [0.1, 0.1, 0.1, 0.1, 0.1, 0.1]},'
        ' {name = "plaster", area_m2 = 43, alpha = [0.02, 0.02, 0.02, 0.02, 0.02, 0.02]}]'
    )

    (wall,) = room.surfaces
    assert wall.ground.alpha[3] == 0.02
    assert wall.hangable_m2 == 43


def test_an_empty_list_of_surfaces_is_told_as_missing():
    (fault,) = faults("surfaces = []\n[room]\ndimensions_m = [3.2, 2.6, 2.5]\n")

    assert "surfaces are missing" in fault.says
    assert "[[surfaces]]" in fault.remedy


def test_every_fault_is_told_at_once():
    told = faults(BOOTH.replace("area_m2 = 8.32", "area_m2 = 0", 1).replace("count = 2", "count = -1"))

    assert len(told) == 2
    assert all(fault.says.startswith("booth.toml: ") for fault in told)


def test_what_is_no_toml_is_said_in_one_line():
    with pytest.raises(Exception, match=r"booth.toml is no TOML") as caught:
        read("[room\nname = 3")
    assert "\n" not in str(caught.value)


def test_a_table_of_ones_own_stands_beside_the_room(tmp_path: Path):
    (tmp_path / "mine.toml").write_text(
        '[[materials]]\nname = "my panel"\nalpha = [0.3, 0.8, 0.9, 0.9, 0.9, 0.9]\nmounting = "on wall"\n'
        'source = "invented for this test"\nkind = "porous"\npanel_m2 = 0.72\nthickness_mm = 100\n'
        "weight_kg_per_m2 = 6\n"
    )
    (tmp_path / "booth.toml").write_text(
        BOOTH.replace("[room]", '[room]\nmaterials = "mine.toml"').replace(
            '"wood floor on joists"', '"My Panel"'
        )
    )
    room, table = load_room(tmp_path / "booth.toml")

    assert table.get("my panel").own
    assert room.surfaces[0].ground.alpha[3] == 0.9
    assert len(table) == len(standard_materials()) + 1


def test_a_table_of_ones_own_with_a_fault_names_it(tmp_path: Path):
    path = tmp_path / "mine.toml"
    path.write_text('[[materials]]\nname = "x"\nalpha = [1, 2]\nmounting = "m"\nsource = "s"\n')
    with pytest.raises(BadFileError, match=r"mine.toml: materials\[1\].alpha has 2 values"):
        load_materials(path)


def test_a_new_room_reads_back_without_gaps_and_rings():
    answers = Answers(
        name='the "shed"',
        dimensions_m=(3.81, 3.048, 2.4384),
        floor="wood floor on joists",
        ceiling="gypsum board 13 mm on studs",
        walls="brick, unglazed",
        door_m2=1.9,
        window_m2=1.2,
    )
    room = parse_room(room_text(answers, materials=TABLE), name="shed.toml", materials=TABLE)

    assert room.name == 'the "shed"'
    assert room.remarks == ()
    assert [len(surface.patches) for surface in room.surfaces] == [2, 1, 2, 1, 1, 1]
    assert all(0.2 < band.best_s < 5.0 for band in predict(room).bands)


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ("materials = [1]", "mine.toml: there are no [[materials]] in it"),
        ('reverse = "nobody"', 'mine.toml: materials[1].reverse: there is no material called "nobody"'),
        ("reverse = 3", "mine.toml: materials[1].reverse is no text"),
    ],
)
def test_a_table_whose_panel_has_no_other_side_to_turn_to_names_the_key(tmp_path: Path, row, says):
    panel = (
        '[[materials]]\nname = "x"\nalpha = [0.3, 0.8, 0.9, 0.9, 0.9, 0.9]\nmounting = "m"\nsource = "s"\n'
        'kind = "reversible"\npanel_m2 = 0.5\nthickness_mm = 60\nweight_kg_per_m2 = 8\n'
    )
    path = tmp_path / "mine.toml"
    path.write_text(row if "materials" in row else panel + row)
    with pytest.raises(BadFileError) as caught:
        load_materials(path)
    assert caught.value.says.startswith(says)
