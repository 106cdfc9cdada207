"""``roomir logbook rescue``: out of a damaged logbook with what can be."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from roomir import api
from roomir.cli import show
from roomir.cli.options import DebugOption, JsonOption, LogbookOption


def rescue(
    *,
    dest: Annotated[
        Path,
        typer.Argument(metavar="DEST", help="A folder that is not there yet, or a file that ends in .zip."),
    ],
    logbook: LogbookOption = None,
    as_json: JsonOption = False,
    debug: DebugOption = False,
) -> None:
    """Bring out of a damaged logbook what can be; it is only read.

    What comes out is an export: roomir logbook import takes it into a new
    logbook. Recordings that no row knows any more come out too, in a room of
    their own, those among them that were removed and not purged.
    """
    del debug  # main() looks for it where every error ends up.
    out = api.rescue_logbook(logbook, dest)
    show.done(
        [
            f"Brought out, {out.n_takes} takes with {out.n_readings} readings: {dest}",
            f"Recordings without a row: {out.n_nameless}; takes whose recording is lost: {out.n_lost}.",
            "Next: roomir logbook import, with --logbook and a new place.",
        ],
        {
            "done": "rescue",
            "n_takes": out.n_takes,
            "n_readings": out.n_readings,
            "n_nameless": out.n_nameless,
            "n_lost": out.n_lost,
        },
        as_json=as_json,
    )
