"""Writing files whole or not at all."""

from __future__ import annotations

import os
import secrets
from pathlib import Path

from roomir.errors import RoomirError

FilePath = str | os.PathLike[str]


def write_whole(target: Path, content: bytes) -> None:
    """Write a file whole or not at all.

    Raises
    ------
    RoomirError
        If it cannot be written.
    """
    unfinished = target.with_name(f".roomir-{secrets.token_hex(8)}")
    try:
        try:
            with unfinished.open("xb") as file:
                file.write(content)
            unfinished.replace(target)
        finally:
            unfinished.unlink(missing_ok=True)
    except (OSError, ValueError) as error:  # a ValueError is a name that no file can have
        raise RoomirError(
            f"{target} cannot be written: {getattr(error, 'strerror', None) or error}",
            code="cannot-write",
            remedy="name a file in a folder you may write to",
        ) from error
