"""``roomir logbook move``: takes into another stage, or a stage to another place in the order."""

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
    MaybeRoomOption,
    MaybeStageOption,
    NewOption,
    TakesArgument,
    YesOption,
    narrowed,
)
from roomir.errors import ParameterError
from roomir.logbook.names import Decide
from roomir.logbook.values import Room


def move(
    *,
    takes: TakesArgument = None,
    room: MaybeRoomOption = None,
    stage: MaybeStageOption = None,
    to_room: Annotated[
        str | None,
        typer.Option("--to-room", metavar="ROOM", help="Where the takes belong; the same room without it."),
    ] = None,
    to_stage: Annotated[
        str | None,
        typer.Option("--to-stage", metavar="STAGE", help="The stage they belong to; made on first use."),
    ] = None,
    behind: Annotated[
        str | None,
        typer.Option("--behind", metavar="STAGE", help="Put the stage named by --stage behind this one."),
    ] = None,
    first: Annotated[
        bool, typer.Option("--first", help="Put the stage named by --stage before all others.")
    ] = False,
    new: NewOption = False,
    yes: YesOption = False,
    logbook: LogbookOption = None,
    as_json: JsonOption = False,
    debug: DebugOption = False,
) -> None:
    """Move takes into another stage, or a stage to another place in the order of its room."""
    del debug  # main() looks for it where every error ends up.
    decide = about_names(yes=yes, new=new)
    if takes and to_stage is not None and behind is None and not first:
        _move_takes(takes, room, stage, to_room, to_stage, decide, logbook=logbook, as_json=as_json)
    elif room is not None and stage is not None and not takes and (behind is not None) != first:
        _move_stage(room, stage, behind, logbook=logbook, as_json=as_json)
    else:
        raise ParameterError(
            "it is not clear what is to be moved",
            code="what-to-move",
            remedy="name takes and --to-stage; or --room, --stage and either --behind STAGE or --first",
        )


def _move_takes(
    takes: list[str],
    room: str | None,
    stage: str | None,
    to_room: str | None,
    to_stage: str,
    decide: Decide,
    *,
    logbook: LogbookOption,
    as_json: bool,
) -> None:
    with api.open_logbook(logbook) as book:
        of = narrowed(book, room=room, stage=stage)
        found = [book.find_take(one, of=of) for one in takes]
        same_room = found[0].room if room is None else room
        moved = book.move_takes(found, room=to_room or same_room, stage=to_stage, decide=decide)
    show.done(
        [f'Take {take.id}, {take.name}, is in "{take.stage}" of "{take.room}" now.' for take in moved],
        {
            "done": "move",
            "takes": [{"number": take.id, "room": take.room, "stage": take.stage} for take in moved],
        },
        as_json=as_json,
    )


def _move_stage(room: str, stage: str, behind: str | None, *, logbook: LogbookOption, as_json: bool) -> None:
    with api.open_logbook(logbook) as book:
        of_room: Room = book.room(room)
        other = None if behind is None else book.stage(of_room, behind)
        order = [one.name for one in book.move_stage(book.stage(of_room, stage), behind=other)]
    show.done(
        f'The stages of "{room}" stand in this order now: {", ".join(order)}.',
        {"done": "move", "room": room, "stages": order},
        as_json=as_json,
    )
