"""The recordings that one name on the command line stands for: a file, a folder of takes, or a pattern."""

from __future__ import annotations

import glob
from pathlib import Path

from roomir.errors import ParameterError

SUFFIXES = frozenset(
    (
        *(".wav", ".wave", ".rf64", ".w64", ".flac", ".ogg", ".oga", ".opus", ".mp3", ".aif", ".aiff"),
        *(".aifc", ".caf", ".m4a", ".m4b", ".aac", ".mp4", ".mov", ".3gp", ".3g2", ".webm", ".mkv", ".mka"),
        ".amr",
    )
)
"""What a recording's name ends in. In a folder the name decides, since notes and pictures lie there too."""


def files_of(name: str) -> list[Path]:
    """List the recordings that a name stands for.

    Parameters
    ----------
    name : str
        A file; a folder, for the recordings that lie in it; or a pattern
        with ``*``, ``?`` or ``[]``. What exists under exactly that name is meant
        before any pattern.

    Returns
    -------
    list of Path
        Sorted by name. A file that is not there is listed too: whoever opens
        it says so.

    Raises
    ------
    ParameterError
        ``no-takes-there``: the folder holds no recording, or the pattern fits none.
    """
    path = Path(name)
    if path.is_dir():
        files = sorted(
            file
            for file in path.iterdir()
            if file.suffix.lower() in SUFFIXES and not file.name.startswith(".") and not file.is_dir()
        )
        if not files:
            raise ParameterError(
                f"no recording lies in the folder {name}",
                code="no-takes-there",
                remedy="name a folder with sound or video files, or the files themselves",
            )
        return files
    if glob.has_magic(name) and not path.exists():
        found = sorted(Path(one) for one in glob.glob(name, recursive=True))  # noqa: PTH207 - may begin at the root
        if not found:
            raise ParameterError(
                f"no file fits the pattern {name}",
                code="no-takes-there",
                remedy="check the folder and the spelling",
            )
        return [one for one in found if not one.is_dir()]
    return [path]
