"""The output of a batch: one row for each recording and band, or one document."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any, BinaryIO

from roomir.audio.files import display_name
from roomir.batching.work import Record
from roomir.errors import ParameterError, RoomirError
from roomir.report.saving import whole_file
from roomir.report.table import BAND_COLUMNS, cell_text, flat_band

SCHEMA = "roomir/batch/1"
"""Name and version of the document's contract."""

FORMATS = ("csv", "json", "parquet")
"""What a batch can be written as, by the end of its name."""

_TEXTS = frozenset({
    *("file", "sha256", "recorded_at", "concerns", "no_reading", "because"),
    *("interval_from", "verdict", "reasons", "roomir_version"),
})  # fmt: skip
_COUNTS = frozenset({
    *("sample_rate_hz", "channels", "claps_used", "events_set_aside", "slopes", "claps_in_band", "spots"),
})  # fmt: skip

_FILE_COLUMNS = (
    "file", "sha256", "recorded_at", "sample_rate_hz", "duration_s", "channels", "claps_used",
    "events_set_aside", "peak_dbfs", "concerns", "no_reading", "because",
    "mid_decay_time_s", "mid_ci95_low_s", "mid_ci95_high_s", "bass_ratio",
)  # fmt: skip

# The recording has claps used as well, and not every one of them is read in every band.
_BAND_COLUMNS = tuple("claps_in_band" if column == "claps_used" else column for column in BAND_COLUMNS)

COLUMNS = (*_FILE_COLUMNS, *_BAND_COLUMNS, "roomir_version")
"""Columns of the table, in order."""

_ROWS_AT_ONCE = 4096


def output_format(path: Path) -> str:
    """Tell the format of a batch's output from its name.

    Raises
    ------
    ParameterError
        ``no-such-batch-format``: the name ends in none of them.
    RoomirError
        ``no-parquet``: what writes that format is not installed.
    """
    suffix = path.suffix.lower().removeprefix(".")
    if suffix not in FORMATS:
        raise ParameterError(
            f"{display_name(path)} is no name for the output of a batch",
            code="no-such-batch-format",
            remedy="let the name end in .csv, .json or .parquet",
        )
    if suffix == "parquet":
        try:
            import pyarrow.parquet  # noqa: F401
        except ImportError as error:
            raise RoomirError(
                "a parquet file needs pyarrow, which is not installed",
                code="no-parquet",
                remedy="install roomir with the extra parquet (pip install '.[parquet]'), or write .csv",
            ) from error
    return suffix


def write_output(path: Path, records: Iterable[Record], *, header: Mapping[str, Any]) -> None:
    """Write the records of a batch, whole or not at all, one at a time.

    Parameters
    ----------
    path : Path
        Its suffix tells the format; replaced where it exists.
    records : iterable of Record
        In order.
    header : mapping
        What stands at the head of the document: at least ``roomir_version``.

    Raises
    ------
    ParameterError, RoomirError
        As for :func:`output_format`; ``cannot-write``.
    """
    write = _WRITERS[output_format(path)]
    with whole_file(path) as file:
        write(file, records, header)


def rows_of(record: Record, *, roomir_version: str) -> Iterator[dict[str, Any]]:
    """Lay a record out in rows: one for each band, or one without band where nothing was read."""
    failure = record["failure"]
    mid = record["mid"]
    low, high = mid["ci95_s"] or (None, None)
    shared = {key: record[key] for key in _FILE_COLUMNS if key in record} | {
        "concerns": "; ".join(remark["says"] for remark in record["concerns"]),
        "no_reading": failure and failure["code"],
        "because": failure and "; ".join(part for part in (failure["says"], failure["remedy"]) if part),
        "mid_decay_time_s": mid["decay_time_s"],
        "mid_ci95_low_s": low,
        "mid_ci95_high_s": high,
    }
    for band in record["bands"] or [None]:
        cells = {} if band is None else flat_band(band)
        row = shared | dict(zip(_BAND_COLUMNS, (cells.get(column) for column in BAND_COLUMNS), strict=True))
        yield {column: row.get(column) for column in COLUMNS} | {"roomir_version": roomir_version}


def _write_csv(file: BinaryIO, records: Iterable[Record], header: Mapping[str, Any]) -> None:
    text = io.TextIOWrapper(file, encoding="utf-8", newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS)
    for record in records:
        for row in rows_of(record, roomir_version=header["roomir_version"]):
            writer.writerow(
                cell_text(value) if column in _TEXTS and value else value for column, value in row.items()
            )
    text.flush()
    text.detach()


def _write_json(file: BinaryIO, records: Iterable[Record], header: Mapping[str, Any]) -> None:
    # Written piece by piece, and one recording a line: thousands of them need not fit into memory.
    head = json.dumps({"schema": SCHEMA, **header}, allow_nan=False)
    file.write(head.removesuffix("}").encode("ascii") + b', "recordings": [')
    for i, record in enumerate(records):
        file.write((",\n" if i else "\n").encode("ascii"))
        file.write(json.dumps(record, allow_nan=False, ensure_ascii=True).encode("ascii"))
    file.write(b"\n]}\n")


def _write_parquet(file: BinaryIO, records: Iterable[Record], header: Mapping[str, Any]) -> None:
    import pyarrow as pa
    from pyarrow import parquet

    kinds = [
        pa.string() if column in _TEXTS else pa.int64() if column in _COUNTS else pa.float64()
        for column in COLUMNS
    ]
    schema = pa.schema(list(zip(COLUMNS, kinds, strict=True)))
    with parquet.ParquetWriter(file, schema) as writer:
        rows: list[dict[str, Any]] = []
        for record in records:
            rows += rows_of(record, roomir_version=header["roomir_version"])
            if len(rows) >= _ROWS_AT_ONCE:
                writer.write_table(pa.Table.from_pylist(rows, schema=schema))
                rows = []
        writer.write_table(pa.Table.from_pylist(rows, schema=schema))


_WRITERS: dict[str, Callable[[BinaryIO, Iterable[Record], Mapping[str, Any]], None]] = {
    "csv": _write_csv,
    "json": _write_json,
    "parquet": _write_parquet,
}
