"""An export that is to be read: a folder or a zip file from anywhere, which is not trusted."""

from __future__ import annotations

import contextlib
import hashlib
import json
import shutil
import stat
import tempfile
import zipfile
from collections.abc import Iterator
from pathlib import Path, PurePosixPath
from typing import BinaryIO, Protocol

from roomir.audio.files import display_name, open_regular
from roomir.errors import AudioError, LogbookError

LARGEST_JSON = 64 << 20
"""Largest document that is read; a take with an hour of claps has a few megabytes. [bytes]"""

MOST_FILES = 100_000
"""Most entries of a zip file."""

MOST_RATIO = 200
"""Most that a zip file may unpack to, as a multiple of its own size; sound hardly packs at all."""

SPARE_BYTES = 64 << 20
"""What a zip file may unpack to in any case. [bytes]"""

_PIECE = 1 << 20


class Bundle(Protocol):
    """Files of an export, by their names in it."""

    def open(self, name: str) -> BinaryIO:
        """Open a file; LogbookError ``import-incomplete`` where there is none."""
        ...


@contextlib.contextmanager
def open_bundle(source: Path) -> Iterator[Bundle]:
    """Open an export.

    Raises
    ------
    LogbookError
        ``not-an-export``, or ``import-unsafe`` for a zip file that leads out of itself or unpacks to
        more than it can be worth.
    """
    if source.is_dir():
        yield FolderBundle(source)
        return
    try:
        file = open_regular(source, name=display_name(source))
    except AudioError as error:
        raise LogbookError(error.says, code="not-an-export", remedy=error.remedy) from error
    with file:
        try:
            archive = zipfile.ZipFile(file)
        except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError) as error:
            raise _no_export(source, "it is neither a folder nor a zip file") from error
        with archive:
            _refuse_traps(archive, source, n_bytes=source.stat().st_size)
            yield ZipBundle(archive, source)


def read_json(bundle: Bundle, name: str) -> object:
    """Read a document.

    Raises
    ------
    LogbookError
        ``import-incomplete`` or ``not-an-export``.
    """
    with bundle.open(name) as file:
        try:
            text = file.read(LARGEST_JSON + 1)
        except (OSError, zipfile.BadZipFile, EOFError) as error:
            raise damaged_file(name) from error
    if len(text) > LARGEST_JSON:
        raise LogbookError(
            f"{name} is larger than any document of a logbook", code="import-unsafe", remedy="export it again"
        )
    try:
        return json.loads(text)
    except (ValueError, RecursionError) as error:
        raise damaged_file(name) from error


@contextlib.contextmanager
def unpacked(bundle: Bundle, name: str, *, sha256: str, n_bytes: int) -> Iterator[Path]:
    """Unpack a recording to a file of its own, which goes again; its hash is what it should be.

    Raises
    ------
    LogbookError
        ``import-damaged``.
    """
    digest, n_read = hashlib.sha256(), 0
    with tempfile.TemporaryDirectory(prefix="roomir-") as folder:
        path = Path(folder) / "recording"
        with bundle.open(name) as source, path.open("xb") as out:
            try:
                while piece := source.read(_PIECE):
                    n_read += len(piece)
                    if n_read > n_bytes:
                        break
                    digest.update(piece)
                    out.write(piece)
            except (zipfile.BadZipFile, EOFError) as error:
                raise damaged_file(name) from error
        if n_read != n_bytes or digest.hexdigest() != sha256:
            raise damaged_file(name)
        yield path


class FolderBundle:
    """An export in a folder."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder.resolve()

    def open(self, name: str) -> BinaryIO:
        """Open a file that lies in the folder, whatever links say."""
        path = self._folder.joinpath(*PurePosixPath(name).parts)
        if not path.resolve().is_relative_to(self._folder):
            raise _unsafe(name)
        try:
            return open_regular(path, name=name)
        except AudioError as error:
            raise _incomplete(name) from error


class ZipBundle:
    """An export in a zip file."""

    def __init__(self, archive: zipfile.ZipFile, source: Path) -> None:
        self._archive = archive
        self._source = source

    def open(self, name: str) -> BinaryIO:
        """Open a file in the archive."""
        try:
            # ZipExtFile reads no more than the size that was looked at, and compares its checksum.
            return self._archive.open(name)  # type: ignore[return-value]
        except KeyError as error:
            raise _incomplete(name) from error
        except (zipfile.BadZipFile, RuntimeError, NotImplementedError, OSError) as error:
            raise damaged_file(name) from error


def _refuse_traps(archive: zipfile.ZipFile, source: Path, *, n_bytes: int) -> None:
    infos = archive.infolist()
    if len(infos) > MOST_FILES:
        raise _no_export(source, f"it holds {len(infos)} files")
    names = [info.filename for info in infos]
    if len(set(names)) < len(names):
        raise _unsafe(source.name)
    for info in infos:
        path = PurePosixPath(info.filename.replace("\\", "/"))
        is_link = stat.S_ISLNK(info.external_attr >> 16)
        if path.is_absolute() or ".." in path.parts or ":" in info.filename or is_link:
            raise _unsafe(info.filename)
    unpacked_bytes = sum(info.file_size for info in infos)
    if unpacked_bytes > MOST_RATIO * n_bytes + SPARE_BYTES:
        raise LogbookError(
            f"{display_name(source)} would unpack to {unpacked_bytes / 1e6:.0f} MB, too much for an export",
            code="import-unsafe",
            remedy="import only what roomir logbook export wrote",
        )
    if unpacked_bytes > shutil.disk_usage(tempfile.gettempdir()).free:
        raise LogbookError(
            f"there is no room to unpack {display_name(source)}: {unpacked_bytes / 1e6:.0f} MB",
            code="logbook-disk",
            remedy="make room on the disk, or point TMPDIR to a folder on a disk that has some",
        )


def damaged_file(name: str) -> LogbookError:
    """Say that a file of an export is not what it should be."""
    return LogbookError(
        f"{display_name(name)} in the export is damaged: it is not what its name or its document says",
        code="import-damaged",
        remedy="copy the export again from where it came; takes that were confirmed are kept",
    )


def _incomplete(name: str) -> LogbookError:
    return LogbookError(
        f"{display_name(name)} is missing from the export",
        code="import-incomplete",
        remedy="copy the whole export again from where it came; takes that were confirmed are kept",
    )


def _unsafe(name: str) -> LogbookError:
    return LogbookError(
        f"{display_name(name)} leads out of the export, or is in it twice",
        code="import-unsafe",
        remedy="import only what roomir logbook export wrote; nothing was touched",
    )


def _no_export(source: Path, why: str) -> LogbookError:
    return LogbookError(
        f"{display_name(source)} is no export of a logbook: {why}",
        code="not-an-export",
        remedy="name the folder or zip file that roomir logbook export wrote",
    )
