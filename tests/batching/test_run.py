"""A batch over real files, undisturbed, interrupted and killed; ``takes.py`` beside this makes them."""

from __future__ import annotations

import csv
import json
import os
import shutil
import signal
import time
from pathlib import Path
from typing import Any

import pytest

import roomir
from roomir.batching.journal import journal_path
from roomir.errors import ParameterError, RoomirError
from tests.batching.takes import batch_process, write_takes

N_TAKES = 20
SHOWN = f"{N_TAKES + 2} recordings, {N_TAKES} read, 2 not"


@pytest.fixture(scope="module")
def takes(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Twenty takes, two files that give nothing, and one that is no recording."""
    folder = tmp_path_factory.mktemp("takes")
    write_takes(folder, n=N_TAKES)
    (folder / "broken.wav").write_bytes((folder / "take0001.wav").read_bytes()[:20])
    (folder / "empty.m4a").touch()
    (folder / "notes.txt").write_text("four spots")
    return folder


@pytest.fixture(scope="module")
def undisturbed(takes: Path, tmp_path_factory: pytest.TempPathFactory) -> str:
    """What an undisturbed run writes."""
    output = tmp_path_factory.mktemp("undisturbed") / "rooms.json"
    seen = []
    summary = roomir.batch(takes, output, jobs=2, progress=lambda *news: seen.append(news))

    assert (summary.n_recordings, summary.n_read, summary.n_failed, summary.n_resumed) == (22, 20, 2, 0)
    assert summary.left_aside == {"without sound": 1}
    assert [done for done, _, _ in seen] == list(range(23))
    assert seen[-1] == (22, 22, 0.0)
    assert list(output.parent.iterdir()) == [output]
    return output.read_text("ascii")


def test_each_recording_is_read_as_it_is_alone(takes: Path, undisturbed: str):
    recordings = json.loads(undisturbed)["recordings"]
    alone = roomir.read(takes / "take0007.wav")
    (found,) = (one for one in recordings if one["file"] == "take0007.wav")

    assert [one["file"] for one in recordings] == sorted(one["file"] for one in recordings)
    assert found["sha256"] == alone.takes[0].sha256
    assert found["mid"]["decay_time_s"] == round(alone.mid.decay_time_s or 0.0, 6)
    assert [band["verdict"] for band in found["bands"]] == [one.figures.verdict for one in alone.bands]


def test_a_file_that_gives_nothing_is_a_row_with_its_reason(undisturbed: str):
    failures = {
        one["file"]: one["failure"] for one in json.loads(undisturbed)["recordings"] if one["failure"]
    }

    assert set(failures) == {"broken.wav", "empty.m4a"}
    assert failures["empty.m4a"]["code"] == "file-empty"
    assert failures["empty.m4a"]["says"] == "the file is empty (0 bytes)"
    assert failures["broken.wav"]["remedy"]


def _lines_written(output: Path) -> int:
    journal = journal_path(output)
    return max(journal.read_bytes().count(b"\n") - 1, 0) if journal.exists() else 0


def _wait_for(output: Path, *, n: int, process: Any) -> None:
    give_up_at = time.monotonic() + 120.0
    while _lines_written(output) < n:
        assert process.poll() is None, process.communicate()
        assert time.monotonic() < give_up_at
        time.sleep(0.002)


def test_interrupted_and_killed_and_robbed_of_a_worker_it_gives_what_an_undisturbed_run_gives(
    takes: Path, undisturbed: str, tmp_path: Path
):
    output = tmp_path / "rooms.json"
    run = batch_process(takes, output, "--jobs", "2")
    _wait_for(output, n=3, process=run)
    run.send_signal(signal.SIGINT)
    told, complained = run.communicate(timeout=60)

    assert (run.returncode, told) == (130, "")
    assert complained == "roomir: interrupted; nothing is lost, the same command goes on from here\n"
    kept = _lines_written(output)
    assert kept >= 3

    run = batch_process(takes, output, "--jobs", "2")
    _wait_for(output, n=kept + 4, process=run)
    left_over = _children(run.pid)
    run.kill()
    run.communicate()

    assert not output.exists()
    kept = _lines_written(output)
    assert kept < N_TAKES + 2

    run = batch_process(takes, output, "--jobs", "2")
    _wait_for(output, n=kept + 1, process=run)
    workers = [one for one in _children(run.pid) if "LokyProcess" in _command(one)]
    if workers:  # where they can be told
        os.kill(int(workers[0]), signal.SIGKILL)
    told, complained = run.communicate(timeout=120)

    assert run.returncode == 1, complained  # for the two files that give nothing
    assert SHOWN in " ".join(told.split())
    assert f"{kept} of them in an earlier run" in " ".join(told.split())
    assert output.read_text("ascii") == undisturbed
    assert list(tmp_path.iterdir()) == [output]
    # Nobody stays behind of the run that was killed.
    give_up_at = time.monotonic() + 30.0
    while any("python" in _command(one) for one in left_over):
        assert time.monotonic() < give_up_at
        time.sleep(0.1)


def _children(pid: int) -> list[str]:
    """Processes that a process has started; none where the system has no /proc."""
    listed = Path(f"/proc/{pid}/task/{pid}/children")
    return listed.read_text().split() if listed.exists() else []


def _command(pid: str) -> str:
    try:
        return Path(f"/proc/{pid}/cmdline").read_text()
    except OSError:
        return ""


def test_nothing_is_read_twice_and_a_changed_file_is_read_anew(
    takes: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    folder = tmp_path / "takes"
    shutil.copytree(takes, folder)
    for extra in range(4, N_TAKES):
        (folder / f"take{extra:04d}.wav").unlink()
    with monkeypatch.context() as broken:
        # The disk is full just when the output is to be written.
        broken.setattr("roomir.batching.run.write_output", _disk_is_full)
        with pytest.raises(RoomirError):
            roomir.batch(folder, tmp_path / "rooms.csv", jobs=1)
    (folder / "take0002.wav").write_bytes((folder / "take0001.wav").read_bytes())
    (folder / "take0003.wav").unlink()
    summary = roomir.batch(folder, tmp_path / "rooms.csv", jobs=1)

    assert (summary.n_recordings, summary.n_read, summary.n_resumed) == (5, 3, 4)
    with (tmp_path / "rooms.csv").open(newline="") as file:
        by_name = {row["file"]: row["sha256"] for row in csv.DictReader(file)}
    assert by_name["take0002.wav"] == by_name["take0001.wav"]
    assert "take0003.wav" not in by_name


def _disk_is_full(*_: object, **__: object) -> None:
    raise RoomirError("the disk is full", code="cannot-write")


def test_a_recording_is_never_overwritten(takes: Path, tmp_path: Path):
    disguised = tmp_path / "rooms.csv"
    shutil.copy(takes / "take0001.wav", disguised)
    before = disguised.read_bytes()
    with pytest.raises(ParameterError) as refused:
        roomir.batch(takes, disguised)

    assert refused.value.code == "output-is-sound"
    assert disguised.read_bytes() == before


@pytest.mark.parametrize(
    ("options", "code"),
    [
        ({"jobs": 0}, "no-jobs"),
        ({"bands": "sevenths"}, "no-such-bands"),
        ({"channel": 0}, "no-such-channel"),
        ({"scheduler": "tcp://127.0.0.1:1"}, "no-scheduler"),
    ],
)
def test_wrong_usage_is_refused_before_anything_is_read(
    takes: Path, tmp_path: Path, options: dict[str, Any], code: str, monkeypatch: pytest.MonkeyPatch
):
    if "scheduler" in options:
        pytest.importorskip("distributed", reason="dask is not installed (extra cluster)")
        monkeypatch.setattr("roomir.batching.pool._CONNECT_S", 0.5)
    with pytest.raises(RoomirError) as refused:
        roomir.batch(takes, tmp_path / "rooms.csv", **options)

    assert refused.value.code == code
    assert not (tmp_path / "rooms.csv").exists()


def test_an_output_that_is_a_folder_is_refused_before_anything_is_read(takes: Path, tmp_path: Path):
    output = tmp_path / "rooms.csv"
    output.mkdir()
    with pytest.raises(RoomirError, match="it is a folder") as refused:
        roomir.batch(takes, output, progress=lambda *_: pytest.fail("it began to read"))

    assert refused.value.code == "cannot-write"
    assert list(tmp_path.iterdir()) == [output]


def test_a_folder_without_recordings_is_no_batch(tmp_path: Path):
    (tmp_path / "notes.txt").write_text("four spots")
    with pytest.raises(RoomirError, match="1 other file") as refused:
        roomir.batch(tmp_path, tmp_path / "rooms.csv")

    assert refused.value.code == "no-takes"
    assert sorted(one.name for one in tmp_path.iterdir()) == ["notes.txt"]
