"""What `roomir read` prints where, and with which status it leaves."""

from __future__ import annotations

import csv
import io
import json
import os
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from roomir import api
from roomir.reading.reading import Failure, MidFigures
from tests.contract import check_document
from tests.readings import failure, nothing_read, reading, take, unusable_band

Roomir = Callable[..., Any]


def test_a_reading_leaves_with_zero_and_says_nothing_on_standard_error(roomir: Roomir, reads_as: Roomir):
    reads_as(reading())
    run = roomir("read", "dairy.m4a")

    assert run.status == 0
    assert run.out.startswith("Rings for 0.88 s (0.84 to 0.92) at mid frequencies, five spots")
    assert run.err == ""


def test_when_some_file_fails_the_good_ones_are_read_and_the_status_is_one(roomir: Roomir, reads_as: Roomir):
    reads_as(reading(failures=(failure(),)))
    run = roomir("read", "dairy.m4a", "kitchen.wav")

    assert run.status == 1
    assert run.out.startswith("Rings for 0.88 s")
    assert run.err == "roomir: kitchen.wav holds no sound. Record it again.\n"


def test_when_every_file_fails_there_is_one_line_each_and_no_reading(roomir: Roomir, reads_as: Roomir):
    reads_as(nothing_read(failure("a.wav"), failure("b.wav")))
    run = roomir("read", "a.wav", "b.wav")

    assert run.status == 1
    assert run.out == ""
    assert len(run.err.splitlines()) == 2


def test_bands_without_any_decay_time_are_no_reading(roomir: Roomir, reads_as: Roomir):
    reads_as(reading(bands=(unusable_band(),), mid=MidFigures()))

    assert roomir("read", "dairy.m4a").status == 1


def test_a_recording_without_a_clap_counts_as_failed_even_among_good_ones(roomir: Roomir, reads_as: Roomir):
    no_clap = Failure(
        path="hiss.wav",
        code="no-clap-found",
        says="hiss.wav: no clap was found",
        remedy="clap single claps in silence",
    )
    reads_as(reading(takes=(take("dairy.m4a"), take("hiss.wav", claps=())), failures=(no_clap,)))
    run = roomir("read", "dairy.m4a", "hiss.wav")

    assert run.status == 1
    assert run.out.startswith("Rings for 0.88 s")
    assert run.err == "roomir: hiss.wav: no clap was found. Clap single claps in silence.\n"


def test_json_is_the_document_and_nothing_else(roomir: Roomir, reads_as: Roomir):
    reads_as(reading(failures=(failure(),)))
    run = roomir("read", "dairy.m4a", "kitchen.wav", "--json", "--volume", "48")

    document = json.loads(run.out)
    check_document(document)
    assert document["room"]["volume_m3"] == 48
    assert run.status == 1
    assert "kitchen.wav holds no sound" in run.err


def test_json_of_nothing_is_the_same_document_without_bands(roomir: Roomir, reads_as: Roomir):
    reads_as(nothing_read())
    run = roomir("read", "kitchen.wav", "--json")

    document = json.loads(run.out)
    check_document(document)
    assert document["bands"] == []
    assert document["failures"][0]["path"] == "kitchen.wav"
    assert document["room"] is None


@pytest.mark.parametrize(
    "arguments",
    [
        ("read",),
        ("read", "a.wav", "--bands", "decades"),
        ("read", "a.wav", "--channel", "0"),
        ("read", "a.wav", "--channel", "left"),
        ("read", "a.wav", "--volume", "big"),
        ("read", "a.wav", "--volume", "-48"),
        ("read", "a.wav", "--volume", "0"),
        ("read", "a.wav", "--dimensions", "5x4"),
        ("read", "a.wav", "--dimensions", "5x4x0"),
        ("read", "a.wav", "--volume", "48", "--dimensions", "5x4x2.4"),
        ("read", "a.wav", "--no-such-option"),
        ("sing", "a.wav"),
    ],
)
def test_wrong_usage_leaves_with_two_and_says_why(
    roomir: Roomir, reads_as: Roomir, arguments: tuple[str, ...]
):
    reads_as(reading())
    run = roomir(*arguments)

    assert run.status == 2
    assert run.out == ""
    assert run.err
    assert "Traceback" not in run.err


