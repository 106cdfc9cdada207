"""``roomir logbook export``: everything as files that any program can read."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from roomir import api
from roomir.cli import show
from roomir.cli.options import DebugOption, JsonOption, LogbookOption


def export(
    *,
    dest: Annotated[
        Path,
        typer.Argument(metavar="DEST", help="A folder that is not there yet, or a file that ends in .zip."),
    ],
    logbook: LogbookOption = None,
    as_json: JsonOption = False,
    debug: DebugOption = False,
) -> None:
    """Write everything that is kept as JSON, CSV tables and the recordings' own bytes."""
    del debug  # main() looks for it where every error ends up.
    with api.open_logbook(logbook) as book:
        n_takes = api.export_logbook(book, dest)
    show.done(f"Written, {n_takes} takes: {dest}", {"done": "export", "n_takes": n_takes}, as_json=as_json)
