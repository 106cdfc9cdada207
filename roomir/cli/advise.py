"""``roomir advise``: how to make a first take, or a better one."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from roomir import api
from roomir.cli import show
from roomir.cli.options import ChannelOption, DebugOption
from roomir.rooms.places import places
from roomir.units import parse_dimensions_m, parse_volume_m3


def advise(
    *,
    takes: Annotated[
        list[Path] | None,
        typer.Argument(
            metavar="TAKE",
            help="Recordings made so far, all from one room in one state; none before the first.",
        ),
    ] = None,
    channel: ChannelOption = None,
    volume: Annotated[
        str | None,
        typer.Option(
            metavar="V",
            help="Volume of the room, as in 48 or 735 ft3: also tells how far from the phone to stand.",
        ),
    ] = None,
    dimensions: Annotated[
        str | None,
        typer.Option(
            metavar="LxWxH",
            help=(
                "Length, width, height instead, as in 5x4x2.4 or '12 ft 6 in x 10 ft x 8 ft':"
                " also says where to stand."
            ),
        ),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print it as JSON and nothing else.")] = False,
    debug: DebugOption = False,
) -> None:
    """Say how to make a first take, or what to do for a better one.

    Without a recording: a short guide for one person with a phone. With
    recordings: what to do next, what buys most first, with the numbers
    behind it.

    Leaves with 0, with 1 if a file failed, with 2 if called wrongly.
    """
    del debug  # main() looks for it where every error ends up.
    volume_m3 = None if volume is None else parse_volume_m3(volume)
    dimensions_m = None if dimensions is None else parse_dimensions_m(dimensions)
    if volume_m3 is not None and dimensions_m is not None:
        raise typer.BadParameter("give --volume or --dimensions, not both")
    if not takes:
        show.guide(api.guide(volume_m3=volume_m3, dimensions_m=dimensions_m), as_json=as_json)
        return
    with show.progress() as progress:
        advice = api.advise(takes, channel=channel, progress=progress)
    room, floor = None, None
    if dimensions_m is not None:
        floor = places(dimensions_m)
    if volume_m3 is not None or dimensions_m is not None:
        room = api.room_advice(advice.reading, volume_m3=volume_m3, dimensions_m=dimensions_m)
    show.advice(advice, room=room, floor=floor, as_json=as_json)
    show.failures(advice.reading)
    raise typer.Exit(1 if advice.reading.failures else 0)
