"""Options that several commands share, worded once."""

from __future__ import annotations

import math
from datetime import date, timedelta
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from roomir.errors import ParameterError
from roomir.logbook.values import Room, Size, Stage
from roomir.units import parse_dimensions_m, parse_volume_m3

if TYPE_CHECKING:  # it comes with sqlite3, which is paid for by those who open one
    from roomir.logbook.logbook import Logbook

DebugOption = Annotated[bool, typer.Option("--debug", help="Show the details if roomir itself is at fault.")]

RoomArgument = Annotated[
    str,
    typer.Argument(
        metavar="ROOM",
        help="The room's file, ending in .toml (`roomir room new` writes one), or a room of the logbook.",
    ),
]

LearnOption = Annotated[
    list[str] | None,
    typer.Option(
        "--learn-from",
        metavar="[STAGE=]FILE|ROOM",
        help=(
            "A reading of the room (roomir read --json), with STAGE= of a stage that its file names, or a"
            " room of the logbook with all of its stages: corrects what materials are said to do."
            " May be given several times."
        ),
    ),
]

StageOption = Annotated[
    str | None,
    typer.Option(
        "--stage",
        metavar="STAGE",
        help="The stage to work with, of those the room's description names; else a file's last,"
        " and of a room of the logbook the last that was read.",
    ),
]

MaterialsOption = Annotated[
    Path | None,
    typer.Option(
        "--materials", metavar="FILE", help="Your own table of materials (TOML), over the built-in one."
    ),
]


class BandSet(StrEnum):
    """Sets of bands a reading can be taken in."""

    OCTAVE = "octave"
    THIRD_OCTAVE = "third-octave"


ChannelOption = Annotated[
    int | None,
    typer.Option(
        min=1,
        metavar="N",
        help="Use only this channel, counted from 1. Without it all channels are used together.",
    ),
]

LogbookOption = Annotated[
    Path | None,
    typer.Option(
        "--logbook",
        metavar="PATH",
        help=(
            "The logbook's folder, or its database. Without it ROOMIR_LOGBOOK counts, and without that"
            " a folder among your user data."
        ),
    ),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON and nothing else.")]
RoomOption = Annotated[str, typer.Option("--room", metavar="ROOM", help="Name of the room.")]
MaybeRoomOption = Annotated[str | None, typer.Option("--room", metavar="ROOM", help="Name of the room.")]
MaybeStageOption = Annotated[
    str | None, typer.Option("--stage", metavar="STAGE", help="Name of the stage in that room.")
]
VolumeOption = Annotated[
    str | None, typer.Option("--volume", metavar="V", help="Volume of the room, as in 48 or 735 ft3.")
]
DimensionsOption = Annotated[
    str | None,
    typer.Option(
        "--dimensions",
        metavar="LxWxH",
        help="Length, width, height instead, as in 5x4x2.4 or '12 ft 6 in x 10 ft x 8 ft'.",
    ),
]
YesOption = Annotated[
    bool, typer.Option("--yes", "-y", help="Take the name that is already there where yours is close to it.")
]
NewOption = Annotated[
    bool, typer.Option("--new", help="Make a new room or stage, however close its name is to another.")
]


def parse_size(*, volume: str | None, dimensions: str | None) -> Size:
    """Read the size of a room, which may not be given at all."""
    return Size(
        volume_m3=None if volume is None else parse_volume_m3(volume),
        dimensions_m=None if dimensions is None else parse_dimensions_m(dimensions),
    )


def parse_day(text: str | None) -> date | None:
    """Read a day written as 2024-05-03."""
    if text is None:
        return None
    try:
        day = date.fromisoformat(text.strip())
    except ValueError as error:
        raise ParameterError(
            f'"{text}" is no day', code="bad-date", remedy="write year, month and day: 2024-05-03"
        ) from error
    # Tomorrow has come already somewhere on earth.
    if day > date.today() + timedelta(days=1):  # noqa: DTZ011 - the day on the wall where somebody types
        raise ParameterError(
            f"{day} has not come yet",
            code="bad-date",
            remedy="write the day on which the room was in this state",
        )
    return day


TakesArgument = Annotated[
    list[str] | None,
    typer.Argument(
        metavar="TAKE",
        help="Takes by their numbers, as roomir logbook show has them; or the name of a file, or the"
        " beginning of a hash (eight signs or more).",
    ),
]
SureOption = Annotated[bool, typer.Option("--yes", "-y", help="Do it without asking.")]


def narrowed(book: Logbook, *, room: str | None, stage: str | None) -> Room | Stage | None:
    """Return the room or stage that the options name, None where they name none."""
    if room is None:
        if stage is not None:
            raise ParameterError(
                "a stage is known only within its room", code="no-room", remedy="name the room with --room"
            )
        return None
    of_room = book.room(room)
    return of_room if stage is None else book.stage(of_room, stage)


class Units(StrEnum):
    """Units that sizes are shown in."""

    METRIC = "metric"
    US = "us"


UnitsOption = Annotated[
    Units, typer.Option(help="Show areas and volumes in metres, or in feet (absorption in sabins).")
]

TargetOption = Annotated[
    str | None,
    typer.Option(
        metavar="TARGET",
        help="Hold it against a target: a name from 'roomir targets', seconds as in 0.2-0.3, or a TOML file.",
    ),
]


def room_size(
    volume: str | None, dimensions: str | None
) -> tuple[float | None, tuple[float, float, float] | None]:
    """Read what was typed for the size of a room: its volume, and its dimensions where those were given."""
    volume_m3 = None if volume is None else parse_volume_m3(volume)
    dimensions_m = None if dimensions is None else parse_dimensions_m(dimensions)
    if volume_m3 is not None and dimensions_m is not None:
        raise typer.BadParameter("give --volume or --dimensions, not both")
    return (math.prod(dimensions_m) if dimensions_m is not None else volume_m3), dimensions_m
