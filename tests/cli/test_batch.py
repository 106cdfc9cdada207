"""What `roomir batch` says and with which status it leaves."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from roomir import api
from roomir.batching.run import BatchSummary
from roomir.cli import show

Roomir = Callable[..., Any]


def summary(**changes: Any) -> BatchSummary:
    made = {"output": "rooms.csv", "n_recordings": 30, "n_read": 30, "n_resumed": 0, "left_aside": {}}
    return BatchSummary(**(made | changes))


@pytest.fixture
def gives(monkeypatch: pytest.MonkeyPatch) -> Callable[[BatchSummary], None]:
    """Let every batch end like this."""

    def gives(made: BatchSummary) -> None:
        monkeypatch.setattr(api, "batch", lambda *_, **__: made)

    return gives


def test_a_batch_that_reads_everything_leaves_with_zero(roomir: Roomir, gives: Roomir):
    gives(summary())
    run = roomir("batch", "rooms", "-o", "rooms.csv")

    assert (run.status, run.out, run.err) == (0, "rooms.csv: 30 recordings, 30 read.\n", "")


def test_what_was_not_read_or_left_aside_is_counted(roomir: Roomir, gives: Roomir):
    gives(summary(n_read=28, n_resumed=7, left_aside={"hidden": 2, "without sound": 3}))
    run = roomir("batch", "rooms", "-o", "rooms.csv")

    assert run.status == 1
    assert " ".join(run.out.split()) == (
        "rooms.csv: 30 recordings, 28 read, 2 not (the reason stands beside each), 7 of them in an earlier"
        " run. Left aside: 2 hidden, 3 without sound."
    )


def test_an_output_is_needed_and_its_name_tells_the_format(roomir: Roomir, tmp_path: Path):
    assert roomir("batch", tmp_path).status == 2
    run = roomir("batch", tmp_path, "-o", "rooms.xlsx")

    assert run.status == 2
    assert run.err.endswith("Let the name end in .csv, .json or .parquet.\n")


def test_a_folder_that_is_not_there_is_one_line(roomir: Roomir, tmp_path: Path):
    run = roomir("batch", tmp_path / "missing", "-o", tmp_path / "rooms.csv")

    assert run.status == 1
    assert "there is no such folder" in run.err
    assert len(run.err.splitlines()) == 1


@pytest.mark.parametrize(
    ("seconds", "said"),
    [(0.2, "about 1 s"), (80.0, "about 80 s"), (200.0, "about 3 min"), (7500.0, "about 2 h 5 min")],
)
def test_time_left_is_told_roughly(
    seconds: float, said: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    monkeypatch.setattr(show, "_NOW_AND_THEN_S", 0.0)
    with show.batch_progress() as tell:
        tell(3, 10, seconds)
        tell(10, 10, 0.0)

    assert capsys.readouterr().err == f"roomir: Read 3 of 10, {said} left\nroomir: Read 10 of 10\n"
