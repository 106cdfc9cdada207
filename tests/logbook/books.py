"""Logbooks for tests: a reader that needs no sound, a clock that ticks, and files to log."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from roomir.errors import UnreadableAudioError
from roomir.logbook.logbook import Logbook
from roomir.reading.reading import Failure, Reading
from tests.readings import reading, take


@dataclass(frozen=True)
class HeardFile:
    """What the prepared reader makes of a file: its name and hash."""

    name: str
    sha256: str


class PreparedReader:
    """Gives every file an invented reading; one that begins with ``bad`` cannot be read."""

    def __init__(self, recorded_at: dict[str, datetime] | None = None) -> None:
        self.recorded_at = recorded_at or {}
        self.heard: list[str] = []

    def hear(self, path: Path, *, name: str, channel: int | None, tell: Any = None) -> HeardFile:
        del channel, tell
        try:
            content = Path(path).read_bytes()
        except OSError as error:
            raise UnreadableAudioError(f"{path}: gone", code="file-missing", remedy="-") from error
        if content.startswith(b"bad"):
            raise UnreadableAudioError(f"{path}: no sound", code="not-sound", remedy="record again")
        self.heard.append(name)
        return HeardFile(name=name, sha256=hashlib.sha256(content).hexdigest())

    def read(self, heard: Sequence[HeardFile], *, band_set: str, failures: Sequence[Failure] = ()) -> Reading:
        made = reading(band_set=band_set, failures=tuple(failures))
        if not heard:
            made = replace(made, bands=(), mid=replace(made.mid, decay_time_s=None, ci95_s=None))
        takes = []
        for one in heard:
            recorded_at = self.recorded_at.get(one.name)
            source = None if recorded_at is None else "metadata"
            takes.append(take(one.name, sha256=one.sha256, recorded_at=recorded_at, recorded_at_from=source))
        return replace(made, takes=tuple(takes))


@dataclass
class Clock:
    """A clock that goes on by a second at every look."""

    at: datetime = field(default_factory=lambda: datetime(2025, 1, 1, tzinfo=UTC))

    def __call__(self) -> datetime:
        self.at += timedelta(seconds=1)
        return self.at


def open_book(path: Path, **options: Any) -> Logbook:
    """A logbook whose reader needs no sound."""
    made: dict[str, Any] = {"create": True, "reader": PreparedReader(), "now": Clock()}
    return Logbook(path, **(made | options))


def sound(folder: Path, name: str, content: str | bytes | None = None) -> Path:
    """A file to log; without content its name is in it, so that no two are the same."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / name
    content = f"sound of {name}" if content is None else content
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return path
