"""`roomir read --figure FILE`: the same reading, and a page of pictures beside it."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from tests.contract import check_document

Roomir = Callable[..., Any]

BEGINNINGS = {"png": b"\x89PNG", "svg": b"<?xml", "pdf": b"%PDF", "PNG": b"\x89PNG"}


@pytest.fixture(scope="module")
def panels(sample_data: Path) -> Path:
    """A sample take that can be read."""
    return sample_data / "dairy_4_panels_spot3.wav"


@pytest.fixture
def hiss(tmp_path: Path) -> Path:
    """A recording without any clap."""
    noise = 0.01 * np.random.default_rng(7).standard_normal(4 * 16000)
    soundfile.write(tmp_path / "hiss.wav", noise, 16000, subtype="PCM_16")
    return tmp_path / "hiss.wav"


@pytest.mark.parametrize("suffix", BEGINNINGS)
def test_the_figure_is_what_its_name_says_and_the_reading_stays_the_same(
    suffix: str, roomir: Roomir, panels: Path, tmp_path: Path
):
    drawn = roomir("read", panels, "--figure", tmp_path / f"dairy.{suffix}")

    assert (drawn.status, drawn.err) == (0, "")
    assert drawn.out == roomir("read", panels).out
    assert (tmp_path / f"dairy.{suffix}").read_bytes().startswith(BEGINNINGS[suffix])
    assert [path.name for path in tmp_path.iterdir()] == [f"dairy.{suffix}"]


@pytest.mark.parametrize("name", ["dairy.gif", "dairy", "dairy.png.txt", ".png"])
def test_a_figure_of_another_kind_is_wrong_usage_and_nothing_is_read(
    name: str, roomir: Roomir, panels: Path, tmp_path: Path
):
    run = roomir("read", panels, "--figure", tmp_path / name)

    assert run.status == 2
    assert run.out == ""
    assert len(run.err.splitlines()) == 1
    assert f"{name} is no name for a figure" in run.err
    assert ".png, .svg or .pdf" in run.err
    assert not list(tmp_path.iterdir())


def test_a_figure_never_takes_the_place_of_a_recording(roomir: Roomir, panels: Path, tmp_path: Path):
    sound = tmp_path / "sound.png"
    shutil.copy(panels, sound)
    (tmp_path / "link.png").symlink_to(sound)

    for figure in (sound, tmp_path / "link.png"):
        assert roomir("read", sound, "--figure", figure).status == 2
    assert sound.read_bytes() == panels.read_bytes()


def test_a_figure_that_cannot_be_written_is_one_line_after_the_reading(
    roomir: Roomir, panels: Path, tmp_path: Path
):
    run = roomir("read", panels, "--figure", tmp_path / "no" / "such" / "folder.svg")

    assert run.status == 1
    assert run.out.startswith(("Rings for", "No answer"))
    assert len(run.err.splitlines()) == 1
    assert "folder.svg cannot be written" in run.err


def test_a_recording_without_a_clap_is_drawn_too(roomir: Roomir, hiss: Path, tmp_path: Path):
    run = roomir("read", hiss, tmp_path / "missing.wav", "--figure", tmp_path / "why.png")

    assert run.status == 1
    assert len(run.err.splitlines()) == 2
    assert (tmp_path / "why.png").read_bytes().startswith(b"\x89PNG")


def test_files_that_cannot_be_opened_leave_a_page_that_says_so(roomir: Roomir, tmp_path: Path):
    run = roomir("read", tmp_path / "missing.wav", "--figure", tmp_path / "why.pdf")

    assert run.status == 1
    assert (tmp_path / "why.pdf").read_bytes().startswith(b"%PDF")


def test_a_name_that_looks_like_a_formula_or_cannot_be_drawn_is_only_a_name(
    roomir: Roomir, panels: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    name = "_$\\frac{$ 録音\x1b[31m.wav"
    shutil.copy(panels, tmp_path / name)
    monkeypatch.chdir(tmp_path)
    run = roomir("read", name, "--figure", "take $x^2$.svg")

    # A sign that the font lacks would be a warning, and a warning is an error here.
    assert (run.status, run.err) == (0, "")
    assert (tmp_path / "take $x^2$.svg").stat().st_size > 10_000


def test_the_document_stays_alone_on_standard_output(roomir: Roomir, panels: Path, tmp_path: Path):
    run = roomir("read", panels, "--json", "--figure", tmp_path / "dairy.png")

    check_document(json.loads(run.out))
    assert run.err == ""


def test_third_octaves_are_drawn_as_well(roomir: Roomir, panels: Path, tmp_path: Path):
    octaves, thirds = tmp_path / "octaves.png", tmp_path / "thirds.png"
    roomir("read", panels, "--figure", octaves)
    run = roomir("read", panels, "--bands", "third-octave", "--figure", thirds)

    assert (run.status, run.err) == (0, "")
    # Height of a PNG: bytes 20 to 24 of the file.
    heights = [int.from_bytes(path.read_bytes()[20:24], "big") for path in (octaves, thirds)]
    assert heights[1] > 1.5 * heights[0]


def test_drawing_loads_neither_pyplot_nor_pandas(panels: Path, tmp_path: Path, checkout: Path):
    program = (
        "import sys\n"
        f"sys.argv = ['roomir', 'read', {str(panels)!r}, '--figure', {str(tmp_path / 'a.png')!r}]\n"
        "from roomir.cli.app import main\n"
        "try: main()\n"
        "except SystemExit as left: assert left.code == 0, left.code\n"
        "print('\\n'.join(sys.modules), file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True, cwd=checkout
    )
    loaded = set(done.stderr.splitlines())

    assert {"matplotlib", "librosa"} <= loaded
    assert not {"matplotlib.pyplot", "pandas", "IPython"} & loaded
