"""What screens and documents of the planner share: plain tables, numbers for JSON, remarks."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from roomir.remarks import Remark
from roomir.report.document import DECIMALS
from roomir.report.rounding import MISSING, decimals_of, rounded, rounded_outwards
from roomir.report.text import wrapped
from roomir.report.wording import printable, said_and_done
from roomir.rooms.description import Room

Document = dict[str, Any]


def number(value: float | None) -> float | None:
    """Round for a document; what is not finite is withheld."""
    return None if value is None or not math.isfinite(value) else round(float(value), DECIMALS)


def numbers(values: Sequence[float | None] | None) -> list[float | None] | None:
    """Round several for a document."""
    return None if values is None else [number(value) for value in values]


def remark_documents(remarks: Sequence[Remark]) -> list[Document]:
    """Make the part of a document that holds remarks."""
    return [{"code": one.code, "says": one.says, "remedy": one.remedy} for one in remarks]


def dumped(document: Mapping[str, Any]) -> str:
    """Write a document as JSON text without NaN."""
    return json.dumps(document, allow_nan=False, ensure_ascii=True, indent=1)


def named(room: Room) -> str:
    """Name a room, and its stage if it has several."""
    name = printable(room.name)
    return f"{name}, stage {printable(room.stage)}" if room.stage else name


def time_cell(value_s: float | None, interval: tuple[float, float] | None) -> str:
    """Write a decay time with its interval.

    Examples
    --------
    >>> time_cell(0.4567, (0.41, 0.52)), time_cell(None, None)
    ('0.46 (0.41 to 0.52)', '-')
    """
    if value_s is None:
        return MISSING
    decimals = decimals_of(value_s, interval=interval)
    if interval is None:
        return rounded(value_s, decimals=decimals)
    low, high = rounded_outwards(interval, decimals=decimals)
    return f"{rounded(value_s, decimals=decimals)} ({low} to {high})"


def table_lines(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> Iterator[str]:
    """Lay out a table, the first column to the left, the others to the right."""
    widths = [max(len(head), *(len(row[i]) for row in rows)) for i, head in enumerate(heads)]
    for row in (heads, *rows):
        first, *others = row
        cells = [first.ljust(widths[0]), *(c.rjust(w) for c, w in zip(others, widths[1:], strict=True))]
        yield "  ".join(cells).rstrip()


def remark_lines(remarks: Sequence[Remark]) -> Iterator[str]:
    """Write remarks, each with its remedy."""
    for one in remarks:
        yield from wrapped(said_and_done(one), first="  ! ", rest="    ")
