"""``roomir logbook backup``: a copy of everything, which is a logbook itself."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from roomir import api
from roomir.cli import show
from roomir.cli.options import DebugOption, JsonOption, LogbookOption


def backup(
    *,
    dest: Annotated[Path, typer.Argument(metavar="DEST", help="A folder that is not there yet.")],
    logbook: LogbookOption = None,
    as_json: JsonOption = False,
    debug: DebugOption = False,
) -> None:
    """Copy the whole logbook, recordings included, to a new folder that is a logbook itself."""
    del debug  # main() looks for it where every error ends up.
    with api.open_logbook(logbook) as book:
        n_recordings = book.back_up(dest)
    show.done(
        f"Copied, with {n_recordings} recordings: {dest}. Look into it with --logbook.",
        {"done": "backup", "n_recordings": n_recordings},
        as_json=as_json,
    )
