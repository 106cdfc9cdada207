"""A reading on a screen of eighty columns: words first, then the table.

Trust is told by a word and a sign; colour only repeats it, so nothing is
lost on paper, in a pipe or to eyes that see colours differently.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence

from roomir.report.answer import SIGNS
from roomir.report.found import INDICATIVE
from roomir.report.quantities import QuantityTable
from roomir.report.rounding import MISSING
from roomir.report.view import BandRow, ReadingView, TakeView
from roomir.report.wording import printable

_COLOURS = {"reliable": "\x1b[32m", "indicative": "\x1b[33m", "unusable": "\x1b[31m"}
_BOLD, _RESET = "\x1b[1m", "\x1b[0m"

WIDTH = 80
"""Columns of a terminal nobody has widened."""

_LEAST_WHY = 24


def render(view: ReadingView, *, full: bool = False, width: int = WIDTH, colour: bool = False) -> str:
    """Lay out a reading as text.

    Parameters
    ----------
    view : ReadingView
        What to say.
    full : bool, default False
        Also every quantity of every band and clap, and the events set aside.
    width : int, default 80
        Columns to stay within.
    colour : bool, default False
        Repeat the trust in colour (ANSI).

    Returns
    -------
    str
        Lines ending in a line break. Names of files are made harmless.
    """
    return "\n".join(_lines(view, full=full, width=width, colour=colour)) + "\n"


def _lines(view: ReadingView, *, full: bool, width: int, colour: bool) -> Iterator[str]:
    answer = wrapped(view.answer, width=width)
    yield from ([_painted(line, _BOLD) for line in answer] if colour else answer)
    for said in view.but:
        yield from wrapped(said, width=width)
    if view.next_steps:
        yield from ("", "For a better reading:")
        for i, step in enumerate(view.next_steps, start=1):
            yield from wrapped(step, width=width, first=f"  {i}. ", rest="     ")
    faults = [(take.path, concern) for take in view.takes for concern in take.concerns]
    if faults:
        yield from ("", "Faults of the recordings:")
        for path, concern in faults:
            yield from wrapped(f"{path}: {concern}", width=width, first="  ! ", rest="    ")
    if view.rows:
        yield ""
        yield from _band_table(view.rows, width=width, colour=colour)
        if not full and any(row.why and len(row.every_reason) > len(row.why) for row in view.rows):
            yield "Further reasons: --full."
        for said in view.shared_why:
            yield from wrapped(f"All bands: {said}", width=width)
        if view.interval_note:
            yield from ("", *wrapped(view.interval_note, width=width))
        if view.bass_ratio:
            yield from wrapped(view.bass_ratio, width=width)
    if view.target:
        yield from ("", "Against the target:")
        for said in view.target:
            yield from wrapped(said, width=width, first="  ", rest="    ")
    if view.findings:
        yield from ("", "What else the decay shows:")
        for said in (*view.findings, INDICATIVE):
            yield from wrapped(said, width=width, first="  ", rest="    ")
        if full:
            for said in view.finding_details:
                yield from wrapped(said, width=width, first="    ", rest="      ")
        elif view.finding_details:
            yield "  One by one: --full."
    if view.room:
        yield from ("", "The room:")
        for said in view.room:
            yield from wrapped(said, width=width, first="  ", rest="  ")
    if full and view.rows:
        yield from ("", "Every quantity, all claps together:")
        yield from quantity_table(view.table, width=width)
        for row in view.rows:
            if row.every_reason:
                said = f"{row.band}: {'; '.join(row.every_reason)}."
                yield from wrapped(said, width=width, first="  ", rest="    ")
    notes = [(take.path, note) for take in view.takes for note in take.notes]
    if full:
        for take in view.takes:
            yield from ("", *_take(take, width=width))
    elif notes:
        yield from ("", "Notes:")
        for path, note in notes:
            yield from wrapped(f"{path}: {note}", width=width, first="  ", rest="    ")
    yield ""
    for said in view.limits:
        yield from wrapped(said, width=width)


# ------------------------------------------------------------------ tables


def _band_table(rows: tuple[BandRow, ...], *, width: int, colour: bool) -> Iterator[str]:
    heads = ("Band", "Decay time s", "T20 s", "Trust")
    cells = [
        (row.band, _time_with_interval(row), row.t20, f"{SIGNS[row.verdict]} {row.verdict}") for row in rows
    ]
    widths = [max(len(head), *(len(line[i]) for line in cells)) for i, head in enumerate(heads)]
    indent = sum(widths) + 2 * len(widths)
    any_why = any(row.why for row in rows)
    yield "  ".join([*_padded(heads, widths), *(["Why"] if any_why else [])]).rstrip()
    for row, line in zip(rows, cells, strict=True):
        shown = _padded(line, widths)
        if colour:
            # The padding stays outside the colour, so that the end of a line can still be trimmed.
            shown[-1] = shown[-1].replace(line[-1], _painted(line[-1], _COLOURS[row.verdict]))
        why = wrapped("; ".join(row.why), width=max(width - indent, _LEAST_WHY)) or [""]
        yield ("  ".join(shown) + "  " + why[0]).rstrip()
        yield from (" " * indent + more for more in why[1:])


def _time_with_interval(row: BandRow) -> str:
    return f"{row.decay_time} ({row.low} to {row.high})" if row.low else row.decay_time


def _padded(cells: Iterable[str], widths: Iterable[int]) -> list[str]:
    return [cell.ljust(width) for cell, width in zip(cells, widths, strict=True)]


def table_lines(heads: tuple[str, ...], cells: Sequence[tuple[str, ...]]) -> Iterator[str]:
    """Lay out a table as wide as its widest cells, with everything in it that is not text spelt out."""
    shown = [tuple(map(printable, line)) for line in (heads, *cells)]
    widths = [max(len(line[i]) for line in shown) for i in range(len(heads))]
    for line in shown:
        yield "  ".join(_padded(line, widths)).rstrip()


def bold(text: str) -> str:
    """Print bold (ANSI)."""
    return _painted(text, _BOLD)


def quantity_table(table: QuantityTable, *, width: int, indent: str = "  ") -> Iterator[str]:
    """Lay out every quantity with the bands as columns, as many side by side as there is room for."""
    name_width = max(len(quantity.name) for quantity in table.quantities)
    cells = [cell for quantity in table.quantities for cell in quantity.cells]
    cell_width = max(len(cell) for cell in (*cells, *table.bands))
    # As many bands side by side as there is room for, and the rest below.
    at_once = max((width - len(indent) - name_width) // (cell_width + 1), 1)
    for start in range(0, len(table.bands), at_once):
        part = slice(start, start + at_once)
        yield indent + " " * name_width + "".join(f" {band:>{cell_width}}" for band in table.bands[part])
        for quantity in table.quantities:
            if any(cell != MISSING for cell in quantity.cells):
                line = "".join(f" {cell:>{cell_width}}" for cell in quantity.cells[part])
                yield f"{indent}{quantity.name:<{name_width}}{line}"


# ------------------------------------------------------------------ takes


def _take(take: TakeView, *, width: int) -> Iterator[str]:
    yield from wrapped(f"{take.path}: {take.summary}", width=width, rest="    ")
    for said in (*take.concerns, *take.notes):
        yield from wrapped(said, width=width, first="  ", rest="  ")
    for clap in take.claps:
        yield from wrapped(f"at {clap.summary}", width=width, first="  ", rest="      ")
        for concern in clap.concerns:
            yield from wrapped(concern, width=width, first="    ! ", rest="      ")
        if clap.table is not None:
            yield from quantity_table(clap.table, width=width, indent="    ")


# ------------------------------------------------------------------ lines


def wrapped(text: str, *, width: int = WIDTH, first: str = "", rest: str = "") -> list[str]:
    """Break text into lines that fit, with everything in it that is not text spelt out."""
    return textwrap.wrap(
        printable(text),
        width=width,
        initial_indent=first,
        subsequent_indent=rest,
        break_on_hyphens=False,
    )


def _painted(text: str, colour: str) -> str:
    return f"{colour}{text}{_RESET}"
