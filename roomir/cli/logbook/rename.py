"""``roomir logbook rename``: another name for a room or a stage."""

from __future__ import annotations

from typing import Annotated

import typer

from roomir import api
from roomir.cli import show
from roomir.cli.ask import about_names
from roomir.cli.options import (
    DebugOption,
    JsonOption,
    LogbookOption,
    MaybeStageOption,
    NewOption,
    RoomOption,
    YesOption,
)


def rename(
    *,
    room: RoomOption,
    stage: MaybeStageOption = None,
    to: Annotated[str, typer.Option("--to", metavar="NAME", help="The new name.")],
    new: NewOption = False,
    yes: YesOption = False,
    logbook: LogbookOption = None,
    as_json: JsonOption = False,
    debug: DebugOption = False,
) -> None:
    """Give a room, or with --stage one of its stages, another name."""
    del debug  # main() looks for it where every error ends up.
    decide = about_names(yes=yes, new=new)
    with api.open_logbook(logbook) as book:
        of_room = book.room(room)
        what = of_room if stage is None else book.stage(of_room, stage)
        before, kind = what.name, "room" if stage is None else "stage"
        after = book.rename(what, to=to, decide=decide).name
    show.done(
        f'The {kind} "{before}" is called "{after}" now.',
        {"done": "rename", "kind": kind, "before": before, "after": after},
        as_json=as_json,
    )
