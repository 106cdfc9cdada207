"""``roomir history``, ``roomir report`` and ``roomir compare --room`` as they are typed."""

import json
import shutil

import pytest

from roomir import api
from roomir.logbook.values import About, File, Size
from roomir.report import printing


@pytest.fixture(scope="module")
def booth(sample_data, tmp_path_factory):
    """A logbook with the booth before and after it was lined."""
    folder = tmp_path_factory.mktemp("book")
    with api.open_logbook(folder, create=True) as book:
        for stage, name in (("bare", "booth_1_bare.wav"), ("lined", "booth_2_lined.wav")):
            file = File(path=sample_data / name, about=About(temperature_c=16.0, humidity_percent=60.0))
            book.log([file], room="booth", stage=stage, size=Size(dimensions_m=(2.4, 2.0, 2.2)))
    return folder


def test_two_stages_are_compared_with_what_the_logbook_knows(roomir, booth):
    run = roomir("compare", "bare", "lined", "--room", "booth", "--logbook", booth, "--json")
    found = json.loads(run.out)
    assert run.status == 0
    assert found["volume_m3"] == pytest.approx(10.56)
    assert found["before"]["temperature_c"] == 16.0
    (band,) = [one for one in found["bands"] if one["centre_hz"] == 1000]
    # sample_data/truth.json: 3.2 m2 of stone wool and a rug take the booth from 1.07 to 0.31 s at 1 kHz.
    assert band["verdict"] == "shorter"
    assert 3.0 < band["added_absorption_m2"] < 5.0


def test_what_begins_like_a_path_is_one_although_a_room_is_named(roomir, booth, sample_data):
    run = roomir(
        "compare", "bare", sample_data / "booth_2_lined.wav", "--room", "booth", "--logbook", booth, "--json"
    )
    assert run.status == 0
    assert json.loads(run.out)["after"]["takes"][0]["path"].endswith("booth_2_lined.wav")


def test_bands_that_a_stage_was_not_logged_in_are_refused_and_not_ignored(roomir, booth):
    run = roomir(
        *("compare", "bare", "lined", "--room", "booth", "--logbook", booth, "--bands", "third-octave"),
    )
    assert (run.status, run.out) == (2, "")
    assert 'the stage "bare" was logged in octave bands' in run.err


def test_a_stage_can_be_heard(roomir, booth, tmp_path):
    run = roomir(
        "compare", "bare", "bare", "--room", "booth", "--logbook", booth, "--hear", tmp_path / "x.wav"
    )
    assert run.status == 0
    assert (tmp_path / "x.wav").stat().st_size > 10_000


def test_the_history_is_told(roomir, booth, tmp_path):
    run = roomir(
        *("history", "--room", "booth", "--logbook", booth, "--target", "voice booth"),
        *("--figure", tmp_path / "x.png"),
    )
    assert (run.status, run.err) == (0, "")
    assert "Since bare, changed: shorter" in " ".join(run.out.split())
    assert "Source of the target: common practice, no source." in run.out
    assert (tmp_path / "x.png").stat().st_size > 10_000
    found = json.loads(roomir("history", "--room", "booth", "--logbook", booth, "--json").out)
    assert [stage["name"] for stage in found["stages"]] == ["bare", "lined"]
    assert [take["name"] for take in found["stages"][1]["takes"]] == ["booth_2_lined.wav"]
    assert found["stages"][0]["bands"][0]["centre_hz"] == 63


