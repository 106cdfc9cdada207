"""The reading of all takes of a stage together: kept, and taken again when the takes are others."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from functools import partial

from roomir.errors import AudioError
from roomir.logbook import queries
from roomir.logbook.keep import as_text
from roomir.logbook.reader import Heard, Reader
from roomir.logbook.store import Store
from roomir.logbook.values import Stage, mid_time
from roomir.reading.reading import Failure, Reading

Doing = Callable[[str, float], None]
"""Told what is being done and how far that is, from 0 to 1."""


def kept_together(store: Store, stage: Stage) -> Reading | None:
    """Return the kept reading of a stage, None where its takes are no longer the same."""
    row = store.database.one("SELECT takes, document FROM stage_reading WHERE stage_id = ?", stage.id)
    takes = queries.takes(store.database, of_stage=stage)
    if row is None or row["takes"] != queries.together_key([take.id for take in takes]):
        return None
    return queries.decoded(store.database, row["document"])


def read_together(
    store: Store,
    stage: Stage,
    *,
    reader: Reader,
    heard: Mapping[str, Heard] | None = None,
    tell: Doing | None = None,
) -> Reading:
    """Read all takes of a stage together from the kept recordings, and keep the reading.

    Parameters
    ----------
    store : Store
        The logbook.
    stage : Stage
        The stage.
    reader : Reader
        Who reads.
    heard : mapping of str to Heard, optional
        What has been heard just now, by hash.
    tell : callable, optional
        Told how it goes.

    Returns
    -------
    Reading
        Takes that gave no reading of their own are among its failures. It
        is not kept where a recording is missing or damaged.
    """
    takes = queries.takes(store.database, of_stage=stage)
    together: list[Heard] = []
    failures: list[Failure] = []
    all_there = True
    for take in takes:
        if take.failure is not None:
            failures.append(take.failure)
        elif heard is not None and take.sha256 in heard:
            together.append(heard[take.sha256])
        else:
            try:
                together.append(
                    reader.hear(
                        store.recordings.path(take.sha256),
                        name=take.name,
                        channel=take.channel,
                        tell=None if tell is None else partial(tell, "listening"),
                    )
                )
            except AudioError as error:
                all_there = False
                failures.append(missing(take.name, error))
    band_set = takes[0].band_set if takes else "octave"
    reading = reader.read(together, band_set=band_set, failures=failures)
    if all_there:
        key = queries.together_key([take.id for take in takes])
        with store.database.writing():
            # The stage may be gone by now, or have other takes; then the key tells.
            keep_together(store, stage.id, reading, key=key, read_at=store.now())
    return reading


def missing(name: str, error: AudioError) -> Failure:
    """Say that a kept recording is no longer what it was."""
    return Failure(
        path=name,
        code="recording-missing",
        says=f"{name}: its recording is missing from the logbook or damaged ({error.code})",
        remedy="run roomir logbook check; log the file again from where it came, or put back a copy",
    )


def keep_together(store: Store, stage_id: int, reading: Reading, *, key: str, read_at: datetime) -> None:
    """Keep the reading of the takes of a stage that a key names; whoever calls holds the lock."""
    mid = mid_time(reading)
    low_s, high_s = mid.ci95_s or (None, None)
    spots = max((one.spots for one in reading.bands), default=0)
    store.database.change(
        "INSERT OR REPLACE INTO stage_reading SELECT id, ?,?,?,?,?,?,?,?,? FROM stage WHERE id = ?",
        *(key, read_at.isoformat(), reading.roomir_version),
        *(mid.decay_time_s, low_s, high_s, spots, mid.verdict, as_text(reading), stage_id),
    )
