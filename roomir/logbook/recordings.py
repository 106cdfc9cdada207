"""The recordings: each a file named by the hash of its bytes, written once and never changed."""

from __future__ import annotations

import hashlib
import os
import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import BinaryIO

from roomir.audio.files import AnyPath, display_name, open_regular, sha256_of
from roomir.errors import LogbookError
from roomir.logbook.durable import UNFINISHED, make_folder, sync_folder, unfinished_file
from roomir.logbook.places import Blank, find_places

At = Callable[[str], None]
"""Told at every boundary between two steps; tests end the process there."""

_HASH = re.compile(r"[0-9a-f]{64}")
_PIECE = 1 << 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A recording that has been taken in.

    Attributes
    ----------
    sha256 : str
        Hash of the kept bytes.
    original_sha256 : str
        Hash of the bytes as they came.
    n_bytes : int
        Their number, which is the same.
    places_blanked : int
        How many places written in the file were blanked.
    is_new : bool
        Whether it did not lie there before.
    """

    sha256: str
    original_sha256: str
    n_bytes: int
    places_blanked: int
    is_new: bool = True


class Recordings:
    """The folder of the recordings of one logbook.

    Parameters
    ----------
    folder : Path
        Made when the first recording comes.
    at : callable
        Told ``"recording written"``, ``"recording synced"``, ``"recording renamed"`` and
        ``"folder synced"``.
    """

    def __init__(self, folder: Path, *, at: At) -> None:
        self.folder = folder
        self._at = at

    def path(self, sha256: str) -> Path:
        """Return where the recording of this hash lies."""
        if not _HASH.fullmatch(sha256):
            raise LogbookError(
                f"{display_name(sha256)} is the hash of no recording",
                code="logbook-damaged",
                remedy="bring out what can be with roomir logbook rescue FOLDER; nothing was changed",
            )
        return self.folder / sha256

    def take_in(self, path: AnyPath, *, name: str) -> Kept:
        """Keep a file; whoever calls holds the lock of the database.

        The places that a phone has written into it are blanked with bytes of
        the same number, so that its sound stays where it is.

        Raises
        ------
        UnreadableAudioError
            If it cannot be read.
        OSError
            If it cannot be written.
        """
        make_folder(self.folder.absolute())
        with open_regular(path, name=name) as source, unfinished_file(self.folder) as (copy, unfinished):
            blanks = find_places(source)
            kept = _copy(source, copy, blanks=blanks)
            copy.flush()
            self._at("recording written")
            os.fsync(copy.fileno())
            self._at("recording synced")
            target = self.path(kept.sha256)
            is_new = not self.is_whole(kept.sha256)
            if is_new:
                unfinished.replace(target)
            self._at("recording renamed")
        sync_folder(self.folder)
        self._at("folder synced")
        return replace(kept, is_new=is_new)

    def is_whole(self, sha256: str) -> bool:
        """Whether the recording is there, and is what its name says."""
        path = self.path(sha256)
        if not path.is_file():
            return False
        with path.open("rb") as file:
            return sha256_of(file) == sha256

    def names(self) -> Iterator[str]:
        """Yield the hash of every recording that lies here, whether a take knows of it or not."""
        if self.folder.is_dir():
            yield from sorted(path.name for path in self.folder.iterdir() if _HASH.fullmatch(path.name))

    def sweep(self) -> None:
        """Delete what was being written when somebody was stopped; whoever calls holds the lock."""
        for path in self.folder.glob(f"{UNFINISHED}*"):
            path.unlink(missing_ok=True)

    def erase(self, sha256: str) -> None:
        """Delete a recording; whoever calls holds the lock."""
        self.path(sha256).unlink(missing_ok=True)

    def sync(self) -> None:
        """Have the deletions written to the disk."""
        if self.folder.is_dir():
            sync_folder(self.folder)


def _copy(source: BinaryIO, copy: BinaryIO, *, blanks: tuple[Blank, ...]) -> Kept:
    original, kept, n_bytes = hashlib.sha256(), hashlib.sha256(), 0
    source.seek(0)
    while piece := source.read(_PIECE):
        original.update(piece)
        changed = bytearray(piece)
        for blank in blanks:
            start, stop = max(blank.start - n_bytes, 0), min(blank.stop - n_bytes, len(piece))
            if start < stop:
                skip = n_bytes + start - blank.start
                changed[start:stop] = blank.instead[skip : skip + stop - start]
        kept.update(changed)
        copy.write(changed)
        n_bytes += len(piece)
    return Kept(
        sha256=kept.hexdigest(),
        original_sha256=original.hexdigest(),
        n_bytes=n_bytes,
        places_blanked=len(blanks),
    )


def copy_whole(source: Path, target: Path) -> None:
    """Copy a file and have it written to the disk."""
    with source.open("rb") as read, target.open("xb") as write:
        shutil.copyfileobj(read, write, _PIECE)
        write.flush()
        os.fsync(write.fileno())
