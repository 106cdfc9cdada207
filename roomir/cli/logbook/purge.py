"""``roomir logbook purge``: what was removed is erased for good."""

from __future__ import annotations

import typer

from roomir import api
from roomir.cli import show
from roomir.cli.ask import somebody_is_there
from roomir.cli.options import DebugOption, JsonOption, LogbookOption, SureOption
from roomir.errors import ParameterError
from roomir.report.logbook import purge_document, purge_lines


def purge(
    *,
    yes: SureOption = False,
    logbook: LogbookOption = None,
    as_json: JsonOption = False,
    debug: DebugOption = False,
) -> None:
    """Erase what was removed for good: its rows, and its recordings with whatever was said on them.

    Says first what goes. Backups and exports that you made are not touched.
    """
    del debug  # main() looks for it where every error ends up.
    with api.open_logbook(logbook) as book:
        going = book.would_purge()
        if not as_json:
            show.lines(purge_lines(going))
            show.flush()
        if not going.is_empty:
            if not yes:
                _ask()
            going = book.purge()
    if as_json:
        show.done("", {"done": "purge", **purge_document(going)}, as_json=True)
    elif not going.is_empty:
        show.out("Erased.\n")


def _ask() -> None:
    if not somebody_is_there():
        raise ParameterError(
            "purging cannot be undone, and nobody is there to be asked",
            code="not-sure",
            remedy="add --yes if all of this is to be erased for good",
        )
    if not typer.confirm("Erase all of this for good?", default=False, err=True):
        raise ParameterError("nothing was erased", code="not-sure", remedy="")
