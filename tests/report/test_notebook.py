"""A reading in a notebook is the answer with its table, and a data frame for who wants to go on."""

from __future__ import annotations

import math
import re
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path

import pytest

from roomir.errors import RoomirError
from roomir.reading.reading import Reading
from roomir.remarks import Remark
from roomir.report.table import BAND_COLUMNS
from tests.readings import failure, indicative_band, nothing_read, reading, room_band, unusable_band


class _Cells(HTMLParser):
    """The rows of a table, and whether every tag is closed."""

    def __init__(self) -> None:
        super().__init__()
        self.rows: list[list[str]] = []
        self.open: list[str] = []

    def handle_starttag(self, tag, _attrs):
        self.open.append(tag)
        if tag == "tr":
            self.rows.append([])
        if tag in {"th", "td"}:
            self.rows[-1].append("")

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if self.open and self.open[-1] in {"th", "td"}:
            self.rows[-1][-1] += data


def _table(of: Reading) -> list[list[str]]:
    cells = _Cells()
    cells.feed(of._repr_html_())
    cells.close()
    assert not cells.open
    return cells.rows


# ------------------------------------------------------------------ to look at


def test_a_notebook_shows_the_answer_and_the_table_of_the_screen():
    html = reading()._repr_html_()
    head, *rows = _table(reading())

    assert "Rings for 0.88 s (0.84 to 0.92) at mid frequencies" in html
    assert head == ["Band", "Decay time s", "T20 s", "Trust", "Why"]
    assert [row[0] for row in rows] == [
        *("63 Hz", "125 Hz", "250 Hz", "500 Hz", "1 kHz", "2 kHz", "4 kHz", "8 kHz")
    ]
    assert rows[0][1:4] == ["-", "-", "x unusable"]
    assert rows[3] == ["500 Hz", "0.88 (0.84 to 0.92)", "0.87", "+ reliable", ""]
    assert "scatter between the spots" in html


def test_names_and_words_of_others_are_only_text():
    hostile = "<script>alert('&')</script>\x1b.wav"
    remark = Remark(code="x", says=f"at 63 Hz <b>{hostile}</b>", remedy="")
    html = reading(
        bands=(unusable_band(reasons=(remark,)), room_band(500.0)), failures=(failure(hostile),)
    )._repr_html_()

    assert not re.search(r"<(script|b)\b", html)
    assert "&lt;script&gt;alert(&#x27;&amp;&#x27;)&lt;/script&gt;\\x1b.wav" in html


def test_a_reading_of_nothing_says_so_without_a_table():
    html = nothing_read()._repr_html_()

    assert "No reading: no file could be opened" in html
    assert "kitchen.wav holds no sound" in html
    assert "<table>" not in html


def test_a_table_sets_no_colours_that_a_dark_notebook_would_hide():
    assert "style" not in reading()._repr_html_()


def test_a_table_needs_no_pandas(checkout: Path):
    program = (
        "import sys\n"
        "from tests.readings import reading\n"
        "assert reading()._repr_html_()\n"
        "assert not {'pandas', 'matplotlib', 'IPython'} & set(sys.modules)"
    )

    subprocess.run([sys.executable, "-c", program], check=True, cwd=checkout)


# ------------------------------------------------------------------ to work with


def test_a_frame_has_a_row_for_every_band_and_every_column_of_the_csv():
    frame = reading().to_frame()

    assert frame.index.name == "centre_hz"
    assert list(frame.index) == [63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0]
    assert ["centre_hz", *frame.columns] == list(BAND_COLUMNS)
    assert frame.loc[500, "decay_time_s"] == 0.8812
    assert (frame.loc[500, "ci95_low_s"], frame.loc[500, "ci95_high_s"]) == (0.8447, 0.9172)
    assert frame.loc[125, "verdict"] == "indicative"
    assert "visible for 22 dB" in frame.loc[125, "reasons"]


def test_what_is_withheld_is_missing_and_numbers_stay_numbers():
    frame = reading().to_frame()

    assert math.isnan(frame.loc[63, "decay_time_s"])
    assert frame.slopes.isna().sum() == 1
    assert frame.loc[500, "slopes"] == 1
    assert frame.decay_time_s.dtype == frame.t30_s.dtype == "float64"
    assert frame.claps_used.dtype == frame.spots.dtype == "int64"
    # Even where a column has nothing but missing figures.
    assert reading(bands=(indicative_band(),)).to_frame().t30_s.dtype == "float64"


def test_a_reading_of_nothing_is_a_frame_without_rows():
    frame = nothing_read().to_frame()

    assert frame.empty
    assert "decay_time_s" in frame.columns


def test_without_pandas_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setitem(sys.modules, "pandas", None)
    with pytest.raises(RoomirError, match="needs pandas") as caught:
        reading().to_frame()

    assert caught.value.code == "no-pandas"
    assert "notebook" in caught.value.remedy
