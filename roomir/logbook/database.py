"""The database of a logbook: opened so that what is committed stays, whatever happens next.

The journal is SQLite's rollback journal, truncated at every commit: with
``synchronous=FULL`` a commit is on the disk when it returns, the database
is one file that can be copied, purged pages linger in no second one, and it
works on a shared folder, where a write-ahead log would not. Nobody writes
for longer than it takes to copy one recording, so that writers can wait for
each other.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

from roomir.audio.files import display_name
from roomir.errors import LogbookError
from roomir.logbook import schema as tables
from roomir.logbook.durable import sync_folder, unfinished_file
from roomir.logbook.trouble import as_logbook_error, cannot_write, damaged, none_there

BUSY_S = 120.0
"""How long one waits for another who writes; copying the largest recording takes less. [s]"""

_SETTINGS: dict[str, int | str] = {
    "foreign_keys": 1,
    "trusted_schema": 0,
    "synchronous": 2,  # FULL
    "secure_delete": 1,
    "cell_size_check": 1,
    "journal_mode": "truncate",
}
"""What every connection is set to, as SQLite tells it back."""

_T = TypeVar("_T")
Row = sqlite3.Row


@dataclass(frozen=True, slots=True, kw_only=True)
class Schema:
    """A version of the tables and the ways that lead to it.

    Attributes
    ----------
    version : int
        Its number.
    create : str
        Statements that make it out of nothing.
    migrations : mapping of int to callable
        Brings the tables from the version that is the key to the next one.
    """

    version: int = tables.SCHEMA_VERSION
    create: str = tables.SCHEMA
    migrations: Mapping[int, Callable[[sqlite3.Connection], None]] = field(
        default_factory=lambda: tables.MIGRATIONS
    )


class Database:
    """An open database.

    Parameters
    ----------
    path : Path
        The file.
    create : bool
        Whether to make it where there is none.
    has_recordings : callable
        Tells whether recordings lie beside it: an empty database beside them has been lost, not begun.
    schema : Schema
        The tables this version works with.

    Raises
    ------
    LogbookError
        ``no-logbook``, ``not-a-logbook``, ``logbook-newer``, ``logbook-damaged``, ``logbook-busy``,
        ``logbook-locked-away`` or ``logbook-disk``.
    """

    def __init__(
        self, path: Path, *, create: bool, has_recordings: Callable[[], bool], schema: Schema | None = None
    ) -> None:
        self.path = path
        self._schema = schema or Schema()
        if not create and not path.exists():
            raise none_there(path, recordings_there=has_recordings())
        with self.errors():
            self._connection = _connect(path, mode="rwc" if create else "rw")
        try:
            with self.errors():
                self._make_ready(create=create, has_recordings=has_recordings)
        except BaseException:
            self._connection.close()
            raise

    def close(self) -> None:
        """Let go of the file."""
        self._connection.close()

    @contextlib.contextmanager
    def errors(self) -> Iterator[None]:
        """Turn what SQLite says about files into errors of ours; a broken rule passes through."""
        try:
            yield
        except (sqlite3.IntegrityError, sqlite3.ProgrammingError, sqlite3.InterfaceError):
            raise
        except sqlite3.Error as error:
            raise as_logbook_error(error, path=self.path, busy_s=BUSY_S) from error
        except UnicodeDecodeError as error:  # a name in the file that is no text, or a complaint about it
            raise damaged(self.path) from error

    @contextlib.contextmanager
    def writing(self) -> Iterator[None]:
        """Write alone: others wait; all of it is kept in the end, or nothing."""
        with self.errors():
            self._connection.execute("BEGIN IMMEDIATE")
        try:
            yield
            with self.errors():
                self._connection.execute("COMMIT")
        except BaseException:
            if self._connection.in_transaction:
                with contextlib.suppress(sqlite3.Error):
                    self._connection.execute("ROLLBACK")
            raise

    @contextlib.contextmanager
    def reading(self) -> Iterator[None]:
        """See one state of the logbook in several questions."""
        with self.errors():
            self._connection.execute("BEGIN")
        try:
            yield
        finally:
            if self._connection.in_transaction:
                with contextlib.suppress(sqlite3.Error):
                    self._connection.execute("COMMIT")

    def rows(self, sql: str, *values: Any, make: Callable[[Row], _T]) -> list[_T]:  # noqa: ANN401
        """Return what every row of an answer becomes.

        Raises
        ------
        LogbookError
            Also where a row holds what nobody wrote there (``logbook-damaged``).
        """
        with self.errors():
            found = self._connection.execute(sql, values).fetchall()
        try:
            return [make(row) for row in found]
        except (ValueError, TypeError, KeyError, RecursionError) as error:
            raise damaged(self.path) from error

    def one(self, sql: str, *values: Any) -> Row | None:  # noqa: ANN401
        """Return the first row of an answer, or None."""
        with self.errors():
            row: Row | None = self._connection.execute(sql, values).fetchone()
        return row

    def change(self, sql: str, *values: Any) -> int:  # noqa: ANN401
        """Carry out a statement and return the row it made, 0 where it made none."""
        with self.errors():
            return self._connection.execute(sql, values).lastrowid or 0

    def copy_to(self, target: Path) -> None:
        """Write a copy of the whole database to a new file, whole or not at all."""
        copy_database(self.path, target)

    def rewrite(self) -> None:
        """Write the database anew without anything that was deleted."""
        with self.errors():
            self._connection.execute("VACUUM")

    def complaints(self) -> list[str]:
        """Return what SQLite finds wrong with the file."""
        with self.errors():
            found = [row[0] for row in self._connection.execute("PRAGMA integrity_check(20)")]
            broken = self._connection.execute("PRAGMA foreign_key_check").fetchall()
        lost = [f"{row[0]} row {row[1]} leads nowhere" for row in broken]
        return [*(one for one in found if one != "ok"), *lost]

    def structure(self) -> list[str]:
        """Return the statements that make the tables, as they stand in the file."""
        return self.rows(
            "SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite_%' ORDER BY name",
            make=lambda row: str(row[0]),
        )

    # ------------------------------------------------------------------ opening

    def _make_ready(self, *, create: bool, has_recordings: Callable[[], bool]) -> None:
        version = self._version()
        if version is None:
            if not create:
                raise none_there(self.path, recordings_there=has_recordings())
            with self.writing():
                if self._version() is None:  # still, now that nobody else is making it
                    if has_recordings():
                        raise none_there(self.path, recordings_there=True)
                    run_statements(self._connection, self._schema.create)
                    self._connection.execute(f"PRAGMA application_id = {tables.APPLICATION_ID}")
                    self._connection.execute(f"PRAGMA user_version = {self._schema.version}")
            sync_folder(self.path.parent)
        elif version > self._schema.version:
            raise LogbookError(
                f"{display_name(self.path)} was written by a newer roomir (version {version} of the logbook,"
                f" this one knows {self._schema.version})",
                code="logbook-newer",
                remedy="install the newer roomir; nothing was touched",
            )
        elif version < self._schema.version:
            self._migrate()

    def _version(self) -> int | None:
        """Return the version of the tables, None for a file without any."""
        kind = self._connection.execute("PRAGMA application_id").fetchone()[0]
        version = int(self._connection.execute("PRAGMA user_version").fetchone()[0])
        n_tables = self._connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]
        if kind == 0 and version == 0 and n_tables == 0:
            return None
        if kind != tables.APPLICATION_ID or version < 1:
            raise LogbookError(
                f"{display_name(self.path)} is a database of something else, not a logbook",
                code="not-a-logbook",
                remedy="name a logbook, or a new folder for one, with --logbook",
            )
        return version

    def _migrate(self) -> None:
        # Tables are made anew and renamed, which the rules between them would forbid meanwhile.
        self._connection.execute("PRAGMA foreign_keys = OFF")
        try:
            with self.writing():
                version = self._version()
                assert version is not None
                if version < self._schema.version:  # still, now that nobody else is doing it
                    copy_database(self.path, _backup_name(self.path, version=self._schema.version))
                while version < self._schema.version:
                    self._schema.migrations[version](self._connection)
                    version += 1
                    self._connection.execute(f"PRAGMA user_version = {version}")
                if self._connection.execute("PRAGMA foreign_key_check").fetchall():
                    raise damaged(self.path)
        finally:
            self._connection.execute("PRAGMA foreign_keys = ON")


def run_statements(connection: sqlite3.Connection, statements: str) -> None:
    """Carry out statements one by one; executescript would commit first."""
    for statement in statements.split(";\n"):
        if statement.strip():
            connection.execute(statement)


def _connect(path: Path, *, mode: str) -> sqlite3.Connection:
    connection = sqlite3.connect(
        f"{path.absolute().as_uri()}?mode={mode}", uri=True, isolation_level=None, timeout=BUSY_S
    )
    try:
        connection.row_factory = sqlite3.Row
        for name, value in _SETTINGS.items():
            connection.execute(f"PRAGMA {name} = {value}")
            _insist(name, value, is_now=connection.execute(f"PRAGMA {name}").fetchone()[0], path=path)
    except BaseException:
        connection.close()
        raise
    return connection


def _insist(name: str, value: int | str, *, is_now: object, path: Path) -> None:
    if is_now != value:
        raise LogbookError(
            f"{display_name(path)} cannot be used safely here: {name} is {is_now}, not {value}",
            code="logbook-unsafe",
            remedy="close every other program that has it open, and try again",
        )


def copy_database(path: Path, target: Path) -> None:
    """Copy a database, as it stands between two commits, to a new file: whole or not at all.

    Raises
    ------
    LogbookError
        ``logbook-disk`` where it cannot be written.
    """
    try:
        with unfinished_file(target.parent) as (file, unfinished):
            source = _connect(path, mode="ro")
            try:
                copy = sqlite3.connect(unfinished, isolation_level=None)
                try:
                    source.backup(copy)
                finally:
                    copy.close()
            finally:
                source.close()
            os.fsync(file.fileno())
            if target.exists():
                raise FileExistsError(f"{target} exists")
            unfinished.rename(target)
        sync_folder(target.parent)
    except OSError as error:
        raise cannot_write(target, error) from error
    except sqlite3.Error as error:
        raise as_logbook_error(error, path=target, busy_s=BUSY_S) from error
    except UnicodeDecodeError as error:
        raise damaged(path) from error


def _backup_name(path: Path, *, version: int) -> Path:
    n = 1
    while (name := backup_names(path, version=version, n=n)).exists():
        n += 1
    return name


def backup_names(path: Path, *, version: int, n: int = 1) -> Path:
    """Return what the copy made before a migration is called."""
    again = "" if n == 1 else f"-{n}"
    return path.with_name(f"{path.stem}.before-version-{version}{again}{path.suffix}")
