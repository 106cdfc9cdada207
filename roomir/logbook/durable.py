"""Files that are wholly there after a power cut, or not at all."""

from __future__ import annotations

import contextlib
import os
import secrets
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

UNFINISHED = ".roomir-unfinished-"
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


def make_folder(folder: Path) -> None:
    """Make a folder, and those it lies in, for nobody else to look into: people talk on takes."""
    missing = [one for one in (folder, *folder.parents) if not one.is_dir()]
    for one in reversed(missing):
        one.mkdir(mode=0o700, exist_ok=True)
        sync_folder(one.parent)


@contextlib.contextmanager
def unfinished_file(folder: Path) -> Iterator[tuple[BinaryIO, Path]]:
    """Make a file that is gone again unless it is renamed."""
    path = folder / f"{UNFINISHED}{secrets.token_hex(8)}"
    try:
        with path.open("xb") as file:
            yield file, path
    finally:
        path.unlink(missing_ok=True)
