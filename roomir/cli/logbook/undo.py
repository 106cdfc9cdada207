"""``roomir logbook undo``: back with what was removed last."""

from __future__ import annotations

from roomir import api
from roomir.cli import show
from roomir.cli.options import DebugOption, JsonOption, LogbookOption


def undo(
    *,
    logbook: LogbookOption = None,
    as_json: JsonOption = False,
    debug: DebugOption = False,
) -> None:
    """Bring back what was removed last; again for what was removed before that."""
    del debug  # main() looks for it where every error ends up.
    with api.open_logbook(logbook) as book:
        removal = book.undo()
    show.done(f"Back again: {removal.what}.", {"done": "undo", "what": removal.what}, as_json=as_json)
