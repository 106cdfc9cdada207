"""``roomir hear``: a dry sound in a room as it is, and as proposed."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from roomir import planning
from roomir.cli import show
from roomir.cli.options import (
    DebugOption,
    LearnOption,
    LogbookOption,
    MaterialsOption,
    RoomArgument,
    StageOption,
)
from roomir.units import parse_length_m


def hear(
    *,
    room: RoomArgument,
    output: Annotated[
        Path, typer.Option("-o", "--output", metavar="FILE", help="Where the sound goes, ending in .wav.")
    ],
    dry: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="A sound without a room; a synthetic voice if left out."),
    ] = None,
    target: Annotated[
        str | None,
        typer.Option(metavar="TARGET", help="Also propose a treatment for this target, and hear it."),
    ] = None,
    absorber: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME", help="Choose only from this material; may be given several times."),
    ] = None,
    distance: Annotated[
        str, typer.Option(metavar="LENGTH", help="From source to microphone: 2 or '6 ft 6 in'.")
    ] = "2",
    directivity: Annotated[
        float,
        typer.Option(
            min=0.1, max=100.0, help="Directivity factor of the source; 2 is a voice from its front."
        ),
    ] = 2.0,
    seed: Annotated[int, typer.Option(min=0, help="Of the noise that the responses are made of.")] = 1,
    materials: MaterialsOption = None,
    logbook: LogbookOption = None,
    stage: StageOption = None,
    learn_from: LearnOption = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print what was written as JSON and nothing else.")
    ] = False,
    debug: DebugOption = False,
) -> None:
    """Hear a dry sound in a room before it is built: dry, in the room as it is, and as proposed."""
    del debug  # main() looks for it where every error ends up.
    heard = planning.hear(
        room,
        output,
        dry=dry,
        target=target,
        absorbers=absorber or (),
        distance_m=parse_length_m(distance),
        directivity=directivity,
        seed=seed,
        materials=materials,
        logbook=logbook,
        stage=stage,
        learn_from=learn_from or (),
    )
    if as_json:
        show.out(planning.heard_json(heard) + "\n")
        return
    show.paragraph(
        f"Written: {heard.path}. One after the other, equally loud: {', then '.join(heard.parts)}"
        f" (at {heard.distance_m:g} m, directivity factor {heard.directivity:g})."
    )
    show.paragraph(
        "The responses are noise that decays as predicted, with the direct sound before it: listen for how"
        " long it rings and how far the voice stands, not for echoes or modes."
    )
