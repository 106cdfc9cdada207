"""Opening a file by its name, once, and only where opening it can do no harm."""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import stat
from typing import BinaryIO

from roomir.errors import UnreadableAudioError

AnyPath = str | bytes | os.PathLike[str] | os.PathLike[bytes]
"""A file's name as the caller has it; bytes for names that are not text."""


def display_name(path: AnyPath) -> str:
    r"""Return the path as it was given, fit for one line on any screen.

    Bytes that are no text appear as ``\xff``, line ends and control
    characters as their escapes, so that a name can neither break a line nor
    speak to the terminal. Everything printable stays as it is.
    """
    text = os.fsdecode(path)
    return "".join(_shown(character) for character in text)


def _shown(character: str) -> str:
    code = ord(character)
    if 0xDC80 <= code <= 0xDCFF:  # how os.fsdecode carries a byte that is no text
        return f"\\x{code - 0xDC00:02x}"
    # The joiner is not printable by itself, but belongs to names with composed emoji.
    if character.isprintable() or character == "\u200d":
        return character
    return character.encode("unicode_escape").decode("ascii")


def open_regular(path: AnyPath, *, name: str) -> BinaryIO:
    """Open a regular file for reading.

    Pipes and devices are refused before they are opened: opening one may
    wait for ever or set something in motion.

    Parameters
    ----------
    path : str, bytes or path
        What to open.
    name : str
        What to call it in a message.

    Raises
    ------
    UnreadableAudioError
        ``file-missing``, ``is-a-folder``, ``not-a-file``, ``no-permission``
        or ``cannot-open``.
    """
    try:
        _refuse_unless_regular(os.stat(path), name=name)  # noqa: PTH116 - the name may be bytes
        flags = os.O_RDONLY | getattr(os, "O_BINARY", 0) | getattr(os, "O_NONBLOCK", 0)
        descriptor = os.open(path, flags)
    except OSError as error:
        raise _as_audio_error(error, name=name) from error
    except ValueError as error:  # a NUL in the name: no such file can exist
        raise _missing(name) from error
    try:
        # Asked again of what was really opened; the name may have changed hands in between.
        _refuse_unless_regular(os.fstat(descriptor), name=name)
        return os.fdopen(descriptor, "rb")
    except BaseException:
        with contextlib.suppress(OSError):
            os.close(descriptor)
        raise


def sha256_of(file: BinaryIO) -> str:
    """Return the hash of a file's bytes, read piece by piece, and go back to its start."""
    file.seek(0)
    # file_digest asks for a reader that can fill a buffer, which every open binary file is.
    digest = hashlib.file_digest(file, "sha256").hexdigest()  # type: ignore[arg-type]
    file.seek(0)
    return digest


def cannot_read(error: OSError, *, name: str) -> UnreadableAudioError:
    """Say that the system refused to read on, in its own words."""
    return UnreadableAudioError(
        f"{name}: the file can't be read ({error.strerror or error})",
        code="cannot-open",
        remedy="copy it to this computer's own disk and read it from there",
    )


def _refuse_unless_regular(status: os.stat_result, *, name: str) -> None:
    if stat.S_ISDIR(status.st_mode):
        raise UnreadableAudioError(
            f"{name}: this is a folder, not a recording",
            code="is-a-folder",
            remedy="name the recordings in it, one by one or with a pattern such as folder/*.wav",
        )
    if not stat.S_ISREG(status.st_mode):
        raise UnreadableAudioError(
            f"{name}: this is a device or a pipe, not a file",
            code="not-a-file",
            remedy="save the sound to a file first, then read that",
        )


def _missing(name: str) -> UnreadableAudioError:
    return UnreadableAudioError(
        f"{name}: there is no such file",
        code="file-missing",
        remedy="check the spelling and the folder",
    )


def _as_audio_error(error: OSError, *, name: str) -> UnreadableAudioError:
    if error.errno in (errno.ENOENT, errno.ENOTDIR):
        return _missing(name)
    if error.errno in (errno.EACCES, errno.EPERM):
        return UnreadableAudioError(
            f"{name}: you have no permission to read this file",
            code="no-permission",
            remedy="give yourself the right to read it, or copy it to a folder of your own",
        )
    return cannot_read(error, name=name)
