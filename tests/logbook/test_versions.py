"""Logbooks of every version are brought up to date, after a copy of them has been made."""

from __future__ import annotations

import json
import shutil
import sqlite3
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from roomir.errors import LogbookError
from roomir.logbook import schema
from roomir.logbook.database import Schema
from roomir.logbook.values import RoomNotes
from roomir.reading.codec import decode, encode
from tests.logbook.books import open_book, sound
from tests.logbook.make_version import fill

VERSIONS = sorted((Path(__file__).parent / "versions").iterdir())


def test_there_is_a_logbook_of_every_version():
    assert [path.name for path in VERSIONS] == [f"version-{n}" for n in range(1, schema.SCHEMA_VERSION + 1)]


@pytest.mark.parametrize("path", VERSIONS, ids=lambda path: path.name)
def test_a_logbook_of_this_version_opens_with_everything_in_it(path: Path, tmp_path: Path):
    shutil.copytree(path, tmp_path / "old")
    fill(tmp_path / "new", tmp_path / "in")
    with (
        open_book(tmp_path / "old", create=False) as old,
        open_book(tmp_path / "new", create=False) as new,
    ):
        assert old.check().problems == ()
        described = path.name != "version-1"
        assert old.rooms() == tuple(one if described else replace(one, description="") for one in new.rooms())
        for one, other in zip(old.takes(), new.takes(), strict=True):
            assert (one.id, one.room, one.stage, one.sha256, one.name) == (
                *(other.id, other.room, other.stage, other.sha256, other.name),
            )
            assert (one.about, one.failure, one.recorded_at) == (
                other.about,
                other.failure,
                other.recorded_at,
            )
        for room in old.rooms():
            assert old.stages(room) == new.stages(room)
        assert old.undo().what == new.undo().what


@pytest.mark.parametrize("path", VERSIONS, ids=lambda path: path.name)
def test_every_figure_in_a_reading_of_this_version_is_understood(path: Path):
    connection = sqlite3.connect(f"{(path / 'logbook.sqlite').as_uri()}?mode=ro", uri=True)
    documents = [json.loads(row[0]) for row in connection.execute("SELECT document FROM reading")]
    connection.close()

    assert len(documents) == 3
    for document in documents:
        _is_in(document, encode(decode(document)))


def _is_in(less: Any, more: Any) -> None:
    """Whatever the older document says the newer one says too; keys may have been added."""
    if isinstance(less, dict):
        for key, value in less.items():
            _is_in(value, more[key])
    elif isinstance(less, list):
        for one, other in zip(less, more, strict=True):
            _is_in(one, other)
    else:
        assert less == more


def test_the_first_version_is_still_what_it_was():
    path = VERSIONS[0] / "logbook.sqlite"
    connection = sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)
    version, application = (
        connection.execute(f"PRAGMA {name}").fetchone()[0] for name in ("user_version", "application_id")
    )
    connection.close()

    assert (version, application) == (1, schema.APPLICATION_ID)


# ------------------------------------------------------------------ a next version, for tests only


def _add_floor(connection: sqlite3.Connection) -> None:
    connection.execute("ALTER TABLE room ADD COLUMN floor TEXT NOT NULL DEFAULT ''")


def _lose_a_table(connection: sqlite3.Connection) -> None:
    connection.execute("ALTER TABLE room ADD COLUMN floor TEXT NOT NULL DEFAULT ''")
    connection.execute("SELECT * FROM a_table_that_never_was")


def _break_a_rule(connection: sqlite3.Connection) -> None:
    connection.execute("UPDATE take SET stage_id = 999")


NEXT = schema.SCHEMA_VERSION + 1


def _next(migration: object) -> Schema:
    return Schema(version=NEXT, create=schema.SCHEMA, migrations={schema.SCHEMA_VERSION: migration})  # type: ignore[dict-item]


@pytest.fixture
def old(tmp_path: Path) -> Path:
    """A logbook of this version."""
    with open_book(tmp_path / "book") as book:
        book.log([sound(tmp_path, "a.wav")], room="R", stage="S")
    return tmp_path / "book"


def _version(path: Path) -> int:
    connection = sqlite3.connect(path)
    version = int(connection.execute("PRAGMA user_version").fetchone()[0])
    connection.close()
    return version


def test_an_older_logbook_is_copied_and_then_changed(old: Path):
    with open_book(old, create=False) as book:
        takes = book.takes()
    with open_book(old, create=False, schema=_next(_add_floor)) as book:
        assert book.takes() == takes
        book.log([sound(old.parent, "b.wav")], room="R", stage="S")
    copy = old / f"logbook.before-version-{NEXT}.sqlite"

    assert _version(old / "logbook.sqlite") == NEXT
    assert _version(copy) == schema.SCHEMA_VERSION
    kept = old.parent / "kept"
    kept.mkdir()
    shutil.copy(copy, kept / "logbook.sqlite")
    shutil.copytree(old / "logbook.recordings", kept / "logbook.recordings")
    with open_book(kept, create=False) as book:
        assert book.takes() == takes
        assert book.check().problems == ()
    with open_book(old, create=False, schema=_next(_add_floor)):
        pass
    assert len(list(old.glob("logbook.before-version-*"))) == 1, "only once"


@pytest.mark.parametrize("migration", [_lose_a_table, _break_a_rule])
def test_a_change_that_fails_leaves_the_logbook_as_it_was(migration: object, old: Path):
    with open_book(old, create=False) as book:
        takes = book.takes()
    with pytest.raises(LogbookError):
        open_book(old, create=False, schema=_next(migration))

    assert _version(old / "logbook.sqlite") == schema.SCHEMA_VERSION
    with open_book(old, create=False) as book:
        assert book.takes() == takes
        assert book.check().problems == ()
    assert (old / f"logbook.before-version-{NEXT}.sqlite").exists()


def test_without_room_for_the_copy_nothing_is_changed(old: Path, monkeypatch: pytest.MonkeyPatch):
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("roomir.logbook.database.os.fsync", full)
    with pytest.raises(LogbookError) as error:
        open_book(old, create=False, schema=_next(_add_floor))

    assert error.value.code == "logbook-disk"
    assert _version(old / "logbook.sqlite") == schema.SCHEMA_VERSION
    assert list(old.glob("*before*")) == list(old.glob(".roomir-unfinished*")) == []


def test_a_room_of_the_first_version_can_be_described(tmp_path: Path):
    shutil.copytree(VERSIONS[0], tmp_path / "old")
    with open_book(tmp_path / "old", create=False) as book:
        book.annotate_room(book.room("Dairy"), RoomNotes(description="[room]"))

        assert book.room("Dairy").description == "[room]"
        assert book.check().problems == ()
