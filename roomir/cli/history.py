"""``roomir history``: the story of a room over its stages."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from roomir import api
from roomir.cli import show
from roomir.cli.options import (
    DebugOption,
    JsonOption,
    LogbookOption,
    RoomOption,
    TargetOption,
    Units,
    UnitsOption,
)
from roomir.report.document import as_json_text
from roomir.report.history import history_document, render_history
from roomir.report.unit_system import UNIT_SYSTEMS


def history(
    *,
    room: RoomOption,
    target: TargetOption = None,
    units: UnitsOption = Units.METRIC,
    logbook: LogbookOption = None,
    as_json: JsonOption = False,
    figure: Annotated[
        Path | None,
        typer.Option(
            "--figure",
            metavar="FILE",
            help="Also draw decay times over the stages and over frequency; FILE ends in .png, .svg or .pdf.",
        ),
    ] = None,
    debug: DebugOption = False,
) -> None:
    """Show a room of the logbook over its stages: each against the one before and against the first.

    Leaves with 0 where some stage has a reading, 1 otherwise or if there is no
    such room, 2 if called wrongly.
    """
    del debug  # main() looks for it where every error ends up.
    if figure is not None:
        api.figure_format(figure)
    with api.open_logbook(logbook) as book, show.progress() as progress:
        tell = None if progress is None else lambda doing, part: progress(1, 1, room, doing, part)
        found = api.history(book, room=room, tell=tell)
    aims = api.history_aims(found, target=target)
    if as_json:
        show.out(as_json_text(history_document(found, aims=aims)) + "\n")
    else:
        shown = render_history(
            found, aims=aims, units=UNIT_SYSTEMS[units.value], colour=show.colour_wanted(sys.stdout)
        )
        show.out(shown)
    if figure is not None:
        show.silence_matplotlib()
        api.save_figure(api.draw_history(found, aims=aims, units=units.value), figure)
    raise typer.Exit(0 if any(stage.reading.bands for stage in found.stages) else 1)
