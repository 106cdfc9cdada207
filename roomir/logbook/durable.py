"""Files that are wholly there after a power cut, or not at all."""

from __future__ import annotations

import contextlib
import os
import secrets
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

UNFINISHED = ".unfinished-"
"""How the name of a file begins while it is written."""


def sync_folder(folder: Path) -> None:
    """Have the names in a folder written to the disk, where the system can."""
    if os.name == "nt":  # a folder cannot be opened there; the file system keeps its own journal
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


@contextlib.contextmanager
def unfinished_file(folder: Path) -> Iterator[tuple[BinaryIO, Path]]:
    """Make a file that is gone again unless it is renamed."""
    path = folder / f"{UNFINISHED}{secrets.token_hex(8)}"
    try:
        with path.open("xb") as file:
            yield file, path
    finally:
        path.unlink(missing_ok=True)


def write_whole(path: Path, content: bytes) -> None:
    """Write a file so that it is there as a whole or not at all."""
    with unfinished_file(path.parent) as (file, unfinished):
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
        unfinished.replace(path)
    sync_folder(path.parent)
