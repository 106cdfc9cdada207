"""`--learn-from` and `--stage` as typed: documents, and rooms of the logbook."""

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from roomir.report.document import to_json
from tests.readings import reading, room_band
from tests.rooms.test_room_stages import staged

Roomir = Callable[..., Any]
OCTAVES = (125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0)


@pytest.fixture
def room(tmp_path: Path) -> Path:
    path = tmp_path / "room.toml"
    path.write_text(staged())
    return path


@pytest.fixture
def document(tmp_path: Path) -> Callable[..., Path]:
    """A reading of one decay time in every octave, five spots, written as `roomir read --json` writes it."""

    def document(name: str, seconds: float, **changes: Any) -> Path:
        bands = tuple(
            room_band(
                hz, decay_time_s=seconds, ci95_s=(0.97 * seconds, 1.03 * seconds), curvature_percent=1.0
            )
            for hz in OCTAVES
        )
        path = tmp_path / name
        path.write_text(to_json(replace(reading(bands=bands), **changes)))
        return path

    return document


def bands_of(run: Any) -> dict[float, dict[str, Any]]:
    assert (run.status, run.err) == (0, "")
    return {band["centre_hz"]: band for band in json.loads(run.out)["bands"]}


def test_a_prediction_moves_to_what_was_read_and_narrows(roomir: Roomir, room: Path, document: Any):
    path = document("panels.json", 1.1)
    before = bands_of(roomir("predict", room, "--json"))
    run = roomir("predict", room, "--learn-from", path, "--json")
    after = bands_of(run)

    assert json.loads(run.out)["learnt_from"] == ["panels.json"]
    assert json.loads(run.out)["method"] == "the room's own readings"
    for hz in (500, 1000):
        assert abs(after[hz]["best_s"] - 1.1) < abs(before[hz]["best_s"] - 1.1)
        widths = [(one[hz]["ci95_s"][1] / one[hz]["ci95_s"][0]) for one in (before, after)]
        assert widths[1] < widths[0]


def test_the_next_stage_starts_from_what_the_stages_before_have_shown(
    roomir: Roomir, room: Path, document: Any
):
    bare, curtains = document("bare.json", 1.0), document("curtains.json", 0.9)
    predict = ("predict", room, "--json")
    untaught = bands_of(roomir(*predict))
    one = bands_of(roomir(*predict, "--learn-from", f"bare={bare}"))
    # The order on the command line does not matter: that of the file's stages does.
    two = roomir(*predict, "--learn-from", f"Curtains={curtains}", "--learn-from", f"bare={bare}")

    assert json.loads(two.out)["learnt_from"] == ["bare.json", "curtains.json"]
    # The bare room reads far shorter than its hard walls promise, so the next stage is foreseen shorter too.
    assert one[1000]["best_s"] < 0.95 * untaught[1000]["best_s"]
    width = [band[1000]["ci95_s"][1] / band[1000]["ci95_s"][0] for band in (untaught, one, bands_of(two))]
    assert width[0] > width[1] > width[2]


def test_the_screen_says_what_it_was_learnt_from(roomir: Roomir, room: Path, document: Any):
    run = roomir("predict", room, "--learn-from", f"bare={document('bare.json', 1.0)}")

    assert run.status == 0
    assert "Corrected by what the room has shown: bare.json." in run.out
    assert max(map(len, run.out.splitlines())) <= 80


def test_a_proposal_for_a_stage_starts_there(roomir: Roomir, room: Path, document: Any):
    choice = ("--absorber", "stone wool 50 mm, 80 kg/m3", "--target", "0.3-1.2", "--json")
    learn = ("--stage", "bare", "--learn-from", document("bare.json", 1.3))
    run = roomir("treat", room, *choice, *learn)

    assert run.status == 0
    assert json.loads(run.out)["bands"][3]["now_s"] == pytest.approx(1.3, rel=0.1)


@pytest.mark.parametrize(
    ("options", "says", "status"),
    [
        (("--learn-from", "paint=bare.json"), "which the room's file does not name by then", 2),
        (("--stage", "paint"), "names no stage paint", 2),
        (("--stage", "bare", "--learn-from", "panels=bare.json"), "does not name by then", 2),
        (("--learn-from", "away.json"), "is not there", 1),
        (("--learn-from", "bare=nowhere"), "is no document of a reading", 1),
        (("--learn-from", "broken.json"), "broken.json cannot be learnt from: it is no JSON", 1),
        (("--learn-from", "other.json"), "other.json cannot be learnt from: this is no reading", 1),
        (("--learn-from", "silent.json"), "has no usable octave", 1),
        (("--learn-from", "bare.json", "--no-air"), "has the air in it", 2),
    ],
)
def test_what_cannot_be_learnt_from_is_one_line(
    roomir: Roomir,
    room: Path,
    document: Any,
    options: tuple[str, ...],
    says: str,
    status: int,
    monkeypatch: Any,
):
    monkeypatch.chdir(room.parent)
    document("bare.json", 1.0)
    document("silent.json", 1.0, bands=())
    (room.parent / "broken.json").write_text("{")
    (room.parent / "other.json").write_text("[1, 2]")
    run = roomir("predict", room, *options)

    assert run.status == status
    assert run.out == ""
    assert len(run.err.splitlines()) == 1
    assert says in run.err


def test_a_room_of_the_logbook_teaches_stage_by_stage(
    roomir: Roomir, room: Path, sample_data: Path, tmp_path: Path
):
    book = ("--logbook", tmp_path / "book")
    log = ("--room", "dairy", "--dimensions", "9x6x3.2", *book)
    for stage, take in (("bare", "dairy_1_bare_spot1.flac"), ("painted", "dairy_4_panels_spot4.flac")):
        assert roomir("log", sample_data / take, "--stage", stage, *log).status == 0
    run = roomir("predict", room, "--learn-from", "dairy", *book, "--json")
    document = json.loads(run.out)

    assert (run.status, run.err) == (0, "")
    assert document["learnt_from"] == ["bare"]
    (left_out,) = [one for one in document["remarks"] if one["code"] == "stage-left-out"]
    assert "painted was read" in left_out["says"]

    # Without stages in the file the last one is the room as described.
    room.write_text(staged(stages="", parts="", more=""))
    told = json.loads(roomir("predict", room, "--learn-from", "dairy", *book, "--json").out)
    assert told["learnt_from"] == ["painted"]
    assert roomir("predict", room, "--learn-from", "barn", *book).status == 1
    again = roomir("predict", "dairy", "--learn-from", "dairy", *book)
    assert again.status == 2
    assert "has learnt already" in again.err


def test_a_described_room_of_the_logbook_is_worked_with_as_it_was_read_last(
    roomir: Roomir, room: Path, sample_data: Path, tmp_path: Path
):
    book = ("--logbook", tmp_path / "book")
    log = ("--room", "dairy", "--dimensions", "9x6x3.2", *book)
    assert roomir("log", sample_data / "dairy_1_bare_spot1.flac", "--stage", "bare", *log).status == 0
    assert roomir("logbook", "annotate", "--room", "dairy", "--description", room, *book).status == 0
    now = json.loads(roomir("predict", "dairy", *book, "--json").out)
    planned = json.loads(roomir("predict", "dairy", "--stage", "panels", *book, "--json").out)

    assert (now["stage"], now["learnt_from"]) == ("bare", ["bare"])
    assert (planned["stage"], planned["learnt_from"]) == ("panels", ["bare"])
    assert roomir("predict", "dairy", *book).out.startswith("room, stage bare, ")
