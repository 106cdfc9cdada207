"""Options that several commands share, worded once."""

from __future__ import annotations

import math
from enum import StrEnum
from typing import Annotated

import typer

from roomir.units import parse_dimensions_m, parse_volume_m3

DebugOption = Annotated[bool, typer.Option("--debug", help="Show the details if roomir itself is at fault.")]


class BandSet(StrEnum):
    """Sets of bands a reading can be taken in."""

    OCTAVE = "octave"
    THIRD_OCTAVE = "third-octave"


class Units(StrEnum):
    """Units that sizes are shown in."""

    METRIC = "metric"
    US = "us"


UnitsOption = Annotated[
    Units, typer.Option(help="Show areas and volumes in metres, or in feet (absorption in sabins).")
]

VolumeOption = Annotated[
    str | None, typer.Option(metavar="V", help="Volume of the room, as in 48 or 735 ft3.")
]

DimensionsOption = Annotated[
    str | None,
    typer.Option(
        metavar="LxWxH", help="Length, width, height instead, as in 5x4x2.4 or '12 ft 6 in x 10 ft x 8 ft'."
    ),
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
