"""`roomir predict`, `roomir room new` and `roomir materials` as typed."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.rooms.test_room_file import BOOTH

Roomir = Callable[..., Any]


@pytest.fixture
def booth(tmp_path: Path) -> Path:
    path = tmp_path / "booth.toml"
    path.write_text(BOOTH)
    return path


def test_the_document_keeps_the_contract(roomir: Roomir, booth: Path):
    run = roomir("predict", booth, "--json")
    document = json.loads(run.out)

    assert (run.status, run.err) == (0, "")
    assert document["schema"] == "roomir/prediction/1"
    assert document["volume_m3"] == pytest.approx(20.8)
    assert document["schroeder_hz"] > 0
    assert [band["centre_hz"] for band in document["bands"]] == [125, 250, 500, 1000, 2000, 4000]
    keys = "centre_hz sabine_s eyring_s millington_s fitzroy_s arau_puchades_s best_s method ci95_s"
    for band in document["bands"]:
        assert {*keys.split(), "absorption_area_m2", "air_area_m2"} <= set(band)
        assert band["method"] == document["method"]
        assert band["ci95_s"][0] < band["best_s"] < band["ci95_s"][1]


def test_without_air_the_air_adds_nothing(roomir: Roomir, booth: Path):
    bands = json.loads(roomir("predict", booth, "--json", "--no-air").out)["bands"]

    assert {band["air_area_m2"] for band in bands} == {0.0}


def test_the_screen_is_no_wider_than_eighty_columns(roomir: Roomir, booth: Path):
    run = roomir("predict", booth)

    assert run.out.startswith("booth, 20.8 m3: will ring for")
    assert max(map(len, run.out.splitlines())) <= 80


def test_every_fault_of_a_room_file_is_a_line_of_its_own(roomir: Roomir, booth: Path):
    booth.write_text(BOOTH.replace("area_m2 = 8.32", "area_m2 = 0", 1).replace("count = 2", "count = -1"))
    run = roomir("predict", booth)

    assert run.status == 1
    assert run.out == ""
    first, second = run.err.splitlines()
    assert 'booth.toml: surfaces[1] ("floor").area_m2' in first
    assert "booth.toml: furnishings[1].count" in second


@pytest.mark.parametrize(("name", "says"), [("away.toml", "is not there"), ("folder.toml", "cannot be read")])
def test_a_room_file_that_cannot_be_read_is_one_line(roomir: Roomir, tmp_path: Path, name: str, says: str):
    (tmp_path / "folder.toml").mkdir()
    run = roomir("predict", tmp_path / name)

    assert run.status == 1
    assert len(run.err.splitlines()) == 1
    assert says in run.err


def test_a_new_room_is_written_without_a_terminal_and_predicted(roomir: Roomir, tmp_path: Path):
    path = tmp_path / "shed.toml"
    options = (
        "--name",
        "shed",
        "--dimensions",
        "12 ft 6 in x 10 ft x 8 ft",
        "--floor",
        "wood floor on joists",
    )
    options += (
        "--ceiling",
        "plasterboard ceiling, large air space",
        "--walls",
        "brick, unglazed",
        "--door-area",
        "1.9",
    )
    run = roomir("room", "new", "-o", path, *options)

    assert (run.status, run.err) == (0, "")
    assert roomir("predict", path).status == 0
    again = roomir("room", "new", "-o", path, *options)
    assert again.status == 2
    assert "exists already" in again.err


def test_without_a_terminal_a_missing_answer_is_named(roomir: Roomir, tmp_path: Path):
    run = roomir("room", "new", "-o", tmp_path / "a.toml", "--name", "a")

    assert run.status == 2
    assert run.err == (
        "roomir: --dimensions is missing and nobody is there to be asked."
        " Give --dimensions, or run it in a terminal.\n"
    )


def test_materials_are_found_by_words(roomir: Roomir):
    assert "stone wool 50 mm, 80 kg/m3" in roomir("materials", "stone", "wool").out
    rows = json.loads(roomir("materials", "velour", "--json").out)["materials"]
    assert len(rows) == 2
    assert all(row["source"] and row["mounting"] for row in rows)


@pytest.mark.parametrize("units", ["us", "metric"])
def test_sizes_are_shown_in_the_units_asked_for(roomir: Roomir, booth: Path, units: str):
    run = roomir("predict", booth, "--units", units)

    assert max(map(len, run.out.splitlines())) <= 80
    assert ("735 ft3" in run.out) == (units == "us")
    assert ("what the air adds (sabins)" in run.out) == (units == "us")
    assert ("20.8 m3" in run.out) == (units == "metric")


@pytest.mark.parametrize(
    ("words", "name"),
    [
        ("plasterboard", "gypsum board 13 mm on studs"),
        ("drywall studs", "gypsum board 13 mm on studs"),
        ("rockwool", "stone wool 50 mm, 80 kg/m3"),
        ("mineral wool", "stone wool 50 mm, 80 kg/m3"),
        ("lino", "linoleum on concrete"),
        ("fiberglass", "glass fibre 50 mm, 80 kg/m3"),
        ("couch", "sofa, upholstered, two seats"),
    ],
)
def test_materials_are_found_under_what_else_people_call_them(roomir: Roomir, words: str, name: str):
    rows = json.loads(roomir("materials", *words.split(), "--json").out)["materials"]

    assert name in {row["name"] for row in rows}
    assert len(rows) < 15


def test_a_material_can_be_named_by_another_word_for_it(roomir: Roomir, booth: Path):
    booth.write_text(BOOTH.replace("gypsum board 13 mm on studs", "drywall 13 mm on studs"))

    assert roomir("predict", booth).status == 0
    booth.write_text(BOOTH.replace("gypsum board 13 mm on studs", "plasterboard"))
    assert "did you mean: gypsum board 13 mm on studs" in roomir("predict", booth).err.lower()


def test_a_room_file_has_to_end_in_toml(roomir: Roomir, tmp_path: Path):
    options = ("--name", "a", "--dimensions", "3x2x2", "--floor", "concrete floor", "--ceiling", "glass 4 mm")
    run = roomir("room", "new", "-o", tmp_path / "a.txt", *options, "--walls", "brick, unglazed")

    assert run.status == 2
    assert "let it end in .toml" in run.err.lower()
