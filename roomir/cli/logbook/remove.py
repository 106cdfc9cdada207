"""``roomir logbook remove``: out of every list, until it is brought back or purged."""

from __future__ import annotations

from roomir import api
from roomir.cli import show
from roomir.cli.options import (
    DebugOption,
    JsonOption,
    LogbookOption,
    MaybeRoomOption,
    MaybeStageOption,
    TakesArgument,
    narrowed,
)
from roomir.errors import ParameterError


def remove(
    *,
    takes: TakesArgument = None,
    room: MaybeRoomOption = None,
    stage: MaybeStageOption = None,
    logbook: LogbookOption = None,
    as_json: JsonOption = False,
    debug: DebugOption = False,
) -> None:
    """Remove takes, else the stage, else the room that is named. roomir logbook undo brings it back."""
    del debug  # main() looks for it where every error ends up.
    with api.open_logbook(logbook) as book:
        of = narrowed(book, room=room, stage=stage)
        if takes:
            removal = book.remove([book.find_take(one, of=of) for one in takes])
        elif of is not None:
            removal = book.remove(of)
        else:
            raise ParameterError(
                "it is not clear what is to be removed",
                code="what-to-remove",
                remedy="name takes, or --room, or --room and --stage",
            )
    show.done(
        f"Removed: {removal.what}. roomir logbook undo brings it back; roomir logbook purge erases it.",
        {"done": "remove", "what": removal.what, "removed_at": removal.removed_at.isoformat()},
        as_json=as_json,
    )
