"""Files that are written whole or not at all."""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from roomir.audio.files import display_name
from roomir.errors import RoomirError

FilePath = str | os.PathLike[str]


def write_whole(target: Path, content: bytes) -> None:
    """Write a file whole or not at all; RoomirError ``cannot-write``."""
    with whole_file(target) as file:
        file.write(content)


@contextmanager
def whole_file(target: Path) -> Iterator[BinaryIO]:
    """Open a file to write; it takes the place of ``target`` once all of it is on the disk.

    Parameters
    ----------
    target : Path
        Replaced where it exists; untouched if anything goes wrong.

    Raises
    ------
    RoomirError
        ``cannot-write``.
    """
    # Beside the target, so that moving it into place cannot cross a file system.
    try:
        unfinished = target.with_name(f".roomir-{secrets.token_hex(8)}")
        file = unfinished.open("xb")
    except (OSError, ValueError) as error:  # a ValueError is a name that no file can have
        raise _cannot_write(target, error) from error
    try:
        with file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        unfinished.replace(target)
    except OSError as error:
        raise _cannot_write(target, error) from error
    finally:
        unfinished.unlink(missing_ok=True)


def _cannot_write(target: Path, error: OSError | ValueError) -> RoomirError:
    return RoomirError(
        f"{display_name(target)} cannot be written: {getattr(error, 'strerror', None) or error}",
        code="cannot-write",
        remedy="name a file in a folder you may write to",
    )
