"""`roomir log` and `roomir logbook` as a user meets them; readings are prepared unless sound is needed."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from roomir.logbook.schema import SCHEMA_VERSION
from tests.contract import check_document
from tests.logbook.books import PreparedReader, sound

Roomir = Callable[..., Any]


@pytest.fixture
def prepared(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """Let any file give an invented reading, and the usual logbook be a new one."""
    monkeypatch.setattr("roomir.logbook.logbook.SoundReader", PreparedReader)
    monkeypatch.setenv("ROOMIR_LOGBOOK", str(tmp_path / "book"))
    return tmp_path


@pytest.fixture
def filled(prepared: Path, roomir: Roomir) -> Path:
    """A logbook with two stages of one room."""
    for stage, name in (("bare", "a.wav"), ("panels", "b.wav")):
        run = roomir("log", sound(prepared, name), "--room", "Dairy", "--stage", stage)
        assert run.status == 0, run.err
    return prepared


def test_real_takes_are_kept_and_listed(roomir: Roomir, sample_data: Path, tmp_path: Path):
    book = ("--logbook", tmp_path / "book")
    takes = [sample_data / "booth_2_lined.wav"]
    logged = roomir("log", *takes, "--room", "Booth", "--stage", "lined", "--volume", "6", "--json", *book)
    read = json.loads(roomir("read", *takes, "--json").out)
    document = json.loads(logged.out)

    assert (logged.status, logged.err) == (0, "")
    (take,) = document["takes"]
    assert (document["schema"], take["outcome"]) == ("roomir/log/1", "kept")
    check_document(take["reading"])
    check_document(document["together"])
    assert take["reading"]["bands"] == read["bands"]
    listed = roomir("logbook", "list", *book)
    assert "Booth, 6.0 m3" in listed.out
    assert "lined" in listed.out
    shown = roomir("logbook", "show", "--room", "Booth", "--stage", "lined", *book)
    assert shown.out.count("Rings for") >= 2
    assert "booth_2_lined.wav" in shown.out


def test_the_same_take_again_is_already_kept_and_elsewhere_is_refused(filled: Path, roomir: Roomir):
    again = roomir("log", filled / "a.wav", "--room", "Dairy", "--stage", "bare")
    elsewhere = roomir("log", filled / "a.wav", "--room", "Dairy", "--stage", "panels")

    assert again.status == 0
    assert "already kept" in again.out
    assert elsewhere.status == 1
    assert elsewhere.out == ""
    assert 'as take 1 in the stage "bare" of the room "Dairy"' in elsewhere.err
    assert 'roomir logbook move 1 --to-room "Dairy" --to-stage "panels"' in elsewhere.err


def test_a_take_that_gives_no_reading_is_kept_and_told(prepared: Path, roomir: Roomir):
    run = roomir(
        "log", sound(prepared, "bad.wav", "bad"), sound(prepared, "a.wav"), prepared / "none.wav",
        "--room", "R", "--stage", "S",
    )  # fmt: skip
    shown = roomir("logbook", "show", "--room", "R")

    assert run.status == 1
    assert [line.split(": ")[1] for line in run.err.splitlines()] == ["bad.wav", str(prepared / "none.wav")]
    assert "bad.wav: kept without a reading, take 1" in run.out
    assert "1: no reading. bad.wav: no sound." in shown.out


def test_without_a_terminal_a_near_miss_is_wrong_usage_with_the_flags_to_use(filled: Path, roomir: Roomir):
    file = sound(filled, "c.wav")
    run = roomir("log", file, "--room", "Diary", "--stage", "bare")

    assert run.status == 2
    assert run.err == (
        'roomir: there is no room "Diary" yet, but there is "Dairy".'
        ' Add --yes if "Dairy" is meant, or --new if "Diary" is a new room.\n'
    )
    assert roomir("log", file, "--room", "Diary", "--stage", "bare", "--yes", "--new").status == 2
    assert roomir("log", file, "--room", "Diary", "--stage", "bare", "--yes").status == 0
    assert roomir("log", sound(filled, "d.wav"), "--room", "Diary", "--stage", "x", "--new").status == 0
    rooms = json.loads(roomir("logbook", "list", "--json").out)["rooms"]
    assert [(room["name"], [stage["n_takes"] for stage in room["stages"]]) for room in rooms] == [
        ("Dairy", [2, 1]),
        ("Diary", [1]),
    ]


@pytest.mark.parametrize(("answer", "room"), [(True, "Dairy"), (False, "Diary")])
def test_whoever_sits_there_is_asked_about_a_near_miss(
    answer: bool, room: str, filled: Path, roomir: Roomir, monkeypatch: pytest.MonkeyPatch
):
    asked = []

    def confirm(question: str, **_: object) -> bool:
        asked.append(question)
        return answer

    monkeypatch.setattr("roomir.cli.ask.somebody_is_there", lambda: True)
    monkeypatch.setattr("typer.confirm", confirm)
    run = roomir("log", sound(filled, "c.wav"), "--room", "Diary", "--stage", "S")

    assert run.status == 0
    assert asked == ['There is no room "Diary" yet. Do you mean "Dairy"?']
    assert f'"S" of "{room}"' in run.out


HOSTILE = "[bold]x\x1b[2J\n</script>=1+1"


def test_names_do_nothing_on_the_screen(prepared: Path, roomir: Roomir):
    file = sound(prepared, f"{HOSTILE}.wav".replace("/", "_"))
    run = roomir(
        "log", file, "--room", HOSTILE, "--stage", HOSTILE, "--spot", HOSTILE, "--note", HOSTILE,
        "--done", HOSTILE, "--source", HOSTILE,
    )  # fmt: skip
    runs = [
        run,
        roomir("logbook", "list"),
        roomir("logbook", "show", "--room", HOSTILE),
        roomir("logbook", "show", "--room", HOSTILE, "--stage", HOSTILE),
        roomir("logbook", "show", "--room", HOSTILE + "?"),
        roomir("log", file, "--room", HOSTILE + "?", "--stage", "S"),
        roomir("logbook", "move", "1", "--to-stage", HOSTILE + " 2"),
        roomir("logbook", "remove", "1"),
        roomir("logbook", "purge"),
        roomir("logbook", "undo"),
        roomir("logbook", "rename", "--room", HOSTILE, "--to", "plain"),
    ]

    assert all(one.out or one.err for one in runs)
    for one in runs:
        assert "\x1b" not in one.out + one.err
        assert "\n</script>" not in one.out + one.err
    shown = json.loads(roomir("logbook", "show", "--room", "plain", "--json").out)
    assert shown["rooms"][0]["stages"][-1]["takes"][0]["note"] == HOSTILE


@pytest.mark.usefixtures("filled")
def test_a_room_is_looked_after(roomir: Roomir):
    def ok(*arguments: object) -> str:
        run = roomir("logbook", *arguments)
        assert (run.status, run.err) == (0, ""), arguments
        return str(run.out)

    ok("rename", "--room", "Dairy", "--stage", "panels", "--to", "twelve panels")
    ok("annotate", "--room", "Dairy", "--dimensions", "9x6x3.2", "--note", "cold")
    ok("annotate", "--room", "Dairy", "--stage", "bare", "--date", "2024-05-03", "--done", "emptied")
    ok("annotate", "1", "2", "--spot", "A", "--temperature", "18", "--humidity", "40", "--mic", "corner")
    ok("move", "--room", "Dairy", "--stage", "twelve panels", "--first")
    ok("move", "--room", "Dairy", "--stage", "twelve panels", "--behind", "bare")
    ok("move", "2", "--to-stage", "bare")
    shown = ok("show", "--room", "Dairy")
    for said in ("9 x 6 x 3.2 m", "cold", "2024-05-03", "Done: emptied", "microphone: corner; 18 degC"):
        assert said in shown
    assert "No number moved" in ok("reread")
    assert "all whole" in ok("check")
    ok("remove", "--room", "Dairy", "--stage", "twelve panels")
    ok("undo")
    ok("remove", "2")
    gone = ok("purge", "--yes")
    assert gone.index("take 2, b.wav") < gone.index("Erased.")
    assert json.loads(ok("check", "--json"))["n_takes"] == 1


@pytest.mark.parametrize(
    "arguments",
    [
        ("move", "1"),
        ("move", "--room", "Dairy", "--stage", "bare"),
        ("move", "--room", "Dairy", "--stage", "bare", "--first", "--behind", "panels"),
        ("remove",),
        ("remove", "--stage", "bare"),
        ("annotate",),
        ("annotate", "1"),
        ("annotate", "1", "--done", "x"),
        ("annotate", "--room", "Dairy", "--spot", "A"),
        ("annotate", "--room", "Dairy", "--stage", "bare", "--volume", "48"),
        ("annotate", "--room", "Dairy", "--stage", "bare", "--date", "yesterday"),
        ("show",),
    ],
)
@pytest.mark.usefixtures("filled")
def test_what_is_not_clear_is_wrong_usage(arguments: tuple[str, ...], roomir: Roomir):
    run = roomir("logbook", *arguments)

    assert run.status == 2
    assert run.err
    assert "Traceback" not in run.err


@pytest.mark.parametrize("name", ["", " ", "\u0301", "!"])
@pytest.mark.usefixtures("filled")
def test_a_name_of_nothing_is_a_room_that_is_not_there(name: str, roomir: Roomir):
    for arguments in (("logbook", "show"), ("history",), ("report",), ("compare", "bare", "panels")):
        run = roomir(*arguments, "--room", name)
        assert (run.status, run.out) == (1, ""), arguments
        assert 'There is "Dairy".' in run.err


@pytest.mark.usefixtures("filled")
def test_a_stage_whose_takes_have_changed_is_not_listed_as_if_it_had_no_reading(roomir: Roomir):
    roomir("logbook", "move", "2", "--to-stage", "bare")
    listed = roomir("logbook", "list")
    roomir("logbook", "show", "--room", "Dairy", "--stage", "bare")

    assert 'Not read together yet as it stands now: "bare".' in listed.out
    assert "Not read together" not in roomir("logbook", "list").out


@pytest.mark.usefixtures("filled")
def test_without_a_terminal_purging_wants_to_be_told(roomir: Roomir):
    roomir("logbook", "remove", "1")
    run = roomir("logbook", "purge")

    assert run.status == 2
    assert "take 1, a.wav" in run.out
    assert "Add --yes" in run.err
    assert roomir("logbook", "undo").status == 0


def test_a_logbook_travels(filled: Path, roomir: Roomir):
    for dest in ("out", "out.zip"):
        assert roomir("logbook", "export", filled / dest).status == 0
        assert roomir("logbook", "export", filled / dest).status == 1
    imported = roomir("logbook", "import", filled / "out.zip", "--logbook", filled / "other", "--json")
    assert [take["outcome"] for take in json.loads(imported.out)["takes"]] == ["kept", "kept"]
    assert roomir("logbook", "export", filled / "again", "--logbook", filled / "other").status == 0
    for name in ("logbook.json", "takes.csv", "bands.csv"):
        assert (filled / "again" / name).read_bytes() == (filled / "out" / name).read_bytes()
    assert roomir("logbook", "backup", filled / "copy").status == 0
    assert roomir("logbook", "list", "--logbook", filled / "copy").out == roomir("logbook", "list").out


def test_a_sound_kept_elsewhere_fails_an_import_by_its_name(filled: Path, roomir: Roomir):
    roomir("logbook", "export", filled / "out")
    roomir("log", filled / "a.wav", "--room", "Mine", "--stage", "S", "--logbook", filled / "other")
    run = roomir("logbook", "import", filled / "out", "--logbook", filled / "other")

    assert run.status == 1
    assert run.out == "Imported: 1 kept, 1 kept elsewhere.\n"
    assert run.err.startswith("roomir: a.wav: this sound is kept in another stage already")


@pytest.mark.parametrize(
    "damage",
    [
        lambda path: path.write_bytes(os.urandom(9000)),
        lambda path: path.write_bytes(path.read_bytes()[:5000]),
        lambda path: path.write_bytes(b""),
        lambda path: path.write_text("a list of claps"),
        lambda path: path.unlink(),
    ],
    ids=["random", "cut short", "empty", "text", "gone"],
)
def test_a_damaged_logbook_is_one_line_and_can_be_rescued(damage: Any, filled: Path, roomir: Roomir):
    damage(filled / "book" / "logbook.sqlite")
    for arguments in (
        ("logbook", "list"),
        ("logbook", "check"),
        ("log", filled / "a.wav", "--room", "R", "--stage", "S"),
    ):
        run = roomir(*arguments)
        assert run.status == 1
        assert len(run.err.splitlines()) == 1
        assert "roomir logbook rescue FOLDER" in run.err
    rescued = roomir("logbook", "rescue", filled / "rescued")
    assert rescued.status == 0, rescued.err
    assert roomir("logbook", "import", filled / "rescued", "--logbook", filled / "new").status == 0
    takes = [
        take
        for room in json.loads(
            roomir("logbook", "show", "--room", "rescued", "--json", "--logbook", filled / "new").out
        )["rooms"]
        for stage in room["stages"]
        for take in stage["takes"]
    ]
    assert len(takes) == 2


def test_a_newer_logbook_is_one_line(filled: Path, roomir: Roomir):
    connection = sqlite3.connect(filled / "book" / "logbook.sqlite")
    connection.execute("PRAGMA user_version = 7")
    connection.close()
    run = roomir("logbook", "list")

    assert run.status == 1
    assert f"version 7 of the logbook, this one knows {SCHEMA_VERSION}" in run.err
    assert len(run.err.splitlines()) == 1


def test_a_missing_recording_fails_the_check(filled: Path, roomir: Roomir):
    next((filled / "book" / "logbook.recordings").iterdir()).unlink()
    run = roomir("logbook", "check")

    assert run.status == 1
    assert len(run.err.splitlines()) == 1
    assert "is missing" in run.err
    assert json.loads(roomir("logbook", "check", "--json").out)["whole"] is False


def test_where_nothing_is_kept_a_list_says_how_to_begin(prepared: Path, roomir: Roomir):
    run = roomir("logbook", "list")

    assert run.status == 1
    assert "there is no logbook yet" in run.err
    assert "Begin one with roomir log" in run.err
    assert not (prepared / "book").exists()


def test_the_option_goes_before_the_variable_and_a_database_can_be_named(filled: Path, roomir: Roomir):
    roomir("log", sound(filled, "z.wav"), "--room", "Other", "--stage", "S", "--logbook", filled / "my.db")

    assert (filled / "my.db").is_file()
    assert (filled / "my.recordings").is_dir()
    assert "Other" in roomir("logbook", "list", "--logbook", filled / "my.db").out
    assert "Dairy" in roomir("logbook", "list").out
    assert "Dairy" in roomir("logbook", "list", "--logbook", filled / "book" / "logbook.sqlite").out


@pytest.mark.parametrize(
    ("options", "code"),
    [
        (("--spot", "A", "--spot", "B"), "--spot is given 2 times for 1 takes"),
        (("--temperature", "200"), "200 degrees"),
        (("--humidity", "120"), "120 %"),
        (("--date", "3 May"), "is no day"),
        (("--date", "2999-01-01"), "2999-01-01 has not come yet"),
        (("--volume", "48", "--dimensions", "5x4x2.4"), "one size"),
    ],
)
def test_an_option_that_cannot_be_is_wrong_usage(
    options: tuple[str, ...], code: str, prepared: Path, roomir: Roomir
):
    run = roomir("log", sound(prepared, "a.wav"), "--room", "R", "--stage", "S", *options)

    assert run.status == 2
    assert code in run.err
    assert not list((prepared / "book").glob("*.recordings/*"))


@pytest.mark.skipif(sys.platform != "linux", reason="limits work differently there")
def test_a_full_disk_is_one_line_and_takes_nothing_back(
    sample_data: Path, tmp_path: Path, roomir_process: Roomir, roomir: Roomir
):
    import resource

    take = Path(shutil.copy(sample_data / "booth_2_lined.wav", tmp_path))
    book = ("--logbook", tmp_path / "book")
    env = {**os.environ, "PYTHONPATH": str(sample_data.parent)}

    def limited() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (300_000, 300_000))

    full = roomir_process("log", take, "--room", "R", "--stage", "S", *book, env=env, preexec_fn=limited)
    assert full.status == 1
    assert len(full.err.splitlines()) == 1
    assert "cannot be written" in full.err
    assert roomir("log", take, "--room", "R", "--stage", "S", *book).status == 0
    assert roomir("logbook", "check", *book).status == 0


@pytest.mark.usefixtures("filled")
def test_looking_loads_no_numpy(checkout: Path):
    program = (
        "import sys\n"
        "sys.argv = ['roomir', 'logbook', 'list']\n"
        "from roomir.cli.app import main\n"
        "try: main()\n"
        "except SystemExit as left: assert not left.code, left.code\n"
        "print('\\n'.join(sys.modules), file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True, cwd=checkout
    )

    assert "Dairy" in done.stdout
    assert not {"numpy", "soundfile", "matplotlib", "av"} & set(done.stderr.splitlines())
