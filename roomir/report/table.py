"""A reading as CSV: one row per band with every quantity, for a spreadsheet."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

from roomir.reading.reading import Reading, RoomBand
from roomir.report.document import Document, room_band_document
from roomir.report.wording import printable

if TYPE_CHECKING:  # it needs numpy, which `roomir --help` does not
    from roomir.compare.history import History

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def to_csv(reading: Reading) -> str:
    """Write the bands of a reading as CSV text.

    Parameters
    ----------
    reading : Reading
        Without bands, only the header is written.

    Returns
    -------
    str
        Comma-separated, with a header; a withheld figure is an empty cell, an
        interval is two columns, reasons are joined by ``"; "``. Text that a
        spreadsheet would take for a formula is led by an apostrophe.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["recordings", *BAND_COLUMNS])
    recordings = cell_text("; ".join(take.path for take in reading.takes))
    for room_band in reading.bands:
        cells = band_cells(room_band)
        cells["reasons"] = cell_text(cells["reasons"])
        writer.writerow([recordings, *(cells[column] for column in BAND_COLUMNS)])
    return out.getvalue()


def stages_csv(history: History) -> str:
    """Write every band of every stage of a room as CSV text.

    Parameters
    ----------
    history : History
        Without stages, only the header is written.

    Returns
    -------
    str
        As :func:`to_csv`, with the stage in front.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["stage", "date", *BAND_COLUMNS])
    for stage in history.stages:
        for room_band in stage.reading.bands:
            cells = band_cells(room_band)
            cells["reasons"] = cell_text(cells["reasons"])
            day = "" if stage.date is None else stage.date.isoformat()
            writer.writerow([cell_text(stage.name), day, *(cells[column] for column in BAND_COLUMNS)])
    return out.getvalue()


BAND_COLUMNS = (
    "centre_hz", "edt_s", "t20_s", "t30_s", "decay_time_s",
    "spot_ci95_low_s", "spot_ci95_high_s", "ci95_low_s", "ci95_high_s", "interval_from",
    "decay_range_db", "fitted_range_db", "level_dbfs", "nonlinearity_permille", "curvature_percent",
    "c50_db", "c80_db", "d50", "ts_s", "bt", "slopes",
    "claps_used", "effective_claps", "spots", "u_relative", "u_theory_relative", "verdict", "reasons",
)  # fmt: skip
"""Every quantity of a band, an interval as two of them."""


def band_cells(room_band: RoomBand) -> Document:
    """Flatten one band to a value for each of `BAND_COLUMNS`; a withheld figure is ``None``."""
    return flat_band(room_band_document(room_band))


def flat_band(band: Document) -> Document:
    """Flatten the part of a document that stands for one band of the room, as :func:`band_cells` does."""
    cells = dict(band)
    for name in ("spot_ci95", "ci95"):
        low, high = cells.pop(f"{name}_s") or (None, None)
        cells |= {f"{name}_low_s": low, f"{name}_high_s": high}
    del cells["spot_times"]  # a list of another length has no place in a row
    cells["reasons"] = "; ".join(printable(remark["says"]) for remark in cells["reasons"])
    return cells


def cell_text(text: str) -> str:
    """Make text from outside fit for a cell: nothing in it does anything, and none is taken for a formula."""
    safe = printable(text)
    return f"'{safe}" if safe.startswith(_FORMULA_STARTS) else safe