@pytest.mark.parametrize(
    ("option", "size"),
    [
        ("--volume", "735 ft3"),
        ("--volume", "20.8"),
        ("--dimensions", "3.2x2.6x2.5"),
        ("--dimensions", "10 ft 6 in x 8 ft 6 in x 8 ft 3 in"),
    ],
)
def test_sizes_are_read_as_builders_write_them(roomir: Roomir, reads_as: Roomir, option: str, size: str):
    reads_as(reading())
    room = json.loads(roomir("read", "a.wav", "--json", option, size).out)["room"]

    # All four are the same small booth, 20.8 m3, to the millimetre or not.
    assert room["volume_m3"] == pytest.approx(20.8, rel=0.01)


def test_csv_is_written_beside_the_reading(roomir: Roomir, reads_as: Roomir, tmp_path: Path):
    reads_as(reading())
    run = roomir("read", "dairy.m4a", "--csv", tmp_path / "dairy.csv")

    assert run.status == 0
    assert len(list(csv.DictReader(io.StringIO((tmp_path / "dairy.csv").read_text("utf-8"))))) == 8
    assert [path.name for path in tmp_path.iterdir()] == ["dairy.csv"]


def test_csv_never_overwrites_a_recording(roomir: Roomir, reads_as: Roomir, tmp_path: Path):
    reads_as(reading())
    sound = tmp_path / "kitchen.wav"
    sound.write_bytes(b"RIFF")
    run = roomir("read", tmp_path / "hall.wav", "--csv", sound)

    assert run.status == 2
    assert sound.read_bytes() == b"RIFF"
    assert roomir("read", "hall.wav", "--csv", "hall.wav").status == 2


def test_csv_that_cannot_be_written_is_one_line_and_status_one(
    roomir: Roomir, reads_as: Roomir, tmp_path: Path
):
    reads_as(reading())
    run = roomir("read", "dairy.m4a", "--csv", tmp_path / "no" / "such" / "folder.csv")

    assert run.status == 1
    assert run.out.startswith("Rings for")
    assert len(run.err.splitlines()) == 1
    assert "folder.csv cannot be written" in run.err


def test_a_hostile_file_name_cannot_forge_a_line_on_standard_error(roomir: Roomir, reads_as: Roomir):
    reads_as(nothing_read(failure("a\nroomir: all is well\x1b[2J.wav")))
    run = roomir("read", "x")

    assert len(run.err.splitlines()) == 1
    assert "\x1b" not in run.err


def test_without_a_terminal_there_is_no_colour_and_no_progress(roomir: Roomir, reads_as: Roomir):
    reads_as(reading())
    run = roomir("read", "dairy.m4a", "--full")

    assert "\x1b" not in run.out + run.err
    assert "\r" not in run.out + run.err


@pytest.mark.parametrize(
    ("name", "value", "colour"), [("", "", True), ("NO_COLOR", "1", False), ("TERM", "dumb", False)]
)
def test_a_terminal_gets_colour_unless_told_otherwise(
    roomir: Roomir, reads_as: Roomir, monkeypatch: pytest.MonkeyPatch, name: str, value: str, colour: bool
):
    reads_as(reading())
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm")
    if name:
        monkeypatch.setenv(name, value)
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)

    assert ("\x1b[32m" in roomir("read", "dairy.m4a").out) == colour


