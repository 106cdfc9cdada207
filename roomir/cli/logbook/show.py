"""``roomir logbook show``: one room or stage with all its takes."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated

import typer

from roomir import api
from roomir.cli import show as screen
from roomir.cli.options import DebugOption, JsonOption, LogbookOption, MaybeStageOption, RoomOption
from roomir.report.logbook import show_text
from roomir.report.logbook_document import as_json as document_as_json
from roomir.report.logbook_document import rooms_document
from roomir.report.view import view


def show(
    *,
    room: RoomOption,
    stage: MaybeStageOption = None,
    full: Annotated[
        bool, typer.Option("--full", help="Show every quantity of every band and clap of the stage.")
    ] = False,
    logbook: LogbookOption = None,
    as_json: JsonOption = False,
    debug: DebugOption = False,
) -> None:
    """Show a room with its stages and every take, or one stage with the reading of all its takes."""
    del debug  # main() looks for it where every error ends up.
    with api.open_logbook(logbook) as book, screen.progress() as progress:
        of_room = book.room(room)
        wanted = book.stages(of_room) if stage is None else (book.stage(of_room, stage),)
        tell = None if progress is None else lambda doing, part: progress(1, 1, room, doing, part)
        readings = {one.id: book.reading_together(one, tell=tell) for one in wanted if book.takes(of=one)}
        (summary,) = book.summaries(of=of_room)
        takes = book.takes(of=of_room)
    ids = {one.id for one in wanted}
    summary = replace(summary, stages=tuple(one for one in summary.stages if one.stage.id in ids))
    if as_json:
        made = rooms_document([summary], takes=takes, together=readings)
        screen.out(document_as_json(made) + "\n")
        return
    screen.out(show_text(summary, takes))
    if stage is not None:
        for reading in readings.values():
            screen.out("\n")
            screen.reading_text(view(reading), full=full)
