"""``roomir logbook list``: every room with its stages."""

from __future__ import annotations

from roomir import api
from roomir.cli import show
from roomir.cli.options import DebugOption, JsonOption, LogbookOption, MaybeRoomOption
from roomir.report.logbook import list_text
from roomir.report.logbook_document import as_json as document_as_json
from roomir.report.logbook_document import rooms_document


def list_(
    *,
    room: MaybeRoomOption = None,
    logbook: LogbookOption = None,
    as_json: JsonOption = False,
    debug: DebugOption = False,
) -> None:
    """List the rooms with their stages, and how long each rang at mid frequencies.

    A dash stands where the takes of a stage are still to be read together:
    roomir logbook show does it.
    """
    del debug  # main() looks for it where every error ends up.
    with api.open_logbook(logbook) as book:
        rooms = book.summaries(of=None if room is None else book.room(room))
    show.out(document_as_json(rooms_document(rooms)) + "\n" if as_json else list_text(rooms))
