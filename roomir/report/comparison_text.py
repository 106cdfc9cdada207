"""A comparison on a screen of eighty columns: the headline first, then the table."""

from __future__ import annotations

from collections.abc import Iterator

from roomir.report.changes import CHANGE_SIGNS, ComparisonView
from roomir.report.text import WIDTH, bold, quantity_table, table_lines, wrapped


def render_comparison(
    view: ComparisonView, *, full: bool = False, width: int = WIDTH, colour: bool = False
) -> str:
    """Lay out a comparison as text.

    Parameters
    ----------
    view : ComparisonView
        What to say.
    full : bool, default False
        Also every quantity of both sides.
    width : int, default 80
        Columns to stay within.
    colour : bool, default False
        Print the headline bold (ANSI).

    Returns
    -------
    str
        Lines ending in a line break. Names of files are made harmless.
    """
    return "\n".join(_lines(view, full=full, width=width, colour=colour)) + "\n"


def _lines(view: ComparisonView, *, full: bool, width: int, colour: bool) -> Iterator[str]:
    headline = wrapped(view.says, width=width)
    yield from (map(bold, headline) if colour else headline)
    if view.rows:
        yield ""
        yield from table_lines(
            ("Band", "Before s", "After s", "Change s", "Change % (95 %)", "Verdict"),
            [
                (
                    row.band,
                    row.before,
                    row.after,
                    row.change_s,
                    f"{row.change_percent} ({row.low_percent} to {row.high_percent})"
                    if row.low_percent
                    else row.change_percent,
                    f"{CHANGE_SIGNS[row.verdict]} {row.verdict}",
                )
                for row in view.rows
            ],
        )
        yield from ("", *quantity_table(view.table, width=width, indent=""))
    if view.target:
        yield from ("", "Against the target:")
        for said in view.target:
            yield from wrapped(said, width=width, first="  ", rest="    ")
    if view.settle:
        yield ""
        for said in view.settle:
            yield from wrapped(said, width=width)
    if view.guards:
        yield from ("", "Mind:")
        for said in view.guards:
            yield from wrapped(said, width=width, first="  - ", rest="    ")
    if full and view.rows:
        yield from ("", "Every quantity:")
        yield from quantity_table(view.quantities, width=width)