@pytest.mark.parametrize("command", ["history", "report"])
def test_an_unknown_room_is_named_and_an_error(roomir, booth, command, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    run = roomir(command, "--room", "attic", "--logbook", booth)
    assert (run.status, run.out) == (1, "")
    assert '"attic"' in run.err
    assert not list(tmp_path.iterdir())


def test_an_unknown_stage_is_an_error(roomir, booth):
    assert roomir("compare", "bare", "gilded", "--room", "booth", "--logbook", booth).status == 1


def test_the_report_is_written_with_what_is_asked_for_beside_it(roomir, booth, tmp_path):
    page, csv = tmp_path / "booth.html", tmp_path / "booth.csv"
    run = roomir("report", "--room", "booth", "--logbook", booth, "-o", page, "--csv", csv, "--json")
    assert run.status == 0
    assert json.loads(run.out)["schema"] == "roomir/history/1"
    assert page.read_text("utf-8").startswith("<!doctype html>")
    assert csv.read_text("utf-8").startswith("stage,date,centre_hz")


@pytest.mark.parametrize(
    "arguments", [("-o", "x.wav"), ("--pdf", "x.wav"), ("--csv", "x.wav"), ("--target", "x")]
)
def test_a_slip_of_the_hand_overwrites_nothing(roomir, booth, arguments, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "x.wav").write_text("a recording")
    run = roomir("report", "--room", "booth", "--logbook", booth, *arguments)
    assert run.status == 2
    assert (tmp_path / "x.wav").read_text() == "a recording"


def test_without_a_browser_the_page_is_there_and_the_reason_is_said(roomir, booth, tmp_path, monkeypatch):
    monkeypatch.setattr(printing.shutil, "which", lambda _: None)
    page = tmp_path / "booth.html"
    run = roomir("report", "--room", "booth", "--logbook", booth, "-o", page, "--pdf", tmp_path / "x.pdf")
    assert run.status == 1
    assert "no browser" in run.err
    assert page.exists()


@pytest.mark.skipif(
    not any(map(shutil.which, printing.BROWSERS)), reason="no browser is here that prints a page by itself"
)
def test_the_page_prints_on_a_few_sheets(roomir, booth, tmp_path):
    page, pdf = tmp_path / "booth.html", tmp_path / "booth.pdf"
    run = roomir("report", "--room", "booth", "--logbook", booth, "-o", page, "--pdf", pdf)
    assert run.status == 0
    assert pdf.read_bytes().startswith(b"%PDF")


def test_what_the_page_says_to_hang_next_is_what_treat_proposes(roomir, booth, tmp_path):
    room, in_book = tmp_path / "booth.toml", ("--room", "booth", "--logbook", booth)
    boards = "gypsum board 2 x 13 mm on steel frame"
    walls = ("--walls", boards, "--ceiling", boards, "--floor", "wood floor on joists")
    made = roomir("room", "new", "-o", room, "--name", "booth", "--dimensions", "2.4x2x2.2", *walls)
    # Fewer walls to hang on are worked out sooner.
    keep = room.read_text().replace('facing = "x"', 'facing = "x"\nkeep_live = true')
    room.write_text(keep.replace('name = "south wall"', 'name = "south wall"\nkeep_live = true'))
    run = roomir("report", *in_book, "--json", "--room-file", room, "--out", tmp_path / "a.html")
    predicted = json.loads(run.out)["next_step"]
    assert (made.status, run.status, run.err) == (0, 0, "")
    assert (predicted["described"], predicted["stage"], predicted["proposal"]) == (True, "lined", None)
    assert "Prediction against reading" in (tmp_path / "a.html").read_text()

    assert roomir("logbook", "annotate", *in_book, "--description", room).status == 0
    target = ("--target", "voice booth", "--json")
    run = roomir("report", *in_book, *target, "--out", tmp_path / "b.html")
    found = json.loads(run.out)["next_step"]
    assert found["predicted"] == predicted["predicted"]
    assert "What limits it is" in (tmp_path / "b.html").read_text()
    treated = roomir("treat", "booth", "--logbook", booth, *target)
    assert json.loads(treated.out) == found["proposal"]
    by_name = json.loads(roomir("predict", "booth", "--logbook", booth, "--json").out)
    assert by_name["learnt_from"] == found["proposal"]["learnt_from"] == ["lined"]
    now_s = [band["now_s"] for band in found["proposal"]["bands"]]
    assert [band["best_s"] for band in by_name["bands"]] == pytest.approx(now_s)


def test_a_description_that_describes_no_room_is_not_kept(roomir, booth, tmp_path):
    wrong = tmp_path / "wrong.toml"
    wrong.write_text("[room]\nname = 'x'\n")
    run = roomir("logbook", "annotate", "--room", "booth", "--description", wrong, "--logbook", booth)

    assert run.status == 1
    assert "room.dimensions_m is missing" in run.err


def test_a_description_belongs_to_a_room(roomir, booth, tmp_path):
    run = roomir(
        "report", "--room", "booth", "--logbook", booth, "--room-file", "x.wav", "-o", tmp_path / "x.html"
    )
    assert run.status in (1, 2)
    assert "ends in .toml" in run.err
