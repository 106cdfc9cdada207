"""``roomir predict``: a described room in, decay times out."""

from __future__ import annotations

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
    Units,
    UnitsOption,
)


def predict(
    *,
    room: RoomArgument,
    materials: MaterialsOption = None,
    logbook: LogbookOption = None,
    stage: StageOption = None,
    learn_from: LearnOption = None,
    units: UnitsOption = Units.METRIC,
    no_air: Annotated[
        bool, typer.Option("--no-air", help="Leave out what the air absorbs, as handbooks' examples do.")
    ] = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the prediction as JSON and nothing else.")
    ] = False,
    debug: DebugOption = False,
) -> None:
    """Predict how long a room will ring from its size and what its surfaces are made of.

    Five formulas side by side, the one that applies to your room with its
    interval, and how near a microphone has to stand.
    """
    del debug  # main() looks for it where every error ends up.
    prediction = planning.predict(
        room,
        materials=materials,
        logbook=logbook,
        with_air=not no_air,
        stage=stage,
        learn_from=learn_from or (),
    )
    from roomir.report.planning.prediction import prediction_json, prediction_text
    from roomir.report.unit_system import UNIT_SYSTEMS

    show.out(
        prediction_json(prediction) + "\n"
        if as_json
        else prediction_text(prediction, units=UNIT_SYSTEMS[units])
    )
