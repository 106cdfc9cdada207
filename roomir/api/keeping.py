"""The logbook."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from roomir.report.saving import FilePath

if TYPE_CHECKING:
    from roomir.logbook.logbook import Logbook
    from roomir.logbook.rescue import Rescued


def open_logbook(path: FilePath | None = None, *, create: bool = False) -> Logbook:
    """Open the logbook, where readings are kept by room and stage.

    Parameters
    ----------
    path : path, optional
        Its folder, or its database. Without it ROOMIR_LOGBOOK counts, and
        without that the usual place in the user's data folder.
    create : bool
        Whether to begin one where there is none.

    Returns
    -------
    Logbook
        Close it, or use it in a ``with`` statement.

    Raises
    ------
    LogbookError
        If there is none, or it cannot be used, with the reason.
    """
    from roomir.logbook.folder import usual_path
    from roomir.logbook.logbook import Logbook

    return Logbook(usual_path(os.environ) if path is None else path, create=create)


def export_logbook(book: Logbook, target: FilePath) -> int:
    """Write everything a logbook holds to a new folder, or to a zip file: JSON, CSV and the recordings.

    Parameters
    ----------
    book : Logbook
        An open logbook.
    target : path
        Where nothing is yet; a zip file if it ends in ``.zip``.

    Returns
    -------
    int
        The number of takes.

    Raises
    ------
    LogbookError
        If something is there, or cannot be written, or a recording is missing.
    """
    from roomir.report.logbook_tables import tables

    return book.export(Path(target), tables=tables)


def rescue_logbook(path: FilePath | None, target: FilePath) -> Rescued:
    """Bring out of a damaged logbook what can be, into an export that a new logbook can import.

    Parameters
    ----------
    path : path, optional
        As for :func:`open_logbook`; it is only read.
    target : path
        As for :func:`export_logbook`.

    Returns
    -------
    Rescued
        How much came out.

    Raises
    ------
    LogbookError
        If nothing can be brought out, or it cannot be written.
    """
    from roomir.logbook.folder import usual_path
    from roomir.logbook.rescue import rescue
    from roomir.report.logbook_tables import tables

    return rescue(usual_path(os.environ) if path is None else Path(path), Path(target), tables=tables)
