"""Which files of a folder are recordings."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from roomir.audio.files import display_name
from roomir.audio.layout import ADTS, MP3, UNKNOWN, kind_of
from roomir.errors import RoomirError

SOUND_SUFFIXES = frozenset({
    *(".wav", ".wave", ".bwf", ".rf64", ".w64", ".aif", ".aiff", ".aifc", ".caf", ".au", ".snd", ".flac"),
    *(".ogg", ".oga", ".opus", ".mp3", ".m4a", ".m4b", ".aac", ".mp4", ".m4v", ".mov", ".qt", ".3gp", ".3g2"),
    *(".3gpp", ".amr", ".awb", ".webm", ".weba", ".mka", ".mkv", ".avi", ".wma", ".asf", ".wmv"),
})  # fmt: skip
"""Names of recordings and films: whatever is in such a file, it gets a row."""

_PICTURE_SUFFIXES = frozenset({".heic", ".heif", ".avif", ".cr3", ".jxl"})
"""Pictures that lie in the same container as films."""

_WEAK = (UNKNOWN, MP3, ADTS)
"""Two bytes are no proof: any table of numbers may begin like an MP3 file."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One recording of a batch.

    Attributes
    ----------
    place : int
        Its place in the order of the output.
    name : str
        Path below the folder, with forward slashes.
    n_bytes : int
        Size.
    modified_ns : int
        When it was last written. [ns since 1970]
    """

    place: int
    name: str
    n_bytes: int
    modified_ns: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """The recordings of a folder, and how many files were left aside.

    Attributes
    ----------
    items : tuple of Item
        Sorted by folder and name.
    left_aside : mapping from str to int
        ``"without sound"``, ``"hidden"``, ``"seen under another name"``,
        ``"folders that cannot be opened"``; reasons without any are left out.
    """

    items: tuple[Item, ...]
    left_aside: dict[str, int] = field(default_factory=dict)


def find_recordings(folder: Path) -> Found:
    """Look through a folder and all below it.

    A file is a recording if it is named like one, or if its content is
    that of a sound or film. Links are followed, each file and each folder
    once. Hidden files (their names begin with a dot) are left aside.

    Parameters
    ----------
    folder : Path
        Where to look.

    Returns
    -------
    Found
        The same order whenever the same files are there.

    Raises
    ------
    RoomirError
        ``file-missing`` or ``no-folder`` where there is no such folder,
        ``no-permission`` where it cannot be opened.
    """
    shown = display_name(folder)
    if not folder.exists():
        raise RoomirError(
            f"{shown}: there is no such folder", code="file-missing", remedy="check the spelling"
        )
    if not folder.is_dir():
        raise RoomirError(
            f"{shown}: this is a file, not a folder",
            code="no-folder",
            remedy="name the folder it lies in; single files are read by roomir read",
        )
    left_aside: Counter[str] = Counter()
    walk = _Walk(folder, left_aside=left_aside)
    files = sorted(walk.files(), key=lambda entry: entry[0].split("/"))
    if walk.cannot_open_root:
        raise RoomirError(
            f"{shown}: you have no permission to look into this folder",
            code="no-permission",
            remedy="give yourself the right to read it",
        )
    seen: set[tuple[int, int]] = set()
    items: list[Item] = []
    for name, status in files:
        # Two names of one file are one recording; the first in the order stands for it.
        identity = (status.st_dev, status.st_ino)
        if identity in seen:
            left_aside["seen under another name"] += 1
            continue
        seen.add(identity)
        items.append(
            Item(place=len(items), name=name, n_bytes=status.st_size, modified_ns=status.st_mtime_ns)
        )
    return Found(items=tuple(items), left_aside=dict(sorted(left_aside.items())))


class _Walk:
    """One walk through a folder; links that lead back are not followed again."""

    def __init__(self, root: Path, *, left_aside: Counter[str]) -> None:
        self._root = os.fspath(root)
        self._left_aside = left_aside
        self._been: set[tuple[int, int]] = set()
        self.cannot_open_root = False

    def files(self) -> Iterator[tuple[str, os.stat_result]]:
        waiting = [""]
        while waiting:
            below = waiting.pop()
            try:
                status = os.stat(os.path.join(self._root, below) if below else self._root)  # noqa: PTH116, PTH118
                if (status.st_dev, status.st_ino) in self._been:
                    continue
                self._been.add((status.st_dev, status.st_ino))
                with os.scandir(os.path.join(self._root, below)) as entries:  # noqa: PTH118
                    for entry in sorted(entries, key=lambda one: one.name):
                        name = f"{below}/{entry.name}" if below else entry.name
                        if entry.name.startswith("."):
                            self._left_aside["hidden"] += 1
                        elif entry.is_dir():
                            waiting.append(name)
                        else:
                            yield from self._file(name, entry)
            except OSError:
                self.cannot_open_root |= not below
                self._left_aside["folders that cannot be opened"] += 1

    def _file(self, name: str, entry: os.DirEntry[str]) -> Iterator[tuple[str, os.stat_result]]:
        suffix = os.path.splitext(entry.name)[1].lower()  # noqa: PTH122
        try:
            status = entry.stat()
            if entry.is_file() and (suffix in SOUND_SUFFIXES or _holds_sound(entry.path, suffix=suffix)):
                yield name, status
                return
        except OSError:
            pass  # a link that leads nowhere, or a file that cannot be opened and is not named like a sound
        self._left_aside["without sound"] += 1


def _holds_sound(path: str, *, suffix: str) -> bool:
    if suffix in _PICTURE_SUFFIXES:
        return False
    with open(path, "rb") as file:  # noqa: PTH123 - names that are no text as well
        return kind_of(file) not in _WEAK
