"""Options that several commands share, worded once."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

import typer

DebugOption = Annotated[bool, typer.Option("--debug", help="Show the details if roomir itself is at fault.")]


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
