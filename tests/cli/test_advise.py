"""What `roomir advise` says before the first take and after it."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Roomir = Callable[..., Any]

KEYS = [
    *("schema", "guide", "takes", "failures", "mid", "steps", "spots", "claps", "background", "bands"),
    *("room", "places_m"),
]


def test_without_a_take_there_is_a_guide_for_the_first_one(roomir: Roomir):
    run = roomir("advise")

    assert run.status == 0
    assert run.err == ""
    for word in (
        "automatic gain",
        "one metre",
        "four spots",
        "One clap",
        "second clap",
        "hearing protection",
    ):
        assert word in " ".join(run.out.split()), word
    assert all(len(line) <= 80 for line in run.out.splitlines())
    assert len(run.out.splitlines()) < 60


def test_the_guide_names_places_in_a_room_of_known_size(roomir: Roomir):
    run = roomir("advise", "--dimensions", "5x4x2.4")

    assert "A 1 m and 1 m, B 4 m and 3 m" in " ".join(run.out.split())
    assert "In 48 m3 stand at least 1.4 m from the phone" in " ".join(run.out.split())
    assert "at least 1.4 m" in " ".join(roomir("advise", "--volume", "48").out.split())


def test_the_guide_is_a_document_too(roomir: Roomir):
    document = json.loads(roomir("advise", "--json").out)

    assert list(document) == KEYS
    assert document["schema"] == "roomir/advice/1"
    assert next(section["heading"] for section in document["guide"]) == "The phone"
    assert document["bands"] == document["steps"] == []


@pytest.fixture(scope="module")
def booth(sample_data: Path) -> Path:
    return sample_data / "booth_1_bare.wav"


def test_after_a_take_the_steps_come_with_their_reasons(roomir: Roomir, booth: Path):
    run = roomir("advise", booth, "--dimensions", "2.6x2.1x2.3")

    assert run.status == 0
    assert run.err == ""
    assert run.out.startswith("Rings for")
    text = " ".join(run.out.split())
    assert "1. Pop a balloon" in text
    assert "stay out of reach of hands" in text
    assert "Because:" in text
    assert "hearing protection on, at arm's length" in text
    assert "less than the two metres one would like" in text
    assert all(len(line) <= 80 for line in run.out.splitlines())


def test_the_example_of_the_manual_is_what_is_printed(
    roomir: Roomir, checkout: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.chdir(checkout)
    command = "advise sample_data/booth_1_bare.wav"
    text = Path("README.md").read_text("utf-8")

    assert f"```text\n$ roomir {command}\n\n{roomir(*command.split()).out}```\n" in text


def test_the_document_after_a_take_has_every_number(roomir: Roomir, booth: Path):
    document = json.loads(roomir("advise", booth, "--json", "--volume", "12").out)

    assert list(document) == KEYS
    assert document["takes"] == [str(booth)]
    assert document["spots"]["used"] == 4
    assert document["claps"]["peak_dbfs"] < 0.0
    assert document["background"]["heard_s"] > 0.0
    assert [band["centre_hz"] for band in document["bands"]] == [63, 125, 250, 500, 1000, 2000, 4000, 8000]
    for band in document["bands"]:
        assert band["missing_to_35_db"] == pytest.approx(max(35.0 - band["decay_range_db"], 0.0), abs=1e-5)
        assert band["background"]["kind"] in {"hum", "tone", "rumble", "rush", "hiss"}
    worth = [step["worth"] for step in document["steps"]]
    assert worth == sorted(worth, reverse=True)
    assert document["room"]["volume_m3"] == 12.0


def test_a_file_that_gives_nothing_is_named_and_the_status_is_one(roomir: Roomir, tmp_path: Path):
    (tmp_path / "note.txt").write_text("no sound")
    run = roomir("advise", tmp_path / "note.txt")

    assert run.status == 1
    assert run.out.startswith("No reading")
    assert "note.txt" in run.err


def test_a_room_has_one_size(roomir: Roomir):
    assert roomir("advise", "--volume", "48", "--dimensions", "5x4x2.4").status == 2
