"""``roomir log``: recordings in, kept with their readings by room and stage."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from roomir import api
from roomir.cli import show
from roomir.cli.ask import about_names
from roomir.cli.options import (
    BandSet,
    DebugOption,
    DimensionsOption,
    JsonOption,
    LogbookOption,
    NewOption,
    RoomOption,
    VolumeOption,
    YesOption,
    parse_day,
    parse_size,
)
from roomir.errors import ParameterError
from roomir.logbook.values import About, File, Logged
from roomir.report.logbook import logged_line, together_text
from roomir.report.logbook_document import as_json as document_as_json
from roomir.report.logbook_document import log_document
from roomir.report.wording import fault_line

_KEPT = ("kept", "already kept")


def log(
    *,
    takes: Annotated[
        list[Path],
        typer.Argument(metavar="TAKE", help="Sound or video files with claps, one for every spot."),
    ],
    room: RoomOption,
    stage: Annotated[
        str,
        typer.Option(
            "--stage",
            metavar="STAGE",
            help="The state the room was in, as in 'bare' or 'panels fitted'; made on first use.",
        ),
    ],
    volume: VolumeOption = None,
    dimensions: DimensionsOption = None,
    spot: Annotated[
        list[str] | None,
        typer.Option(
            "--spot",
            metavar="NAME",
            help="Name of the spot: the same spot in the next stage can be compared on its own."
            " Give it once for each take, in their order.",
        ),
    ] = None,
    source: Annotated[
        list[str] | None,
        typer.Option("--source", metavar="WHERE", help="Where the clap was; once for all takes or for each."),
    ] = None,
    mic: Annotated[
        list[str] | None,
        typer.Option("--mic", metavar="WHERE", help="Where the microphone was; once for all or for each."),
    ] = None,
    made_with: Annotated[
        list[str] | None,
        typer.Option("--with", metavar="WHAT", help="What made the sound: hands, balloon, boards."),
    ] = None,
    temperature: Annotated[
        float | None, typer.Option("--temperature", metavar="C", help="Of the air, in degrees Celsius.")
    ] = None,
    humidity: Annotated[
        float | None, typer.Option("--humidity", metavar="PERCENT", help="Relative humidity of the air.")
    ] = None,
    note: Annotated[str, typer.Option("--note", metavar="TEXT", help="A note on these takes.")] = "",
    done: Annotated[
        str, typer.Option("--done", metavar="TEXT", help="What was done to the room to come to this stage.")
    ] = "",
    date: Annotated[
        str | None,
        typer.Option("--date", metavar="DAY", help="The day the room was in this state, as in 2024-05-03."),
    ] = None,
    channel: Annotated[
        int | None, typer.Option(min=1, metavar="N", help="Use only this channel, counted from 1.")
    ] = None,
    bands: Annotated[BandSet, typer.Option(help="Bands to read.")] = BandSet.OCTAVE,
    new: NewOption = False,
    yes: YesOption = False,
    logbook: LogbookOption = None,
    as_json: JsonOption = False,
    debug: DebugOption = False,
) -> None:
    """Read recordings and keep them in the logbook, by room and stage.

    Room and stage are made on first use. The recording itself is kept too,
    even where nothing could be read from it. A sound that is there already is
    not kept twice.

    Leaves with 0 if all is kept, 1 if some file gave no reading or is kept in
    another stage, 2 if called wrongly.
    """
    del debug  # main() looks for it where every error ends up.
    files = [
        File(
            path=path,
            about=About(
                spot=one_spot,
                source_position=one_source,
                microphone_position=one_mic,
                made_with=one_made,
                temperature_c=temperature,
                humidity_percent=humidity,
                note=note,
            ),
        )
        for path, one_spot, one_source, one_mic, one_made in zip(
            takes,
            _for_each(spot, takes=takes, option="--spot", shared=False),
            _for_each(source, takes=takes, option="--source"),
            _for_each(mic, takes=takes, option="--mic"),
            _for_each(made_with, takes=takes, option="--with"),
            strict=True,
        )
    ]
    size, day, decide = (
        parse_size(volume=volume, dimensions=dimensions),
        parse_day(date),
        about_names(yes=yes, new=new),
    )
    with api.open_logbook(logbook, create=True) as book, show.progress() as progress:
        result = book.log(
            files,
            room=room,
            stage=stage,
            size=size,
            day=day,
            done=done,
            channel=channel,
            band_set=bands.value,
            decide=decide,
            tell=progress,
            confirm=None if as_json else _confirm,
        )
    if as_json:
        show.out(document_as_json(log_document(result)) + "\n")
    else:
        show.out(together_text(result))
    for one in result.takes:
        if one.failure is not None and one.outcome not in _KEPT:
            show.line(fault_line(one.failure.path, says=one.failure.says, remedy=one.failure.remedy))
    raise typer.Exit(0 if all(one.outcome in _KEPT for one in result.takes) else 1)


def _confirm(one: Logged) -> None:
    if one.outcome != "kept elsewhere":
        show.out(logged_line(one.outcome, name=one.name, take=one.take) + "\n")
        show.flush()


def _for_each(values: list[str] | None, *, takes: list[Path], option: str, shared: bool = True) -> list[str]:
    if not values:
        return [""] * len(takes)
    if len(values) == len(takes):
        return values
    if len(values) == 1 and shared:
        return values * len(takes)
    once = "once, or " if shared else ""
    raise ParameterError(
        f"{option} is given {len(values)} times for {len(takes)} takes",
        code="not-one-for-each",
        remedy=f"give it {once}once for each take, in their order",
    )
