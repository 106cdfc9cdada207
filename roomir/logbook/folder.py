"""Where a logbook lies: a database, and beside it a folder for the recordings."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

_DATABASE = "logbook.sqlite"
_SUFFIXES = (".sqlite", ".sqlite3", ".db")

VARIABLE = "ROOMIR_LOGBOOK"
"""Environment variable that names the logbook where no option does."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Files of one logbook.

    Attributes
    ----------
    database : Path
        The database file.
    recordings : Path
        The folder of the recordings, each named by its hash.
    """

    database: Path
    recordings: Path


def place_of(path: str | os.PathLike[str]) -> Place:
    """Tell where the files of a logbook are.

    Parameters
    ----------
    path : path
        A folder; or a database, which is a file or a name ending in
        ``.sqlite``, ``.sqlite3`` or ``.db``.

    Examples
    --------
    >>> place_of("dairy").database.as_posix(), place_of("my.db").recordings.as_posix()
    ('dairy/logbook.sqlite', 'my.recordings')
    """
    path = Path(path)
    # Those of os.path say False of what one may not look at, where those of Path may raise.
    is_database = os.path.isfile(path) or (  # noqa: PTH113
        path.suffix.lower() in _SUFFIXES and not os.path.isdir(path)  # noqa: PTH112
    )
    database = path if is_database else path / _DATABASE
    return Place(database=database, recordings=database.with_suffix(".recordings"))


def usual_path(environment: Mapping[str, str]) -> Path:
    """Return the logbook that is meant where none is named: ROOMIR_LOGBOOK, or the user's data folder."""
    named = environment.get(VARIABLE)
    if named:
        return Path(named)
    import platformdirs

    return platformdirs.user_data_path("roomir", appauthor=False)
