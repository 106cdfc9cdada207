"""The tables of an export, for a spreadsheet: one row per take, and one per band of every take."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from roomir.reading.codec import decode
from roomir.report.document import Document
from roomir.report.table import BAND_COLUMNS, band_cells, cell_text

_TAKE_COLUMNS = (
    "room", "stage", "name", "sha256", "spot", "source_position", "microphone_position", "made_with",
    "temperature_c", "humidity_percent", "recorded_at", "recorded_at_from", "logged_at", "note",
)  # fmt: skip
_MID_COLUMNS = ("mid_decay_time_s", "mid_ci95_low_s", "mid_ci95_high_s", "failure")


def tables(takes: Sequence[Document]) -> Mapping[str, str]:
    """Make the tables of an export out of the documents of its takes."""
    return {"takes.csv": _takes(takes), "bands.csv": _bands(takes)}


def _takes(takes: Sequence[Document]) -> str:
    rows = []
    for take in takes:
        mid = take["reading"]["mid"] if take["reading"] is not None else {}
        low_s, high_s = mid.get("ci95_s") or (None, None)
        failure = "" if take["failure"] is None else take["failure"]["says"]
        known = [take[column] for column in _TAKE_COLUMNS]
        rows.append([*known, mid.get("decay_time_s"), low_s, high_s, failure])
    return _csv((*_TAKE_COLUMNS, *_MID_COLUMNS), rows)


def _bands(takes: Sequence[Document]) -> str:
    rows = []
    for take in takes:
        if take["reading"] is None:
            continue
        for room_band in decode(take["reading"]).bands:
            cells = band_cells(room_band)
            rows.append(
                [
                    *(take[column] for column in ("room", "stage", "name", "sha256")),
                    *(cells[column] for column in BAND_COLUMNS),
                ]
            )
    return _csv(("room", "stage", "name", "sha256", *BAND_COLUMNS), rows)


def _csv(heads: Iterable[str], rows: Iterable[Sequence[Any]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(heads)
    for row in rows:
        writer.writerow([cell_text(cell) if isinstance(cell, str) else cell for cell in row])
    return out.getvalue()
