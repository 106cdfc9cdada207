"""What a batch writes: rows for a spreadsheet, a document, and never half of one. All values invented."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from roomir.batching.find import Item
from roomir.batching.output import COLUMNS, output_format, write_output
from roomir.batching.work import Record, failed_record
from roomir.errors import ParameterError
from roomir.report.document import room_band_document
from tests.readings import indicative_band, room_band, unusable_band

HEADER = {"roomir_version": "0.1.0", "band_set": "octave"}


def failed(name: str = "=evil().wav") -> Record:
    item = Item(place=0, name=name, n_bytes=1, modified_ns=1)
    return failed_record(item, code="not-sound", says="holds no sound", remedy="record it again")


def good() -> Record:
    bands = [unusable_band(), indicative_band(), room_band(500.0)]
    return failed("dairy.wav") | {
        "sha256": "00",
        "sample_rate_hz": 48000,
        "duration_s": 16.5,
        "channels": 1,
        "claps_used": 5,
        "mid": {"decay_time_s": 0.88, "ci95_s": [0.84, 0.92], "t20_s": 0.87},
        "bands": [room_band_document(band) for band in bands],
        "failure": None,
    }


def rows(path: Path) -> list[dict[str, Any]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_the_table_has_a_row_for_each_band_and_one_for_a_failure(tmp_path: Path):
    write_output(tmp_path / "rooms.csv", [good(), failed()], header=HEADER)
    table = rows(tmp_path / "rooms.csv")

    assert tuple(table[0]) == COLUMNS
    assert [(row["file"], row["centre_hz"]) for row in table] == [
        ("dairy.wav", "63"),
        ("dairy.wav", "125"),
        ("dairy.wav", "500"),
        ("'=evil().wav", ""),
    ]
    assert [row["no_reading"] for row in table] == ["", "", "", "not-sound"]
    assert table[3]["because"] == "holds no sound; record it again"
    assert table[0]["decay_time_s"] == ""
    assert float(table[2]["decay_time_s"]) == 0.8812
    assert (table[2]["ci95_low_s"], table[2]["ci95_high_s"]) == ("0.8447", "0.9172")
    assert {row["mid_decay_time_s"] for row in table[:3]} == {"0.88"}
    assert (table[2]["claps_used"], table[2]["claps_in_band"]) == ("5", "25")


def test_the_document_has_one_entry_for_each_recording(tmp_path: Path):
    write_output(tmp_path / "rooms.json", [good(), failed()], header=HEADER)
    document = json.loads((tmp_path / "rooms.json").read_text("ascii"))

    assert document == {"schema": "roomir/batch/1", **HEADER, "recordings": [good(), failed()]}


def test_a_parquet_file_holds_the_same_table(tmp_path: Path):
    parquet = pytest.importorskip("pyarrow.parquet", reason="pyarrow is not installed (extra parquet)")
    write_output(tmp_path / "rooms.parquet", [good(), failed()], header=HEADER)
    table = parquet.read_table(tmp_path / "rooms.parquet").to_pylist()

    assert tuple(table[0]) == COLUMNS
    assert [row["centre_hz"] for row in table] == [63.0, 125.0, 500.0, None]
    assert table[2]["decay_time_s"] == 0.8812
    assert table[0]["decay_time_s"] is None
    assert table[3]["file"] == "=evil().wav"


@pytest.mark.parametrize("suffix", ["csv", "json", "parquet"])
def test_what_goes_wrong_midway_leaves_the_old_output_as_it_was(tmp_path: Path, suffix: str):
    if suffix == "parquet":
        pytest.importorskip("pyarrow", reason="pyarrow is not installed (extra parquet)")
    path = tmp_path / f"rooms.{suffix}"
    path.write_text("old")

    def records() -> Iterator[Record]:
        yield good()
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_output(path, records(), header=HEADER)

    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("name", ["rooms", "rooms.xlsx", "rooms.csv.gz", ".csv"])
def test_a_name_that_tells_no_format_is_refused(name: str):
    with pytest.raises(ParameterError) as refused:
        output_format(Path(name))

    assert refused.value.code == "no-such-batch-format"


def test_the_suffix_may_shout():
    assert output_format(Path("ROOMS.CSV")) == "csv"
