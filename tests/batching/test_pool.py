"""A process that dies costs what killed it and nothing else."""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path

import pytest

from roomir.batching.find import Item
from roomir.batching.pool import each_record
from roomir.batching.work import Record, failed_record

ITEMS = tuple(Item(place=i, name=str(i), n_bytes=1, modified_ns=1) for i in range(12))
CRASHES = "4"


def work(item: Item) -> Record:
    """Crash on one item as a decoder may; every other gives the same record each time."""
    if item.name == CRASHES:
        os.kill(os.getpid(), signal.SIGKILL)
    return failed_record(item, code="made", says=item.name, remedy="")


def work_killed_once(item: Item) -> Record:
    """Die on one item the first time only, as of somebody else's hunger for memory."""
    folder = Path(os.environ["ROOMIR_TEST_FOLDER"])
    if item.name == "3" and not (folder / "died").exists():
        (folder / "died").touch()
        time.sleep(0.05)
        os.kill(os.getpid(), signal.SIGKILL)
    return failed_record(item, code="made", says=item.name, remedy="")


@pytest.mark.parametrize("jobs", [1, 2])
@pytest.mark.filterwarnings("ignore:A worker stopped while some jobs")
def test_an_item_that_kills_its_process_is_a_record_and_every_other_is_worked_on(jobs: int):
    done = dict(each_record(ITEMS, work=work, jobs=jobs))

    assert set(done) == set(ITEMS)
    assert {item.name: record["failure"]["code"] for item, record in done.items()} == {
        item.name: "reader-died" if item.name == CRASHES else "made" for item in ITEMS
    }


@pytest.mark.filterwarnings("ignore:A worker stopped while some jobs")
def test_an_item_whose_process_is_killed_once_is_worked_on_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    from joblib.externals.loky import get_reusable_executor

    get_reusable_executor().shutdown(wait=True)  # processes take the environment they are born with
    monkeypatch.setenv("ROOMIR_TEST_FOLDER", str(tmp_path))
    done = dict(each_record(ITEMS, work=work_killed_once, jobs=2))
    get_reusable_executor().shutdown(wait=True)

    assert (tmp_path / "died").exists()
    assert [record["failure"]["code"] for record in done.values()] == ["made"] * len(ITEMS)
