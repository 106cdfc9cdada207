"""A process apart is kept from item to item, and its death is told from outside."""

from __future__ import annotations

import os
import signal
from functools import partial
from pathlib import Path

from roomir.batching.apart import work_apart
from roomir.batching.find import Item
from roomir.batching.work import Record, failed_record


def item(name: str) -> Item:
    return Item(place=0, name=name, n_bytes=1, modified_ns=1)


def work(one: Item, *, folder: str) -> Record:
    """Say which process it was; die as often as the name says, and print as libraries do."""
    print("from a library")
    if one.name == "always" or (one.name == "once" and not Path(folder, "died").exists()):
        Path(folder, "died").touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return failed_record(one, code="made", says=str(os.getpid()), remedy="")


def test_what_crashes_apart_is_a_record_and_the_next_item_is_worked_on(tmp_path: Path):
    ask = partial(work_apart, work=partial(work, folder=str(tmp_path)))
    first, second = ask(item("a")), ask(item("b"))
    crashed = ask(item("always"))
    (tmp_path / "died").unlink()
    saved = ask(item("once"))

    assert first["failure"]["says"] == second["failure"]["says"] != str(os.getpid())
    assert crashed["failure"]["code"] == "reader-died"
    assert saved["failure"]["code"] == "made"
    assert saved["failure"]["says"] != first["failure"]["says"]
