"""A reading in a notebook: a table to look at, and a data frame to work with."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from roomir.errors import RoomirError
from roomir.reading.reading import Reading
from roomir.report.answer import SIGNS
from roomir.report.table import BAND_COLUMNS, band_cells
from roomir.report.view import BandRow, view
from roomir.report.wording import printable

if TYPE_CHECKING:
    import pandas as pd

_HEADINGS = ("Band", "Decay time s", "T20 s", "Trust", "Why")

_DTYPES = {
    **dict.fromkeys(BAND_COLUMNS, "float64"),
    "slopes": "Int64",
    **dict.fromkeys(("claps_used", "spots"), "int64"),
    **dict.fromkeys(("interval_from", "verdict", "reasons"), "object"),
}


def as_html(reading: Reading) -> str:
    """Write a reading as a notebook shows it: what the screen says first, and its short table.

    Parameters
    ----------
    reading : Reading
        With bands, or with nothing but failures.

    Returns
    -------
    str
        HTML without colours of its own; names and words of others are escaped.
    """
    shown = view(reading)
    parts = [f"<p><strong>{_safe(shown.answer)}</strong></p>"]
    parts += [f"<p>{_safe(one)}</p>" for one in (*shown.but, *shown.shared_why)]
    if shown.rows:
        head = "".join(f'<th scope="col">{_safe(one)}</th>' for one in _HEADINGS)
        body = "".join(_row(row) for row in shown.rows)
        parts.append(f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>")
    parts += [f"<p>{_safe(one)}</p>" for one in (shown.interval_note, *shown.failures) if one]
    return f"<div>{''.join(parts)}</div>"


def _row(row: BandRow) -> str:
    interval = f" ({row.low} to {row.high})" if row.low else ""
    cells = (
        f"{row.decay_time}{interval}",
        row.t20,
        f"{SIGNS[row.verdict]} {row.verdict}",
        "; ".join(row.why),
    )
    cells_html = "".join(f"<td>{_safe(cell)}</td>" for cell in cells)
    return f'<tr><th scope="row">{_safe(row.band)}</th>{cells_html}</tr>'


def _safe(text: str) -> str:
    return escape(printable(text))


def as_frame(reading: Reading) -> pd.DataFrame:
    """Make a data frame of a reading's bands.

    Parameters
    ----------
    reading : Reading
        Without bands, the frame has its columns and no rows.

    Returns
    -------
    pandas.DataFrame
        One row per band, named by the nominal midband frequency in hertz;
        the columns of the CSV. A withheld figure is NaN, as pandas
        has it.

    Raises
    ------
    RoomirError
        If pandas is not installed.
    """
    try:
        import pandas as pd
    except ImportError as error:
        raise RoomirError(
            "a data frame needs pandas, which is not installed",
            code="no-pandas",
            remedy="install roomir with its extra 'notebook', or pandas itself",
        ) from error
    rows = [band_cells(room_band) for room_band in reading.bands]
    frame = pd.DataFrame(rows, columns=list(BAND_COLUMNS))
    return frame.astype(_DTYPES).set_index("centre_hz")
