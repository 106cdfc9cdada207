"""``roomir treat``: what to hang so that a room meets a target."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from roomir import api, planning
from roomir.cli import show
from roomir.cli.options import (
    DebugOption,
    LearnOption,
    LogbookOption,
    MaterialsOption,
    RoomArgument,
    StageOption,
    Units,
    UnitsOption,
)


class Measure(StrEnum):
    """What a proposal keeps small."""

    AREA = "area"
    COST = "cost"
    COUNT = "count"


def treat(
    *,
    room: RoomArgument,
    target: Annotated[
        str,
        typer.Option(
            metavar="TARGET", help="A name from 'roomir targets', seconds as in 0.2-0.3, or a TOML file."
        ),
    ],
    turned_target: Annotated[
        str | None,
        typer.Option(
            "--turned-target",
            metavar="TARGET",
            help="A second target, to be met by the same panels turned round (two-sided panels).",
        ),
    ] = None,
    least: Annotated[Measure, typer.Option(help="What is to be least.")] = Measure.AREA,
    absorber: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME", help="Choose only from this material; may be given several times."),
    ] = None,
    keep: Annotated[
        list[str] | None,
        typer.Option(metavar="SURFACE", help="Leave this surface as it is; may be given several times."),
    ] = None,
    price: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME=PRICE", help="Price per m2 of a material, for --least cost."),
    ] = None,
    materials: MaterialsOption = None,
    logbook: LogbookOption = None,
    stage: StageOption = None,
    learn_from: LearnOption = None,
    units: UnitsOption = Units.METRIC,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the proposal as JSON and nothing else.")
    ] = False,
    figure: Annotated[
        Path | None,
        typer.Option(
            "--figure",
            metavar="FILE",
            help="Also draw now, then and thin foam everywhere; FILE ends in .png, .svg or .pdf.",
        ),
    ] = None,
    debug: DebugOption = False,
) -> None:
    """Propose which absorbers, how many and where, so that every band is inside a target.

    Every band has to be inside with a probability of 80 %; where nothing
    can do that, the nearest choice is shown with the reason.
    """
    del debug  # main() looks for it where every error ends up.
    if figure is not None:
        api.figure_format(figure)
    proposal = planning.treat(
        room,
        target=target,
        turned_target=turned_target,
        least=least.value,
        absorbers=absorber or (),
        keep=keep or (),
        prices=dict(map(_priced, price or ())),
        materials=materials,
        logbook=logbook,
        stage=stage,
        learn_from=learn_from or (),
    )
    from roomir.report.planning.proposal import proposal_json, proposal_text
    from roomir.report.unit_system import UNIT_SYSTEMS

    show.out(
        proposal_json(proposal) + "\n" if as_json else proposal_text(proposal, units=UNIT_SYSTEMS[units])
    )
    if figure is not None:
        show.silence_matplotlib()
        api.save_figure(planning.proposal_figure(proposal), figure)


def _priced(text: str) -> tuple[str, float]:
    name, _, value = text.rpartition("=")
    try:
        price = float(value)
    except ValueError:
        price = -1.0
    if not name.strip() or not 0.0 <= price < 1e9:
        raise typer.BadParameter(f'"{text}" is no price; write "NAME=18"', param_hint="--price")
    return name.strip(), price
