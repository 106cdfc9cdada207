"""Whether a logbook is whole: the database, its rules, every recording, every reading."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable

from roomir.errors import LogbookError
from roomir.logbook import queries
from roomir.logbook.database import Schema, run_statements
from roomir.logbook.durable import UNFINISHED
from roomir.logbook.outcomes import Health
from roomir.logbook.store import Store
from roomir.remarks import Remark

_RESCUE = "bring out what can be with roomir logbook rescue FOLDER, or put back a copy"


def check(store: Store, *, tell: Callable[[int, int], None] | None = None) -> Health:
    """Go through everything that is kept.

    Parameters
    ----------
    store : Store
        The logbook.
    tell : callable, optional
        Told how many recordings of how many have been gone through.
    """
    database = store.database
    problems = [
        Remark(code="database-damaged", says=f"the database: {one}", remedy=_RESCUE)
        for one in database.complaints()
    ]
    with database.reading():
        problems += _structure(store)
        problems += _takes(store)
        n_readings, damaged = _readings(store)
        problems += damaged
        known = database.rows("SELECT sha256 FROM recording ORDER BY sha256", make=lambda row: str(row[0]))
        to_erase = set(database.rows("SELECT sha256 FROM erasure", make=lambda row: str(row[0])))
        (n_takes,) = database.rows("SELECT count(*) FROM take", make=lambda row: int(row[0]))
    for i, sha256 in enumerate(known, start=1):
        problems += _recording(store, sha256)
        if tell is not None:
            tell(i, len(known))
    lying_about = set(store.recordings.names()) - set(known)
    return Health(
        n_takes=n_takes,
        n_recordings=len(known),
        n_readings=n_readings,
        problems=tuple(problems),
        notes=tuple(_notes(store, to_erase=to_erase, orphans=lying_about - to_erase)),
    )


def _structure(store: Store) -> list[Remark]:
    wanted = sqlite3.connect(":memory:")
    try:
        run_statements(wanted, Schema().create)
        sql = "SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite_%' ORDER BY name"
        as_made = [row[0] for row in wanted.execute(sql)]
    finally:
        wanted.close()
    if store.database.structure() == as_made:
        return []
    return [
        Remark(
            code="database-damaged", says="the database: its tables are not those of roomir", remedy=_RESCUE
        )
    ]


def _takes(store: Store) -> list[Remark]:
    try:
        queries.takes(store.database)
        queries.summaries(store.database)
    except LogbookError:
        return [
            Remark(
                code="database-damaged", says="the database: a row holds what nobody wrote", remedy=_RESCUE
            )
        ]
    return []


def _readings(store: Store) -> tuple[int, list[Remark]]:
    database = store.database
    ids = database.rows("SELECT id FROM reading ORDER BY id", make=lambda row: int(row[0]))
    problems = []
    sources = [
        *(("SELECT document, take_id AS whose FROM reading WHERE id = ?", one, "take") for one in ids),
        *(
            ("SELECT document, stage_id AS whose FROM stage_reading WHERE stage_id = ?", one, "stage")
            for one in database.rows("SELECT stage_id FROM stage_reading", make=lambda row: int(row[0]))
        ),
    ]
    for sql, one, kind in sources:
        row = database.one(sql, one)
        assert row is not None
        try:
            queries.decoded(database, row["document"])
        except LogbookError:
            problems.append(
                Remark(
                    code="reading-damaged",
                    says=f"the reading of {kind} {row['whose']} cannot be read any more",
                    remedy="take it again with roomir logbook reread",
                )
            )
    return len(sources), problems


def _recording(store: Store, sha256: str) -> list[Remark]:
    try:
        whole = store.recordings.is_whole(sha256)
    except OSError as error:
        whole = False
        why = f"cannot be read ({error.strerror or error})"
    else:
        why = "is damaged" if store.recordings.path(sha256).exists() else "is missing"
    if whole:
        return []
    names = store.database.rows(
        "SELECT id, name FROM take WHERE sha256 = ? ORDER BY id",
        sha256,
        make=lambda row: f"take {row[0]}, {row[1]}",
    )
    whose = "; ".join(names) or "no take"
    return [
        Remark(
            code="recording-missing",
            says=f"the recording {sha256[:12]}... ({whose}) {why}",
            remedy="log the file again from where it came, or put back a copy",
        )
    ]


def _notes(store: Store, *, to_erase: set[str], orphans: set[str]) -> list[Remark]:
    notes = []
    if to_erase:
        notes.append(
            Remark(
                code="purge-unfinished",
                says=f"a purge was stopped before its recordings were erased: {len(to_erase)} to go",
                remedy="run roomir logbook purge again",
            )
        )
    unfinished = len(list(store.recordings.folder.glob(f"{UNFINISHED}*")))
    if orphans or unfinished:
        notes.append(
            Remark(
                code="leftovers",
                says="somebody was stopped while a take was being kept, and it was not confirmed;"
                f" unfinished copies: {unfinished}, recordings without a take: {len(orphans)}"
                + "".join(f", {store.recordings.path(sha256)}" for sha256 in sorted(orphans)),
                remedy="log that take again, or delete those files; unfinished copies go with the next take",
            )
        )
    return notes