def test_on_a_terminal_progress_goes_to_standard_error_and_is_wiped(
    roomir: Roomir, monkeypatch: pytest.MonkeyPatch
):
    def read(paths: Any, *, progress: Any, **_: Any) -> Any:
        for i, path in enumerate(paths, start=1):
            progress(i, len(paths), str(path))
            progress(i, len(paths), str(path), "listening", 0.25)
        return reading()

    monkeypatch.setattr(api, "read", read)
    monkeypatch.setattr("sys.stderr.isatty", lambda: True, raising=False)
    long_name = "x" * 90 + ".wav"
    run = roomir("read", "a.wav", "b\x1b.wav", long_name)
    lines = run.err.split("\r\x1b[K")

    assert "Reading 1 of 3: a.wav" in lines
    assert "Reading 1 of 3: a.wav, listening, 25 %" in lines
    assert r"Reading 2 of 3: b\x1b.wav" in lines
    assert lines[-2].endswith("x, listening, 25 %")
    assert max(map(len, lines)) < 80
    assert run.err.endswith("\r\x1b[K")
    assert "Reading" not in run.out


def test_a_fault_in_roomir_is_one_line_with_a_saved_report_and_status_seventy(
    roomir: Roomir, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
):
    def broken(*_: Any, **__: Any) -> Any:
        raise ZeroDivisionError("in the cellar")

    monkeypatch.setattr(api, "read", broken)
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    run = roomir("read", "dairy.m4a")

    assert run.status == 70
    assert run.out == ""
    assert len(run.err.splitlines()) == 1
    assert "Traceback" not in run.err
    (report,) = tmp_path.iterdir()
    assert str(report) in run.err
    assert "ZeroDivisionError: in the cellar" in report.read_text("utf-8")
    assert "Traceback" in report.read_text("utf-8")
    assert "dairy.m4a" in report.read_text("utf-8")
    assert "Traceback" in roomir("read", "dairy.m4a", "--debug").err


def test_a_fault_that_cannot_even_be_saved_is_still_one_line(
    roomir: Roomir, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
):
    def broken(*_: Any, **__: Any) -> Any:
        raise ZeroDivisionError

    monkeypatch.setattr(api, "read", broken)
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "gone"))
    run = roomir("read", "dairy.m4a")

    assert run.status == 70
    assert "No report could be saved" in run.err


def test_version_and_help(roomir: Roomir):
    assert re.fullmatch(r"roomir \d+\.\d+\.\d+\n", roomir("--version").out)
    for arguments in (("--help",), ("read", "--help"), ("demo", "--help"), ("read", "-h")):
        run = roomir(*arguments)
        assert run.status == 0
        assert run.err == ""
        assert max(len(line) for line in run.out.splitlines()) <= 80


def test_every_option_of_read_is_explained(roomir: Roomir):
    text = roomir("read", "--help").out

    for option in (
        "--channel",
        "--volume",
        "--dimensions",
        "--bands",
        "--full",
        "--json",
        "--csv",
        "--figure",
        "--debug",
    ):
        assert re.search(rf"{option}\b.*\n?.*[a-z]{{4}}", text), option


def test_python_dash_m_is_the_same_program(roomir_process: Roomir):
    run = roomir_process("--version")

    assert run.status == 0
    assert run.out.startswith("roomir ")


def test_a_terminal_that_knows_only_ascii_still_gets_its_answer(roomir_process: Roomir, tmp_path: Path):
    run = roomir_process("read", tmp_path / "Küche.wav", env=os.environ | {"PYTHONIOENCODING": "ascii"})

    assert run.status == 1
    assert r"K\xfcche.wav" in run.err


def test_a_reader_that_leaves_early_causes_no_fault(sample_data: Path):
    import subprocess
    import sys

    take_file = next(sample_data.glob("dairy_1_*"))
    with subprocess.Popen(
        [sys.executable, "-m", "roomir", "read", str(take_file), "--json"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        complaint = process.stderr.read().decode()

    assert "fault in roomir" not in complaint
    assert "Traceback" not in complaint


def test_completion_for_the_shell_can_be_had(roomir_process: Roomir):
    # Whatever shell stands behind the tests, if any.
    env = {**os.environ, "_TYPER_COMPLETE_TEST_DISABLE_SHELL_DETECTION": "1"}
    run = roomir_process("--show-completion", "bash", env=env)

    assert run.status == 0
    assert "complete" in run.out
