"""From the logbook's values to those of a comparison: where both are known."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from roomir.compare.change import Climate
from roomir.logbook.values import Stage, Take
from roomir.reading.reading import Reading

if TYPE_CHECKING:  # it needs numpy, which `roomir --help` does not
    from roomir.compare.history import StageReading


def stage_reading(stage: Stage, reading: Reading, *, takes: Sequence[Take]) -> StageReading:
    """Put together what is known of a stage.

    Parameters
    ----------
    stage : Stage
        The stage as it is kept.
    reading : Reading
        Over all its takes.
    takes : sequence of Take
        Every take that is kept in it.

    Returns
    -------
    StageReading
        With a position for each of the reading's takes, and the mean of the
        temperatures and humidities that were written down.
    """
    from roomir.compare.history import NamedTake, StageReading

    spots = {sha256: take.about.spot for take in takes for sha256 in (take.sha256, take.original_sha256)}
    return StageReading(
        name=stage.name,
        reading=reading,
        takes=tuple(NamedTake(sha256=take.sha256, name=take.name) for take in takes),
        positions=tuple(spots.get(one.sha256 or "") or None for one in reading.takes),
        climate=Climate(
            temperature_c=_mean([take.about.temperature_c for take in takes]),
            humidity_percent=_mean([take.about.humidity_percent for take in takes]),
        ),
        date=stage.date,
        done=stage.done,
        note=stage.note,
        sources=tuple(dict.fromkeys(take.about.made_with for take in takes if take.about.made_with)),
    )


def _mean(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return sum(known) / len(known) if known else None
