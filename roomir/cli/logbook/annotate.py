"""``roomir logbook annotate``: correct or add what is known about a room, a stage or takes."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from roomir import api, planning
from roomir.cli import show
from roomir.cli.options import (
    DebugOption,
    DimensionsOption,
    JsonOption,
    LogbookOption,
    MaybeRoomOption,
    MaybeStageOption,
    TakesArgument,
    VolumeOption,
    narrowed,
    parse_day,
    parse_size,
)
from roomir.errors import ParameterError
from roomir.logbook.values import Room, RoomNotes, Size, Stage, StageNotes


def annotate(
    *,
    takes: TakesArgument = None,
    room: MaybeRoomOption = None,
    stage: MaybeStageOption = None,
    volume: VolumeOption = None,
    dimensions: DimensionsOption = None,
    date: Annotated[str | None, typer.Option("--date", metavar="DAY", help="Day of the stage.")] = None,
    done: Annotated[
        str | None, typer.Option("--done", metavar="TEXT", help="What was done to come to the stage.")
    ] = None,
    spot: Annotated[
        str | None, typer.Option("--spot", metavar="NAME", help="Name of the takes' spot.")
    ] = None,
    source: Annotated[
        str | None, typer.Option("--source", metavar="WHERE", help="Where the clap was.")
    ] = None,
    mic: Annotated[
        str | None, typer.Option("--mic", metavar="WHERE", help="Where the microphone was.")
    ] = None,
    made_with: Annotated[
        str | None, typer.Option("--with", metavar="WHAT", help="What made the sound.")
    ] = None,
    temperature: Annotated[
        float | None, typer.Option("--temperature", metavar="C", help="Of the air, in degrees Celsius.")
    ] = None,
    humidity: Annotated[
        float | None, typer.Option("--humidity", metavar="PERCENT", help="Relative humidity of the air.")
    ] = None,
    description: Annotated[
        Path | None,
        typer.Option(
            "--description",
            metavar="FILE",
            help="Of a room: its room file (`roomir room new` writes one), kept for reports and the page.",
        ),
    ] = None,
    note: Annotated[
        str | None,
        typer.Option("--note", metavar="TEXT", help="A note; an empty one takes the old one away."),
    ] = None,
    logbook: LogbookOption = None,
    as_json: JsonOption = False,
    debug: DebugOption = False,
) -> None:
    """Correct or add what is known: about takes, else about the stage, else about the room."""
    del debug  # main() looks for it where every error ends up.
    size = parse_size(volume=volume, dimensions=dimensions)
    about = {
        "spot": spot,
        "source_position": source,
        "microphone_position": mic,
        "made_with": made_with,
        "temperature_c": temperature,
        "humidity_percent": humidity,
        "note": note,
    }
    of_take = {name: value for name, value in about.items() if value is not None}
    of_stage = StageNotes(day=parse_day(date), done=done, note=note)
    of_room = RoomNotes(
        size=None if size == Size() else size,
        note=note,
        description=None if description is None else planning.read_description(description),
    )
    with api.open_logbook(logbook) as book:
        of = narrowed(book, room=room, stage=stage)
        if takes:
            _refuse_foreign(of_stage != StageNotes(note=note) or of_room != RoomNotes(note=note), kind="take")
            _refuse_nothing(bool(of_take))
            for take in [book.find_take(one, of=of) for one in takes]:
                book.annotate_take(take, replace(take.about, **of_take))  # type: ignore[arg-type]
            what = f"{'take' if len(takes) == 1 else 'takes'} {', '.join(takes)}"
        elif isinstance(of, Stage):
            _refuse_foreign(of_room != RoomNotes(note=note) or bool(of_take.keys() - {"note"}), kind="stage")
            _refuse_nothing(of_stage != StageNotes())
            book.annotate_stage(of, of_stage)
            what = f'the stage "{of.name}"'
        elif isinstance(of, Room):
            _refuse_foreign(of_stage != StageNotes(note=note) or bool(of_take.keys() - {"note"}), kind="room")
            _refuse_nothing(of_room != RoomNotes())
            book.annotate_room(of, of_room)
            what = f'the room "{of.name}"'
        else:
            raise ParameterError(
                "it is not clear what is to be annotated",
                code="what-to-annotate",
                remedy="name takes, or --room, or --room and --stage",
            )
    show.done(f"Noted, for {what}.", {"done": "annotate", "what": what}, as_json=as_json)


def _refuse_foreign(foreign: bool, *, kind: str) -> None:  # noqa: FBT001 - it is the condition itself
    if foreign:
        raise ParameterError(
            f"one of these options says nothing about a {kind}",
            code="not-of-this",
            remedy=f"name what it belongs to, and leave it out for the {kind}",
        )


def _refuse_nothing(something: bool) -> None:  # noqa: FBT001 - it is the condition itself
    if not something:
        raise ParameterError(
            "nothing is given to note", code="nothing-to-note", remedy="add what is to be noted, as in --note"
        )
