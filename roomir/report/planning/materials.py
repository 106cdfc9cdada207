"""A table of materials as text and as the document ``roomir/materials/1``."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from roomir.report.planning.tables import Document, dumped, numbers, table_lines
from roomir.report.text import wrapped
from roomir.report.wording import band_name, counted, printable
from roomir.rooms.materials import PLAN_HZ, SIX_HZ, Material, Octaves


def materials_json(rows: Sequence[Material]) -> str:
    """Write rows as a document."""
    return dumped(
        {"schema": "roomir/materials/1", "octaves_hz": list(PLAN_HZ), "materials": [*map(_row, rows)]}
    )


def _row(row: Material) -> Document:
    return {
        "name": row.name,
        "alpha": numbers(row.alpha),
        "low": numbers(row.low),
        "high": numbers(row.high),
        "per_piece": row.each,
        "mounting": row.mounting,
        "source": row.source,
        "own": row.own,
        "panel_m2": None if row.panel is None else row.panel.area_m2,
        "thickness_mm": None if row.panel is None else row.panel.thickness_mm,
    }


def materials_text(rows: Sequence[Material]) -> str:
    """Lay rows out for a terminal: a table of coefficients, then mounting and source of each."""
    return "\n".join(_lines(rows)) + "\n"


def _lines(rows: Sequence[Material]) -> Iterator[str]:
    if not rows:
        yield "No material has these words. `roomir materials` lists all."
        return
    heads = ("Material", *(band_name(hz) for hz in SIX_HZ))
    short = [printable(row.name) if len(row.name) <= 42 else printable(row.name[:41]) + "…" for row in rows]
    yield from table_lines(heads, [(n, *_six(row.alpha)) for n, row in zip(short, rows, strict=True)])
    yield ""
    for row in rows:
        marks = [row.mounting, row.source, *(["your own"] if row.own else [])]
        if row.each:
            marks.insert(0, "m2 for each")
        yield from wrapped(printable(f"{row.name}: {'; '.join(marks)}"), first="  ", rest="    ")
    yield ""
    yield f"{counted(len(rows), 'material')}."


def _six(values: Octaves) -> list[str]:
    return ["-" if value is None else f"{value:.3g}" for value in values[1:7]]
