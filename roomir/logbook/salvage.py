"""Rows of a damaged database: looked up one by one in a copy of it, so that damage costs what it hit."""

from __future__ import annotations

import contextlib
import shutil
import sqlite3
import struct
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from roomir.logbook.database import Schema, run_statements

_TROUBLE = (sqlite3.Error, UnicodeDecodeError)
"""What comes of a damaged file; the second of a complaint about it that is no text itself."""

_PAGE = 4096
"""Size of a page, which SQLite chooses by itself. [bytes]"""

_GIVE_UP = 2000
"""So many rows that cannot be had in a row, behind the last that could, end the search."""

Rows = dict[int, dict[str, Any]]
"""Rows by their numbers; text is bytes, since it may be none any more."""


def rows_of(path: Path) -> dict[str, Rows]:
    """Return every row that can be had, by table and number."""
    found: dict[str, Rows] = {
        name: {} for name in ("room", "stage", "take", "recording", "reading", "description")
    }
    if not path.is_file():
        return found
    with tempfile.TemporaryDirectory(prefix="roomir-") as folder:
        copy = Path(folder) / "copy.sqlite"
        shutil.copyfile(path, copy)
        journal = path.with_name(f"{path.name}-journal")
        if journal.is_file():  # a write that was stopped is taken back, as at any opening
            shutil.copyfile(journal, copy.with_name(f"{copy.name}-journal"))
        _look_up(copy, found)
        if not any(found.values()):
            _give_beginning(copy)
            _look_up(copy, found)
    return found


def _look_up(path: Path, found: dict[str, Rows]) -> None:
    with contextlib.suppress(*_TROUBLE):
        connection = sqlite3.connect(path, isolation_level=None)
        try:
            connection.text_factory = bytes
            connection.execute("PRAGMA trusted_schema = 0")
            connection.execute("PRAGMA cell_size_check = 0")
            for name, rows in found.items():
                with contextlib.suppress(*_TROUBLE):
                    rows.update(_rows(connection, name))
        finally:
            connection.close()


def _give_beginning(path: Path) -> None:
    """Put the first page of a new logbook before what is left of an old one.

    Without it nobody knows where the tables begin; in every logbook that
    has not been written anew since, they begin on the same pages.
    """
    fresh = path.with_name("fresh.sqlite")
    connection = sqlite3.connect(fresh, isolation_level=None)
    try:
        run_statements(connection, Schema().create)
    finally:
        connection.close()
    first = bytearray(fresh.read_bytes()[:_PAGE])
    n_pages = -(-path.stat().st_size // _PAGE)
    # Header, offset 28: the size in pages (The SQLite Database File Format, 1.3).
    first[28:32] = struct.pack(">I", n_pages)
    path.with_name(f"{path.name}-journal").unlink(missing_ok=True)
    with path.open("r+b") as file:
        file.write(first)
        file.truncate(n_pages * _PAGE)


def _rows(connection: sqlite3.Connection, table: str) -> Iterator[tuple[int, dict[str, Any]]]:
    """Go from either end as far as it goes, then ask for every row in between."""
    columns = [as_text(row[1]) for row in connection.execute(f"PRAGMA table_info({table})")]
    seen: set[int] = set()
    last = 0
    for order in ("ASC", "DESC"):
        with contextlib.suppress(*_TROUBLE):
            for row in connection.execute(f"SELECT rowid, * FROM {table} ORDER BY rowid {order}"):  # noqa: S608
                last = max(last, row[0])
                if row[0] in seen:
                    break
                seen.add(row[0])
                yield row[0], dict(zip(columns, row[1:], strict=True))
    missed, number = 0, 0
    while number < last or missed < _GIVE_UP:
        number += 1
        missed += 1
        if number in seen:
            missed = 0
            continue
        with contextlib.suppress(*_TROUBLE):
            for row in connection.execute(f"SELECT rowid, * FROM {table} WHERE rowid = ?", (number,)):  # noqa: S608
                missed = 0
                yield row[0], dict(zip(columns, row[1:], strict=True))


def as_text(value: object) -> str:
    """Return text as far as it is text."""
    return value.decode("utf-8", errors="replace") if isinstance(value, bytes) else ""
