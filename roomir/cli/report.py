"""``roomir report``: the page of a room."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from roomir import api, planning
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
from roomir.report.history import history_document
from roomir.report.planning.next_step import next_step_document


def report(
    *,
    room: RoomOption,
    out: Annotated[
        Path, typer.Option("--out", "-o", metavar="FILE.html", help="Where the page goes; replaced if there.")
    ] = Path("room.html"),
    target: TargetOption = None,
    room_file: Annotated[
        Path | None,
        typer.Option(
            "--room-file",
            metavar="FILE",
            help="The room's description as it is now (`roomir room new` writes one), to say what to hang"
            " next; without it the one kept with the room counts.",
        ),
    ] = None,
    hear: Annotated[
        bool,
        typer.Option(
            "--hear", help="With --target: two players on the page, the room as it is and as proposed."
        ),
    ] = False,
    dry: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="A sound recorded without a room, for --hear; a synthetic voice if left out.",
        ),
    ] = None,
    units: UnitsOption = Units.METRIC,
    pdf: Annotated[
        Path | None,
        typer.Option("--pdf", metavar="FILE", help="Also print the page to this file, with a browser."),
    ] = None,
    csv: Annotated[
        Path | None,
        typer.Option("--csv", metavar="FILE", help="Also write every band of every stage to this file."),
    ] = None,
    logbook: LogbookOption = None,
    as_json: JsonOption = False,
    debug: DebugOption = False,
) -> None:
    """Write the story of a room on one page, to show to somebody or to print.

    The page is one file that needs nothing else and fetches nothing. With a
    target it also says what to hang next.

    Leaves with 0 where some stage has a reading, 1 otherwise or if there is no
    such room, 2 if called wrongly.
    """
    del debug  # main() looks for it where every error ends up.
    _refuse_other_files(out, suffixes=(".html", ".htm"), option="--out")
    if pdf is not None:
        _refuse_other_files(pdf, suffixes=(".pdf",), option="--pdf")
    if csv is not None:
        _refuse_other_files(csv, suffixes=(".csv", ".txt"), option="--csv")
    show.silence_matplotlib()
    with api.open_logbook(logbook) as book, show.progress() as progress:
        tell = None if progress is None else lambda doing, part: progress(1, 1, room, doing, part)
        found = api.history(book, room=room, tell=tell)
        description = book.room(room).description
    aims = api.history_aims(found, target=target)
    step = planning.next_step(
        found,
        description=description,
        room_file=room_file,
        target=target,
        with_players=hear or dry is not None,
        dry=dry,
    )
    api.write_report(
        found, out, aims=aims, units=units.value, now=datetime.now(tz=UTC).astimezone(), step=step
    )
    if as_json:
        next_step = None if step is None else next_step_document(step)
        document = {**history_document(found, aims=aims), "next_step": next_step}
        show.out(as_json_text(document) + "\n")
    else:
        show.out(f"written: {out}\n")
    if csv is not None:
        api.save_history_csv(found, csv)
    if pdf is not None:
        api.write_pdf(out, pdf)
    raise typer.Exit(0 if any(stage.reading.bands for stage in found.stages) else 1)


def _refuse_other_files(path: Path, *, suffixes: tuple[str, ...], option: str) -> None:
    # `-o kitchen.wav` is a slip of the hand that would cost a recording.
    if path.suffix.lower() not in suffixes:
        raise typer.BadParameter(f"let {path} end in {suffixes[0]}", param_hint=option)
