"""``roomir logbook check``: whether everything that was kept is still whole."""

from __future__ import annotations

import typer

from roomir import api
from roomir.cli import show
from roomir.cli.options import DebugOption, JsonOption, LogbookOption
from roomir.report.logbook import health_document, health_lines
from roomir.report.wording import said_and_done


def check(
    *,
    logbook: LogbookOption = None,
    as_json: JsonOption = False,
    debug: DebugOption = False,
) -> None:
    """Check the database, every reading, and every recording against its hash.

    Leaves with 0 if all is whole, 1 if something is lost or damaged.
    """
    del debug  # main() looks for it where every error ends up.
    with api.open_logbook(logbook) as book:
        health = book.check()
    if as_json:
        show.done("", {"done": "check", **health_document(health)}, as_json=True)
    else:
        show.lines(health_lines(health))
        for problem in health.problems:
            show.line(said_and_done(problem))
    raise typer.Exit(1 if health.problems else 0)
