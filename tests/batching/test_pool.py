"""A process that dies costs what killed it and nothing else."""

from __future__ import annotations

import os
import signal
from functools import partial
from pathlib import Path

import pytest

from roomir.batching.find import Item
from roomir.batching.pool import each_record
from roomir.batching.work import Record, failed_record

ITEMS = tuple(Item(place=i, name=str(i), n_bytes=1, modified_ns=1) for i in range(12))
CRASHES, KILLED_ONCE = "4", "7"


def work(item: Item, *, folder: str) -> Record:
    """Crash on one item as a decoder may; die on another the first time, of somebody's hunger for memory."""
    once = Path(folder, "died")
    if item.name == CRASHES or (item.name == KILLED_ONCE and not once.exists()):
        if item.name == KILLED_ONCE:
            once.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return failed_record(item, code="made", says=item.name, remedy="")


@pytest.mark.parametrize("jobs", [1, 2])
@pytest.mark.filterwarnings("ignore:A worker stopped while some jobs")
def test_only_what_kills_its_process_again_is_lost(jobs: int, tmp_path: Path):
    done = dict(each_record(ITEMS, work=partial(work, folder=str(tmp_path)), jobs=jobs))

    assert (tmp_path / "died").exists()
    assert set(done) == set(ITEMS)
    assert {item.name: record["failure"]["code"] for item, record in done.items()} == {
        item.name: "reader-died" if item.name == CRASHES else "made" for item in ITEMS
    }
