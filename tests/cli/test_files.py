"""`roomir read` on files: one line for each that cannot be read, and the sample takes end to end."""

from __future__ import annotations

import json
import os
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

RATE_HZ = 48_000


def _wav(path: Path, samples: Any) -> Path:
    soundfile.write(path, np.asarray(samples, dtype=np.float32), RATE_HZ, subtype="FLOAT")
    return path


def _hiss(seconds: float = 6.0) -> Any:
    return 0.01 * np.random.default_rng(7).standard_normal(round(seconds * RATE_HZ))


def _with(samples: Any, *, at: int, value: float) -> Any:
    samples[at] = value
    return samples


def _written(path: Path, content: bytes) -> Path:
    path.write_bytes(content)
    return path


def _empty_folder(path: Path) -> Path:
    path.mkdir()
    return path


BAD = {
    "missing": lambda folder, _: folder / "missing.wav",
    "empty": lambda folder, _: _written(folder / "empty.wav", b""),
    "a folder": lambda folder, _: _empty_folder(folder / "folder.wav"),
    "a text with a sound's name": lambda folder, _: _written(
        folder / "text.wav", b"shopping: mineral wool\n" * 50
    ),
    "a header only": lambda folder, _: _wav(folder / "header.wav", []),
    "one sample": lambda folder, _: _wav(folder / "one.wav", [0.5]),
    "silence": lambda folder, _: _wav(folder / "silence.wav", np.zeros(6 * RATE_HZ)),
    "a constant": lambda folder, _: _wav(folder / "constant.wav", np.full(6 * RATE_HZ, 0.25)),
    "hiss": lambda folder, _: _wav(folder / "hiss.wav", _hiss()),
    "hiss on a constant": lambda folder, _: _wav(folder / "offset.wav", 0.3 + _hiss()),
    "NaN": lambda folder, _: _wav(folder / "nan.wav", _with(_hiss(), at=1000, value=np.nan)),
    "infinity": lambda folder, _: _wav(folder / "inf.wav", _with(_hiss(), at=1000, value=np.inf)),
    "a cut-off M4A": lambda folder, sample_data: _written(
        folder / "cut.m4a", next(sample_data.glob("*.m4a")).read_bytes()[:4000]
    ),
}


@pytest.mark.parametrize("kind", BAD)
def test_a_bad_file_is_one_line_with_its_name_and_what_to_do(
    kind: str, roomir: Roomir, tmp_path: Path, sample_data: Path
):
    path = BAD[kind](tmp_path, sample_data)
    run = roomir("read", path)

    assert run.status == 1
    assert len(run.err.splitlines()) == 1
    assert run.err.startswith(f"roomir: {path}: ")
    sentences = run.err.strip().removeprefix(f"roomir: {path}: ").split(". ")
    assert len(sentences) >= 2, "what is wrong, and what to do"
    assert "Rings for" not in run.out


@pytest.mark.parametrize("kind", BAD)
def test_the_document_of_a_bad_file_has_no_bands(
    kind: str, roomir: Roomir, tmp_path: Path, sample_data: Path
):
    run = roomir("read", BAD[kind](tmp_path, sample_data), "--json")
    document = json.loads(run.out)

    check_document(document)
    assert run.status == 1
    assert document["bands"] == []
    assert document["mid"]["decay_time_s"] is None


def test_good_files_are_read_beside_bad_ones(roomir: Roomir, tmp_path: Path, sample_data: Path):
    good = sample_data / "dairy_4_panels_spot3.wav"
    run = roomir("read", tmp_path / "missing.wav", good, _written(tmp_path / "empty.wav", b""), "--json")
    document = json.loads(run.out)

    check_document(document)
    assert run.status == 1
    assert [take["path"] for take in document["takes"]] == [str(good)]
    assert [failure["code"] for failure in document["failures"]] == ["file-missing", "file-empty"]
    assert document["mid"]["decay_time_s"] is not None
    assert len(run.err.splitlines()) == 2


def test_a_sample_stage_is_read_from_every_container(roomir: Roomir, sample_data: Path):
    takes = sorted(sample_data.glob("dairy_4_panels_*"))
    run = roomir("read", *takes, "--json", "--dimensions", "9x6x3.2")
    document = json.loads(run.out)

    check_document(document)
    assert run.status == 0
    assert run.err == ""
    assert {take.suffix for take in takes} == {".wav", ".flac", ".m4a", ".mov"}
    # sample_data/truth.json: the band decay times of the simulated room, 500 Hz and 1 kHz.
    truth = json.loads((sample_data / "truth.json").read_text("utf-8"))["stages"]["dairy_4_panels"][
        "band_decay_time_s"
    ]
    assert document["mid"]["decay_time_s"] == pytest.approx((truth["500"] + truth["1000"]) / 2, rel=0.05)
    assert document["room"]["volume_m3"] == pytest.approx(172.8)


