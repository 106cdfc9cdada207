"""A background that does not stay what it is while a clap dies away: wind, a machine that starts."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from roomir.bands.band import Band
from roomir.faults.fault import Fault
from roomir.faults.heard import Finding, Heard
from roomir.faults.octaves import OctaveRuns
from roomir.remarks import Remark

_CHUNK_S = 0.15
_LEAST_CHUNKS = 3
_FEW_CHUNKS = 6
_SUNK_DB = 3.0
_SILENT_DB = -200.0
_LEAST_DB = 6.0
_DEGREES_DB = 50.0
_WIND_HZ = 300.0


def find_changes(heard: Heard, runs: OctaveRuns, *, bands: Sequence[Band]) -> list[Finding]:
    """Name a clap behind which the background changes, and the octaves in which it does.

    The fit takes the background for steady: one that grows looks like a
    slower decay, one that falls off like a faster one.
    """
    if not heard.clap.used:
        return []
    changes = background_changes_db(runs)
    struck = [octave for octave, db in zip(runs.octaves, changes, strict=True) if db > _limit_db(octave)]
    if not struck:
        return []
    columns = tuple(
        column
        for column, band in enumerate(bands)
        if any(octave.low_hz <= band.exact_hz <= octave.high_hz for octave in struck)
        or (band.high_hz <= runs.octaves[0].low_hz * 1.01 and struck[0] is runs.octaves[0])
    )
    windy = struck[-1].exact_hz < _WIND_HZ
    names = ", ".join(f"{octave.nominal_hz:g} Hz" for octave in struck)
    remark = Remark(
        code="background-changes",
        says=f"behind the clap the background changes by {max(changes):.0f} dB ({names}):"
        f" {'wind, or the phone was moved' if windy else 'something was switched on or off, or moved'}",
        remedy="put a windscreen over the phone, lay it down and keep your hands off it"
        if windy
        else "wait until machines run steadily or are off, then clap again",
    )
    return [Finding(fault=Fault(remark=remark, take=heard.take, place=heard.place, columns=columns))]


def background_changes_db(runs: OctaveRuns) -> NDArray[np.float64]:
    """Distance of 150 ms of background from their median that two of them keep, per octave. [dB]

    One alone is a sound and no change of the background. Counted from where
    the octave has come within 3 dB of its lower levels; 0 where less than
    half a second of background is heard.
    """
    n_chunk = max(round(_CHUNK_S / runs.frame_s), 1)
    total = runs.power.sum(axis=1)
    n_chunks = total.shape[1] // n_chunk
    out = np.zeros(len(runs.octaves))
    if n_chunks < _LEAST_CHUNKS + 2:
        return out
    chunks = total[:, : n_chunks * n_chunk].reshape(len(runs.octaves), n_chunks, n_chunk).mean(axis=2)
    level_db = 10.0 * np.log10(np.maximum(chunks, 1e-30))
    low_db = np.sort(level_db, axis=1)[:, n_chunks * 3 // 10]
    first = (level_db < low_db[:, np.newaxis] + _SUNK_DB).argmax(axis=1) + 1
    for i in np.flatnonzero(n_chunks - first >= _LEAST_CHUNKS):
        late_db = level_db[i, first[i] :]
        if late_db.size <= _FEW_CHUNKS and (np.diff(late_db) < 0.0).all():
            # A decay that the next sound cuts off: no background has been heard yet.
            continue
        late_db = np.sort(late_db)
        # What is digitally silent behind a take is no background.
        if late_db[0] > _SILENT_DB:
            middle_db = late_db[late_db.size // 2]
            out[i] = max(late_db[-2] - middle_db, middle_db - late_db[1])
    return out


def _limit_db(octave: Band) -> float:
    """What chance does not reach: an octave of 90 Hz has 20 independent values in 150 ms."""
    return max(_LEAST_DB, _DEGREES_DB / float(np.sqrt(_CHUNK_S * octave.width_hz)) * 0.7)
