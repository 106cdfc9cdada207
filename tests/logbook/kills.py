"""Killing processes that log, at random moments: what they confirmed has to be there."""

from __future__ import annotations

import random
import time
from pathlib import Path

from tests.logbook.books import open_book
from tests.logbook.child import said, start

A_BOOK = 25
"""So many kills share a logbook."""


class LossError(AssertionError):
    """Something confirmed is not there, or something is broken."""


def kill_at_random(folder: Path, *, n_kills: int, seed: int) -> dict[str, int]:
    """Kill a process so many times, and look after each time whether all that it confirmed is there.

    The same logbook is used again and again, so that what one left behind is what the next one finds.

    Returns
    -------
    dict
        ``kills``, ``kept``, ``purged``, and ``in_the_middle``: kills that left something unfinished behind.
    """
    rng = random.Random(seed)
    n_kept = n_purged = in_the_middle = 0
    for n in range(n_kills):
        if n % A_BOOK == 0:
            book, kept, purged = folder / f"from {n}" / "book", set[str](), set[str]()
            book.parent.mkdir()
        child = start(book, "--name", f"run{n}", "--purge")
        assert child.stdout is not None
        heard = b"".join(child.stdout.readline() for _ in range(rng.randint(1, 7)))
        time.sleep(rng.uniform(0.0, 0.06))
        child.kill()
        rest, trouble = child.communicate()
        if trouble:
            raise LossError(trouble.decode())
        for what, sha256 in said(heard + rest):
            if what == "kept":
                kept.add(sha256)
                n_kept += 1
            elif what == "purging":
                kept.discard(sha256)
            else:
                purged.add(sha256)
                n_purged += 1
        in_the_middle += any((book / "logbook.recordings").glob(".roomir-unfinished-*"))
        look(book, kept=kept, purged=purged)
    return {"kills": n_kills, "kept": n_kept, "purged": n_purged, "in_the_middle": in_the_middle}


def look(path: Path, *, kept: set[str], purged: set[str] = frozenset()) -> None:  # type: ignore[assignment]
    """Raise LossError unless all that was confirmed is there and the check is clean."""
    with open_book(path, create=False) as book:
        takes = {take.sha256: take for take in book.takes()}
        health = book.check()
        if health.problems:
            raise LossError(str(health.problems))
        if missing := kept - takes.keys():
            raise LossError(f"confirmed and gone: {missing}")
        if still := purged & takes.keys():
            raise LossError(f"purged and still there: {still}")
        for sha256 in kept:
            if takes[sha256].mid is None:
                raise LossError(f"without its reading: {sha256}")
        for sha256 in purged:
            if book.recording(next(iter(takes.values()))).with_name(sha256).exists():
                raise LossError(f"purged, and its recording is still there: {sha256}")
