"""``roomir logbook import``: an export becomes part of a logbook."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Annotated

import typer

from roomir import api
from roomir.cli import show
from roomir.cli.options import DebugOption, JsonOption, LogbookOption


def import_(
    *,
    source: Annotated[
        Path, typer.Argument(metavar="SOURCE", help="A folder or zip file that roomir logbook export wrote.")
    ],
    logbook: LogbookOption = None,
    as_json: JsonOption = False,
    debug: DebugOption = False,
) -> None:
    """Take in an export. Rooms and stages of the same name are the same; no sound is kept twice.

    Leaves with 0 if all of it is kept now, 1 if a sound is kept in another
    stage already or the export is damaged.
    """
    del debug  # main() looks for it where every error ends up.
    with api.open_logbook(logbook, create=True) as book:
        imported = book.bring_in(source)
    counts = Counter(one.outcome for one in imported)
    elsewhere = [one for one in imported if one.outcome == "kept elsewhere"]
    said = ", ".join(f"{n} {outcome}" for outcome, n in sorted(counts.items())) or "no takes"
    show.done(
        f"Imported: {said}.",
        {
            "done": "import",
            "takes": [
                {"name": one.name, "room": one.room, "stage": one.stage, "outcome": one.outcome}
                for one in imported
            ],
        },
        as_json=as_json,
    )
    for one in elsewhere:
        show.line(
            f"{one.name}: this sound is kept in another stage already, not in {one.stage} of {one.room}."
        )
    raise typer.Exit(1 if elsewhere else 0)
