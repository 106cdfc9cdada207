"""Taking readings again with this version of the analysis, and which numbers moved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from functools import partial

from roomir.errors import AudioError
from roomir.logbook import queries
from roomir.logbook.keep import add_reading
from roomir.logbook.log import Tell
from roomir.logbook.outcomes import Moved, Reread
from roomir.logbook.reader import Reader
from roomir.logbook.store import Store
from roomir.logbook.together import missing, read_together
from roomir.logbook.values import Take
from roomir.reading.reading import BandFigures, Failure, Reading

_FIGURES = tuple(
    one.name for one in fields(BandFigures) if one.name not in ("band", "spot_ci95_s", "ci95_s", "reasons")
)
SAME = 1e-6
"""Two readings of the same sound that differ by less differ by the rounding of the arithmetic."""


def reread(store: Store, takes: Sequence[Take], *, reader: Reader, tell: Tell | None) -> tuple[Reread, ...]:
    """Read takes again from their kept recordings; a reading that moved is kept beside the older ones."""
    out = []
    for i, take in enumerate(takes, start=1):
        news = None if tell is None else partial(tell, i, len(takes), take.name, "listening")
        before = queries.reading_of(store.database, take)
        failure: Failure | None
        reading: Reading | None = None
        try:
            heard = reader.hear(
                store.recordings.path(take.sha256), name=take.name, channel=take.channel, tell=news
            )
            reading = reader.read([heard], band_set=take.band_set)
            failure = next(iter(reading.failures), None)
        except AudioError as error:
            # What gave no sound when it came is no trouble with the recording.
            failure = take.failure if take.failure is not None else missing(take.name, error)
        moved = () if before is None or reading is None else compare_figures(before, reading)
        if reading is not None and (
            before is None or moved or before.roomir_version != reading.roomir_version
        ):
            _keep(store, take, reading, failure=failure)
        out.append(
            Reread(
                take=queries.take_by_id(store.database, take.id),
                version_before=None if before is None else before.roomir_version,
                moved=moved,
                failure=failure,
            )
        )
    for stage_id in store.database.rows(
        "SELECT DISTINCT stage_id FROM take WHERE removal_id IS NULL ORDER BY stage_id",
        make=lambda row: int(row[0]),
    ):
        stage = queries.stage_by_id(store.database, stage_id)
        if any((take.room, take.stage) == (stage.room, stage.name) for take in takes):
            read_together(store, stage, reader=reader)
    return tuple(out)


def compare_figures(before: Reading, after: Reading) -> tuple[Moved, ...]:
    """Return every figure over all claps that differs between two readings of the same sound."""
    then = {one.figures.band.nominal_hz: one.figures for one in before.bands}
    now = {one.figures.band.nominal_hz: one.figures for one in after.bands}
    return tuple(
        Moved(band_hz=band_hz, quantity=name, before=was, after=has_become)
        for band_hz in sorted(then.keys() | now.keys())
        for name in _FIGURES
        if _differs(
            was := getattr(then.get(band_hz), name, None), has_become := getattr(now.get(band_hz), name, None)
        )
    )


def _differs(before: object, after: object) -> bool:
    if isinstance(before, int | float) and isinstance(after, int | float):
        return abs(before - after) > SAME
    return before != after


def _keep(store: Store, take: Take, reading: Reading, *, failure: Failure | None) -> None:
    with store.database.writing():
        add_reading(store, take_id=take.id, reading=reading, read_at=store.now())
        store.database.change(
            "UPDATE take SET failure_code = ?, failure_says = ?, failure_remedy = ? WHERE id = ?",
            *((None,) * 3 if failure is None else (failure.code, failure.says, failure.remedy)),
            take.id,
        )
