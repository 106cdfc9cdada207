"""``roomir logbook reread``: every reading again, with this version."""

from __future__ import annotations

import typer

from roomir import api
from roomir.cli import show
from roomir.cli.options import (
    DebugOption,
    JsonOption,
    LogbookOption,
    MaybeRoomOption,
    MaybeStageOption,
    narrowed,
)
from roomir.report.logbook import reread_document, reread_lines
from roomir.report.wording import fault_line


def reread(
    *,
    room: MaybeRoomOption = None,
    stage: MaybeStageOption = None,
    logbook: LogbookOption = None,
    as_json: JsonOption = False,
    debug: DebugOption = False,
) -> None:
    """Take readings again from the kept recordings, and show which numbers moved.

    Older readings stay; the newest counts. Leaves with 1 if a recording
    is missing or gave no reading.
    """
    del debug  # main() looks for it where every error ends up.
    with api.open_logbook(logbook) as book, show.progress() as progress:
        again = book.reread(book.takes(of=narrowed(book, room=room, stage=stage)), tell=progress)
    if as_json:
        show.done("", {"done": "reread", **reread_document(again)}, as_json=True)
    else:
        show.lines(reread_lines(again))
    failures = [one.failure for one in again if one.failure is not None]
    for failure in failures:
        show.line(fault_line(failure.path, says=failure.says, remedy=failure.remedy))
    raise typer.Exit(1 if failures else 0)