def test_a_channel_that_is_not_there_is_named(roomir: Roomir, sample_data: Path):
    run = roomir("read", sample_data / "dairy_4_panels_spot3.wav", "--channel", "9")

    assert run.status == 1
    assert "there is no channel 9" in run.err


def test_a_name_in_any_script_and_with_signs_of_markup_is_only_a_name(
    roomir: Roomir, tmp_path: Path, sample_data: Path, monkeypatch: pytest.MonkeyPatch
):
    name = "[bold]Küche\x1b[31m 録音 %s {0}.wav"
    shutil.copy(sample_data / "dairy_4_panels_spot3.wav", tmp_path / name)
    monkeypatch.chdir(tmp_path)
    run = roomir("read", name, "--full")

    assert run.status == 0
    assert "\x1b" not in run.out
    assert r"[bold]Küche\x1b[31m 録音 %s {0}.wav:" in run.out


@pytest.mark.skipif(sys.platform != "linux", reason="only here can a name be any bytes")
def test_a_name_that_is_no_text_is_spelt_out_once_and_read(tmp_path: Path, sample_data: Path):
    bad, good = b"caf\xe9 \xff.wav", b"k\xfcche.wav"
    (tmp_path / os.fsdecode(bad)).write_bytes(b"a list of claps\n" * 9)
    shutil.copy(sample_data / "dairy_4_panels_spot3.wav", tmp_path / os.fsdecode(good))
    command = [os.fsencode(sys.executable), b"-m", b"roomir", b"read", bad, good, b"--json"]
    env = {**os.environ, "PYTHONPATH": str(sample_data.parent)}
    done = subprocess.run(command, capture_output=True, cwd=tmp_path, env=env, check=False)

    document = json.loads(done.stdout)
    assert done.returncode == 1
    assert [take["path"] for take in document["takes"]] == [r"k\xfcche.wav"]
    assert [failure["path"] for failure in document["failures"]] == [r"caf\xe9 \xff.wav"]
    (line,) = done.stderr.decode("ascii").splitlines()
    assert line.count(r"caf\xe9 \xff.wav") == 1
    assert "surrogate" not in line
    assert "udc" not in line


def test_a_reading_loads_nothing_it_can_do_without(sample_data: Path, checkout: Path):
    program = (
        "import sys\n"
        f"sys.argv = ['roomir', 'read', {str(sample_data / 'dairy_4_panels_spot3.wav')!r}, '--full']\n"
        "from roomir.cli.app import main\n"
        "try: main()\n"
        "except SystemExit as left: assert left.code == 0, left.code\n"
        "print('\\n'.join(sys.modules), file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True, cwd=checkout
    )

    unwanted = {"librosa", "matplotlib", "av", "scipy.signal", "pandas", "rich", "numba", "sqlite3"}
    assert not unwanted & set(done.stderr.splitlines())


def test_the_demo_explains_itself_and_draws(roomir: Roomir, tmp_path: Path):
    run = roomir("demo", "--out", tmp_path / "out")

    assert run.status == 0
    assert run.err == ""
    assert "brass band" in run.out
    assert run.out.count("Rings for") == 2
    drawn = {"bare-masonry.png", "panels-fitted.png", "decay-times.png"}
    assert {path.name for path in (tmp_path / "out").iterdir()} == {*drawn, "logbook", "dairy.html"}
    assert all((tmp_path / "out" / name).read_bytes().startswith(b"\x89PNG") for name in drawn)
    assert all(name in run.out for name in (*drawn, "dairy.html"))
    assert "Changed: shorter at 250 Hz to 8 kHz" in run.out
    assert "reached in" in (tmp_path / "out" / "dairy.html").read_text("utf-8")
    lines = [line for line in run.out.splitlines() if not line.startswith(("$ roomir", "---"))]
    assert max(map(len, lines)) <= 80


def test_the_demo_without_its_recordings_says_where_they_are(
    roomir: Roomir, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("roomir.__file__", str(tmp_path / "site-packages" / "roomir" / "__init__.py"))
    run = roomir("demo")

    assert run.status == 1
    assert run.err == (
        "roomir: the sample recordings are not here; they come with the source,"
        " not with the installed package. Run it in a checkout of the source.\n"
    )


def test_the_demo_that_cannot_write_says_so(roomir: Roomir, tmp_path: Path):
    (tmp_path / "file").write_text("in the way")
    run = roomir("demo", "--out", tmp_path / "file")

    assert run.status == 1
    assert "cannot be written" in run.err
