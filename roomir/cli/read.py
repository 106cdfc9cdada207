"""``roomir read``: recordings in, decay times out."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from roomir import api
from roomir.cli import show
from roomir.cli.options import BandSet, ChannelOption, DebugOption, TargetOption, room_size
from roomir.compare.aim import Aim
from roomir.reading.reading import Reading
from roomir.report.aims import aim_document, aim_says
from roomir.report.document import to_json
from roomir.report.room import RoomAdvice
from roomir.report.view import fault_lines, view


def read(
    *,
    takes: Annotated[
        list[Path],
        typer.Argument(
            metavar="TAKE",
            help=(
                "Sound or video files with claps, all from one room in one state:"
                " one file for every spot you clapped in."
            ),
        ),
    ],
    channel: ChannelOption = None,
    volume: Annotated[
        str | None,
        typer.Option(
            metavar="V",
            help="Volume of the room, as in 48 or 735 ft3: also tells where to stand.",
        ),
    ] = None,
    dimensions: Annotated[
        str | None,
        typer.Option(
            metavar="LxWxH",
            help=(
                "Length, width, height instead, as in 5x4x2.4 or '12 ft 6 in x 10 ft x 8 ft':"
                " also sets the modes of a box beside what is heard."
            ),
        ),
    ] = None,
    target: TargetOption = None,
    bands: Annotated[
        BandSet, typer.Option(help="Bands to read; thirds need longer decays.")
    ] = BandSet.OCTAVE,
    full: Annotated[
        bool,
        typer.Option("--full", help="Show every quantity of every band and clap, and what was set aside."),
    ] = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the reading as JSON and nothing else.")
    ] = False,
    csv: Annotated[
        Path | None,
        typer.Option("--csv", metavar="FILE", help="Also write every band with every quantity to this file."),
    ] = None,
    figure: Annotated[
        Path | None,
        typer.Option(
            "--figure",
            metavar="FILE",
            help=(
                "Also draw the decay times, the decays and the takes, for a phone's screen;"
                " FILE ends in .png, .svg or .pdf."
            ),
        ),
    ] = None,
    debug: DebugOption = False,
) -> None:
    """Read how long a room rings from recordings of claps in it.

    Clap once or twice, five seconds apart, a few steps away from the
    phone, with everybody silent; then move on to the next spot and record
    again. From four spots on the room's own differences are known.

    Leaves with 0 after a reading, 1 if there is none or a file failed
    (the others are read all the same), 2 if called wrongly.
    """
    del debug  # main() looks for it where every error ends up.
    if csv is not None:
        _refuse_to_overwrite_sound(csv, takes=takes)
    if figure is not None:
        _refuse_to_draw_over(figure, takes=takes)
    volume_m3, dimensions_m = room_size(volume, dimensions)
    if target is not None:
        api.check_target(target, volume_m3=volume_m3)

    page = None
    with show.progress() as progress:
        if figure is None:
            reading = api.read(
                takes,
                channel=channel,
                bands=bands.value,
                progress=progress,
                dimensions_m=dimensions_m,
            )
        else:
            show.silence_matplotlib()
            reading, page = api.read_and_draw(
                takes,
                channel=channel,
                bands=bands.value,
                progress=progress,
                dimensions_m=dimensions_m,
            )
    room = None
    if dimensions_m is not None:
        room = api.room_advice(reading, dimensions_m=dimensions_m)
    elif volume_m3 is not None:
        room = api.room_advice(reading, volume_m3=volume_m3)
    aim = None if target is None else api.aim(reading, target=target, volume_m3=volume_m3)
    _show(reading, room=room, aim=aim, full=full, as_json=as_json)
    if csv is not None:
        api.save_csv(reading, csv)
    if figure is not None and page is not None:
        api.save_figure(page, figure)
    raise typer.Exit(exit_status(reading))


def exit_status(reading: Reading) -> int:
    """Tell a script how it went: 0 with a decay time and something read from every file, otherwise 1."""
    some_time = any(room_band.figures.decay_time_s is not None for room_band in reading.bands)
    return 0 if some_time and not fault_lines(reading) else 1


def _show(reading: Reading, *, room: RoomAdvice | None, aim: Aim | None, full: bool, as_json: bool) -> None:
    if as_json:
        show.out(to_json(reading, room=room, target=None if aim is None else aim_document(aim)) + "\n")
    elif reading.takes:
        said = () if aim is None else aim_says(aim)
        show.reading_text(view(reading, room=room, target=said), full=full)
    show.failures(reading)


def _refuse_to_overwrite_sound(csv: Path, *, takes: list[Path]) -> None:
    # `--csv kitchen.wav hall.wav` is a slip of the hand that would cost a recording.
    if csv in takes or (csv.exists() and csv.suffix.lower() not in {".csv", ".txt"}):
        raise typer.BadParameter(
            f"{csv} exists and is no CSV file; it will not be overwritten", param_hint="--csv"
        )


def _refuse_to_draw_over(figure: Path, *, takes: list[Path]) -> None:
    api.figure_format(figure)
    if figure.exists() and any(take.exists() and take.samefile(figure) for take in takes):
        raise typer.BadParameter(f"{figure} is one of the recordings", param_hint="--figure")
