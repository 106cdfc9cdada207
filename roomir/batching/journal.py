"""What an unfinished batch has read so far, safe from the moment it is written."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any, BinaryIO, Self

from roomir.audio.files import display_name
from roomir.batching.find import Item
from roomir.batching.work import Record
from roomir.errors import RoomirError

FORMAT = "roomir/batch-journal/1"

_BEGINS = json.dumps({"format": FORMAT}).removesuffix("}").encode("ascii")
_BUSY_TRIES = 5


def journal_path(output: Path) -> Path:
    """Where the journal of a batch lies: beside its output, for everybody to see."""
    return output.with_name(f"{output.name}.unfinished")


class Journal:
    """The records of one batch, a line each, on the disk before the next one is taken.

    Only one process at a time holds a journal; the lock ends with the process,
    however it ends. A line that was being written when it ended is dropped.

    Parameters
    ----------
    output : Path
        What the batch will write.
    settings : mapping
        Plain values that two runs must share to be one.

    Raises
    ------
    RoomirError
        ``batch-running``, ``other-batch``, ``not-a-journal`` or ``cannot-write``.
    """

    def __init__(self, output: Path, *, settings: Mapping[str, Any]) -> None:
        self._path = journal_path(output)
        self._where: dict[str, int] = {}
        header = {"format": FORMAT, "settings": dict(settings)}
        try:
            self._file = _open_locked(self._path)
        except OSError as error:
            raise self._cannot_write(error) from error
        try:
            self._load(header)
        except OSError as error:
            self._file.close()
            raise self._cannot_write(error) from error
        except BaseException:
            self._file.close()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc: object) -> None:
        if not self._where:  # nothing to go on from
            self.remove()
        self._file.close()

    def __contains__(self, item: Item) -> bool:
        return _key(item) in self._where

    def add(self, item: Item, record: Record) -> None:
        """Keep a record; it is on the disk when this returns."""
        try:
            where = self._file.seek(0, os.SEEK_END)
            self._write({"key": _parts(item), "record": record})
        except OSError as error:
            raise self._cannot_write(error) from error
        self._where[_key(item)] = where

    def record(self, item: Item) -> Record:
        """Look a record up."""
        self._file.seek(self._where[_key(item)])
        found: Record = json.loads(self._file.readline())["record"]
        return found

    def remove(self) -> None:
        """Take the journal away, once everything in it has been written elsewhere."""
        self._path.unlink(missing_ok=True)

    def _load(self, header: Mapping[str, Any]) -> None:
        self._file.seek(0)
        first = self._file.readline()
        if not first.endswith(b"\n"):  # new, or ended while the very first line was being written
            if not (first.startswith(_BEGINS) or _BEGINS.startswith(first)):
                raise self._no_journal()
            self._begin(header)
            return
        found = _parsed(first)
        if found is None or found.get("format") != FORMAT:
            raise self._no_journal()
        self._read_entries()
        if found != header and not self._where:
            self._begin(header)
        elif found != header:
            raise RoomirError(
                f"{display_name(self._path)} belongs to a run over another folder, with other options or by"
                " another version of roomir",
                code="other-batch",
                remedy="finish that run as it was begun, name another output, or delete the file",
            )

    def _read_entries(self) -> None:
        while True:
            where = self._file.tell()
            line = self._file.readline()
            entry = _parsed(line) if line.endswith(b"\n") else None
            if entry is None:
                # Whatever follows was being written when the run ended.
                self._file.seek(where)
                self._file.truncate()
                return
            self._where[json.dumps(entry["key"])] = where

    def _begin(self, header: Mapping[str, Any]) -> None:
        self._file.seek(0)
        self._file.truncate()
        self._write(header)
        _sync_folder(self._path.parent)

    def _write(self, entry: Mapping[str, Any]) -> None:
        # ASCII only: a name of any bytes survives, and one line stays one line.
        self._file.write(json.dumps(entry, allow_nan=False, ensure_ascii=True).encode("ascii") + b"\n")
        self._file.flush()
        os.fsync(self._file.fileno())

    def _no_journal(self) -> RoomirError:
        return RoomirError(
            f"{display_name(self._path)} is in the way: it is no list of what an unfinished run has read",
            code="not-a-journal",
            remedy="move it away, or name another output",
        )

    def _cannot_write(self, error: OSError) -> RoomirError:
        return RoomirError(
            f"{display_name(self._path)} cannot be written: {error.strerror or error}",
            code="cannot-write",
            remedy="name an output in a folder you may write to, with room on its disk",
        )


def _parts(item: Item) -> list[Any]:
    return [item.name, item.n_bytes, item.modified_ns]


def _key(item: Item) -> str:
    return json.dumps(_parts(item))


def _parsed(line: bytes) -> dict[str, Any] | None:
    try:
        entry = json.loads(line)
    except ValueError:
        return None
    return entry if isinstance(entry, dict) else None


def _sync_folder(folder: Path) -> None:
    """Have the folder know its new file, where folders can be told to."""
    if sys.platform == "win32":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _open_locked(path: Path) -> BinaryIO:
    for _ in range(_BUSY_TRIES):
        file = path.open("a+b")
        try:
            lock(file)
            # Another run may have finished, and taken the file away, between opening and locking it.
            if path.exists() and os.path.samestat(path.stat(), os.fstat(file.fileno())):
                return file
        except BlockingIOError as error:
            file.close()
            raise RoomirError(
                f"another run is at work on {display_name(path)}",
                code="batch-running",
                remedy="wait until it is done, or name another output",
            ) from error
        except BaseException:
            file.close()
            raise
        file.close()
    raise BlockingIOError(None, "other runs keep finishing")


def lock(file: BinaryIO) -> None:
    """Lock a file as long as this process lives or until it is closed; `BlockingIOError` if it is taken."""
    if sys.platform == "win32":
        import msvcrt

        try:
            file.seek(0)
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1 << 30)
        except OSError as error:
            raise BlockingIOError from error
    else:
        import fcntl

        fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
