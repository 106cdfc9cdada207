"""Recordings as they come in: room for them on the disk, and where they lie until they are read."""

from __future__ import annotations

import asyncio
import hashlib
import shutil
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from roomir.web.body import MOST_BYTES

if TYPE_CHECKING:
    from starlette.datastructures import UploadFile
    from starlette.requests import Request

    from roomir.web.jobs import Jobs

LEAST_FREE = 1 << 30
"""Room on the disk below which nothing more is taken in. [bytes]"""
_PIECE = 1 << 20


class DiskFullError(Exception):
    """There is no room on the disk for what wants to come."""


class Space:
    """Room on the disk, promised to each sender before anything comes.

    Parameters
    ----------
    folder : Path
        Where it is looked for.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._promised = 0

    @contextmanager
    def for_body(self, request: Request) -> Iterator[None]:
        """Hold room for the body of a request, of which the stated length is believed, or else the most.

        Raises
        ------
        DiskFullError
            If there is none, or if it runs out all the same while the body comes.
        """
        # It lies there twice for a moment: as the form that arrives, and as the recording taken from it.
        needed = 2 * int(request.headers.get("content-length", MOST_BYTES))
        if shutil.disk_usage(self._folder).free < LEAST_FREE + self._promised + needed:
            raise DiskFullError
        self._promised += needed
        try:
            yield
        except OSError as error:
            raise DiskFullError from error
        finally:
            self._promised -= needed


async def keep(sent: Sequence[UploadFile], jobs: Jobs) -> list[tuple[Path, str]]:
    """Put recordings where they wait to be read.

    Parameters
    ----------
    sent : sequence of UploadFile
        What arrived.
    jobs : Jobs
        Whose folder they go to; nothing is left there if one of them cannot be written.

    Returns
    -------
    list of (Path, str)
        Where each lies, and its SHA-256 in hexadecimal digits.
    """
    paths = [jobs.new_file(one.filename or "") for one in sent]
    try:
        return [(path, await _write(one, path)) for one, path in zip(sent, paths, strict=True)]
    except BaseException:
        for path in paths:
            jobs.drop(path)
        raise


async def _write(sent: UploadFile, path: Path) -> str:
    sha256 = hashlib.sha256()
    with path.open("xb") as file:
        while piece := await sent.read(_PIECE):
            sha256.update(piece)
            await asyncio.to_thread(file.write, piece)
    return sha256.hexdigest()
