"""What goes to the terminal: the answer to standard output, everything else to standard error."""

from __future__ import annotations

import io
import json
import logging
import os
import sys
import time
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, TextIO

from roomir.api import Progress
from roomir.errors import RoomirError
from roomir.reading.reading import Reading
from roomir.report.text import render, wrapped
from roomir.report.view import ReadingView, fault_lines
from roomir.report.wording import printable, sentence

if TYPE_CHECKING:  # they need numpy, which `roomir --help` does not
    from roomir.batching.run import BatchProgress
    from roomir.report.guide import Guide
    from roomir.report.room import RoomAdvice
    from roomir.report.suggestions import Advice
    from roomir.rooms.places import Places


def make_streams_safe() -> None:
    """Let a sign the terminal cannot show be spelt out instead of ending the program."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def out(text: str) -> None:
    """Write to standard output as it is."""
    sys.stdout.write(text)


def done(says: str | Sequence[str], document: dict[str, Any], *, as_json: bool) -> None:
    """Tell what was done: in one line or several, each made harmless, or as a document."""
    if as_json:
        out(json.dumps({"schema": "roomir/done/1", **document}, ensure_ascii=True, indent=1) + "\n")
    else:
        lines([says] if isinstance(says, str) else says)


def lines(texts: Iterable[str]) -> None:
    """Write lines to standard output, with everything in them that is not text spelt out."""
    out("".join(f"{printable(text)}\n" for text in texts))


def flush() -> None:
    """Let what was written so far be seen at once."""
    sys.stdout.flush()


def paragraph(text: str) -> None:
    """Write wrapped text to standard output."""
    out("\n".join(wrapped(text)) + "\n")


def line(text: str) -> None:
    """Write one line to standard error, with everything in it that is not text spelt out."""
    sys.stderr.write(f"roomir: {printable(text)}\n")


def fault(error: RoomirError) -> None:
    """Tell an error of the whole call: what is wrong and what to do."""
    line(" ".join(part for part in (sentence(error.says, capital=False), sentence(error.remedy)) if part))
    for other in getattr(error, "others", ()):  # a file with several faults tells them all at once
        fault(other)


def failures(reading: Reading) -> None:
    """Tell every file that gave no reading, one line each."""
    for fault_line in fault_lines(reading):
        line(fault_line)


def reading_text(view: ReadingView, *, full: bool) -> None:
    """Show a reading on standard output."""
    out(render(view, full=full, colour=colour_wanted(sys.stdout)))


def advice(
    made: Advice, *, room: RoomAdvice | None = None, floor: Places | None = None, as_json: bool
) -> None:
    """Show what to do next, on standard output."""
    if as_json:
        from roomir.report.advice_document import advice_json

        out(advice_json(made, room=room, floor=floor) + "\n")
        return
    from roomir.report.advice_text import render_advice

    out(render_advice(made, room=room, floor=floor))


def guide(made: Guide, *, as_json: bool) -> None:
    """Show how to make a first take, on standard output."""
    if as_json:
        from roomir.report.advice_document import advice_json

        out(advice_json(made) + "\n")
        return
    from roomir.report.advice_text import render_guide

    out(render_guide(made))


def colour_wanted(stream: TextIO) -> bool:
    """Whether colour helps: a terminal is watching, and nobody asked for none (NO_COLOR, TERM=dumb)."""
    return stream.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


def silence_matplotlib() -> None:
    """Keep what matplotlib says about its caches on a first run from looking like trouble."""
    logging.getLogger("matplotlib").setLevel(logging.ERROR)


_LINE = 79
"""Longest line that no terminal breaks in two. [characters]"""


@contextmanager
def batch_progress() -> Iterator[BatchProgress]:
    """Show how many recordings are done and the time left: in place on a terminal, now and then elsewhere."""
    watched = sys.stderr.isatty()
    begin, end = ("\r\x1b[K", "") if watched else ("roomir: ", "\n")
    every_s = 0.2 if watched else _NOW_AND_THEN_S
    last_s = time.monotonic()

    def tell(n_done: int, n_all: int, left_s: float | None) -> None:
        nonlocal last_s
        if time.monotonic() - last_s < every_s:
            return
        last_s = time.monotonic()
        left = "" if left_s is None or n_done == n_all else f", {_time_left(left_s)} left"
        sys.stderr.write(f"{begin}Read {n_done} of {n_all}{left}{end}")
        sys.stderr.flush()

    try:
        yield tell
    finally:
        if watched:
            sys.stderr.write(begin)
            sys.stderr.flush()


_NOW_AND_THEN_S = 30.0


def _time_left(seconds: float) -> str:
    if seconds < 90.0:
        return f"about {max(round(seconds), 1)} s"
    minutes = round(seconds / 60.0)
    return f"about {minutes} min" if minutes < 90 else f"about {minutes // 60} h {minutes % 60} min"


@contextmanager
def progress() -> Iterator[Progress | None]:
    """Show which file is being read and how far it is while somebody watches; wipe the line afterwards."""
    if not sys.stderr.isatty():
        yield None
        return
    wipe = "\r\x1b[K"

    def tell(place: int, n_files: int, name: str, doing: str = "", part: float = 0.0) -> None:
        begins = f"Reading {place} of {n_files}: "
        ends = f", {doing}, {100 * part:.0f} %" if doing else ""
        room = _LINE - len(begins) - len(ends)
        sys.stderr.write(wipe + begins + printable(name)[:room] + ends)
        sys.stderr.flush()

    try:
        yield tell
    finally:
        sys.stderr.write(wipe)
        sys.stderr.flush()
