"""How fast a large logbook is looked at, as ratios to bare sqlite3 reading the same rows.

2,000 takes with a reading each, in ten rooms of twenty stages. The list is the text that the command
prints, from opening the database on. The bare reading fetches every row that stands behind it (rooms,
stages, takes, and of their newest readings all but the document) and does nothing with them.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import sqlite3
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from roomir.logbook.folder import place_of
from roomir.logbook.keep import NewTake, add_reading, insert_take
from roomir.logbook.logbook import Logbook
from roomir.logbook.queries import rooms, stages, takes, together_key
from roomir.logbook.recordings import Kept
from roomir.logbook.stages import Where, find_or_make
from roomir.logbook.store import open_store
from roomir.logbook.together import keep_together
from roomir.logbook.values import About
from roomir.report.logbook import list_text
from tests.benchmarks.store import commit_name
from tests.logbook.books import Clock
from tests.readings import reading, take

N_ROOMS = 10
N_STAGES = 20
N_TAKES = 10

RESULTS = Path(__file__).parent / "results" / "logbook.json"

_ROWS = (
    "SELECT * FROM room",
    "SELECT * FROM stage",
    """
    SELECT take.*, newest.mid_s, newest.mid_low_s, newest.mid_high_s, newest.verdict, newest.roomir_version
    FROM take JOIN reading AS newest ON newest.take_id = take.id
    """,
    "SELECT stage_id, takes, mid_s, mid_low_s, mid_high_s, verdict, spots FROM stage_reading",
)


def make_book(path: Path) -> None:
    """Fill a logbook without going through 2,000 recordings."""
    store = open_store(path, create=True, now=Clock())
    with store.database.writing():
        for i in range(N_ROOMS * N_STAGES * N_TAKES):
            room_number, stage_number = divmod(i // N_TAKES, N_STAGES)
            sha256 = hashlib.sha256(str(i).encode()).hexdigest()
            where = Where(room=f"Room {room_number}", stage=f"Stage {stage_number}")
            stage_id = find_or_make(store, where, recorded=None).id
            new = NewTake(
                stage_id=stage_id,
                name=f"take {i}.wav",
                about=About(spot=f"spot {i % N_TAKES}"),
                recorded=(store.now(), "metadata"),
                logged_at=store.now(),
                channel=None,
                band_set="octave",
                failure=None,
            )
            kept = Kept(sha256=sha256, original_sha256=sha256, n_bytes=1, places_blanked=0)
            number = insert_take(store, new, kept=kept)
            made = reading(takes=(take(new.name, sha256=sha256),))
            add_reading(store, take_id=number, reading=made, read_at=store.now())
        for room in rooms(store.database):
            for stage in stages(store.database, room):
                key = together_key([one.id for one in takes(store.database, of_stage=stage)])
                keep_together(store, stage.id, reading(), key=key, read_at=store.now())
    store.database.close()


def read_rows(path: Path) -> int:
    """Fetch every row with bare sqlite3."""
    with contextlib.closing(sqlite3.connect(place_of(path).database)) as connection:
        return sum(len(connection.execute(sql).fetchall()) for sql in _ROWS)


def list_rooms(path: Path) -> str:
    """What ``roomir logbook list`` does."""
    with Logbook(path) as book:
        return list_text(book.summaries())


def read_stages(path: Path) -> int:
    """What a report on one room of twenty stages needs: the reading of every stage, ready to be compared."""
    with Logbook(path) as book:
        return sum(len(book.reading_together(stage).bands) for stage in book.stages(book.room("Room 3")))


def read_stage_rows(path: Path) -> int:
    """Fetch the readings of those stages with bare sqlite3, and parse their JSON."""
    sql = (
        "SELECT stage_reading.document FROM stage_reading JOIN stage ON stage.id = stage_id"
        " JOIN room ON room.id = room_id WHERE room.name = 'Room 3'"
    )
    with contextlib.closing(sqlite3.connect(place_of(path).database)) as connection:
        return len([json.loads(document) for (document,) in connection.execute(sql)])


def _seconds(run: Callable[[Path], object], path: Path) -> float:
    start = time.perf_counter()
    run(path)
    return time.perf_counter() - start


_PAIRS = {
    "list 2,000 readings / bare rows": (list_rooms, read_rows),
    "readings of 20 stages / bare rows, JSON parsed": (read_stages, read_stage_rows),
}


def main(*, n_rounds: int = 15) -> dict[str, float]:
    """Measure and print the ratios."""
    ratios = {}
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "book"
        make_book(path)
        for name, (ours, bare) in _PAIRS.items():
            ours(path)
            bare(path)
            ratios[name] = statistics.median(
                _seconds(ours, path) / _seconds(bare, path) for _ in range(n_rounds)
            )
            print(f"{name}: {ratios[name]:.2f}")
    RESULTS.write_text(
        json.dumps({"commit": commit_name(), "rounds": n_rounds, "ratios": ratios}, indent=1) + "\n"
    )
    return ratios


if __name__ == "__main__":
    main()
