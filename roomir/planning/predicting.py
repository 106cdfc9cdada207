"""Predictions: what a described room will read."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from roomir.errors import ParameterError
from roomir.planning.learning import told
from roomir.report.saving import FilePath

if TYPE_CHECKING:  # they need numpy, which `roomir --help` does not
    from roomir.rooms.prediction import Prediction


def predict(
    room: FilePath,
    *,
    materials: FilePath | None = None,
    logbook: FilePath | None = None,
    with_air: bool = True,
    stage: str | None = None,
    learn_from: Sequence[FilePath] = (),
) -> Prediction:
    """Predict what a described room will read.

    Parameters
    ----------
    room, materials, logbook, stage : path
        As for :func:`roomir.planning.load_room`.
    with_air : bool, default True
        Whether the air absorbs as well.
    learn_from : sequence of path
        Readings of this room, as for :func:`roomir.planning.learning.knowledge_from`.

    Returns
    -------
    Prediction
        Five formulas per band, the one that applies or what the readings
        taught, and its interval.

    Raises
    ------
    RoomirError
        If the room, a table or a reading is wrong; ``air-was-read`` where the
        air is to be left out of what was learnt.
    """
    from roomir.rooms.prediction import Corrected
    from roomir.rooms.prediction import predict as work_out

    named = told(room, materials=materials, logbook=logbook, stage=stage, learn_from=learn_from)
    if named.knowledge is None:
        return work_out(named.room, with_air=with_air)
    if not with_air:
        raise ParameterError(
            "a reading has the air in it, so what was learnt from it cannot go without",
            code="air-was-read",
            remedy="leave out --no-air, which is for handbooks' examples, or --learn-from",
        )
    from roomir.plan.model import expect

    expected = expect(named.room, named.knowledge)
    corrected = Corrected(
        octaves=expected.octaves,
        body=expected.body,
        best_s=expected.decay_time_s,
        log_spread=expected.log_spread,
        method=expected.method,
        because=expected.because,
        learnt_from=expected.learnt_from,
    )
    return work_out(named.room, corrected=corrected)
