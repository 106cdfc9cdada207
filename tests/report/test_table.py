"""The table for a spreadsheet: one row per band, and no cell that a spreadsheet would run."""

from __future__ import annotations

import csv
import io
from typing import Any

import pytest

from roomir.remarks import Remark
from roomir.report.table import to_csv
from tests.readings import indicative_band, nothing_read, reading, room_band, take


def _rows(what: Any) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(to_csv(what))))


def test_there_is_one_row_per_band_with_every_quantity():
    rows = _rows(reading())

    assert [row["centre_hz"] for row in rows] == [
        "63",
        "125",
        "250",
        "500",
        "1000",
        "2000",
        "4000",
        "8000",
    ]
    middle = rows[3]
    assert (middle["decay_time_s"], middle["ci95_low_s"], middle["ci95_high_s"]) == (
        "0.8812",
        "0.8447",
        "0.9172",
    )
    assert (middle["c50_db"], middle["verdict"], middle["interval_from"]) == ("3.04", "reliable", "scatter")


def test_a_withheld_figure_is_an_empty_cell():
    row = _rows(reading())[0]

    assert row["t20_s"] == row["ci95_low_s"] == row["slopes"] == ""


def test_without_bands_only_the_header_is_left():
    assert to_csv(nothing_read()).count("\n") == 1


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_a_file_name_cannot_become_a_formula(start: str):
    row = _rows(reading(takes=(take(f"{start}HYPERLINK(evil).wav"),), bands=(room_band(500.0),)))[0]

    assert row["recordings"][0] not in "=+-@\t\r"


def test_a_reason_cannot_become_a_formula_either():
    remark = Remark(code="odd", says="=1+1")
    row = _rows(reading(bands=(indicative_band(reasons=(remark,)),)))[0]

    assert row["reasons"] == "'=1+1"


def test_line_breaks_and_quotes_in_a_name_stay_in_their_cell():
    text = to_csv(reading(takes=(take('a\n"b",c.wav'),), bands=(room_band(500.0),)))

    assert text.count("\n") == 2
    assert _rows(reading(takes=(take('a\n"b",c.wav'),), bands=(room_band(500.0),)))[0][
        "recordings"
    ] == "\\n".join(["a", '"b",c.wav'])
