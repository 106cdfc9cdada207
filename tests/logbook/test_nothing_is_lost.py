"""Whatever happens to process, disk or file: what was confirmed is there, or one error says why not."""

from __future__ import annotations

import contextlib
import os
import random
import resource
import shutil
import sqlite3
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from roomir.errors import LogbookError
from roomir.logbook import database
from roomir.logbook.keep import STEPS
from roomir.logbook.logbook import Logbook
from roomir.logbook.remove import PURGE_STEPS
from roomir.logbook.rescue import rescue
from tests.logbook.books import PreparedReader, open_book, sound
from tests.logbook.child import said, start
from tests.logbook.kills import kill_at_random, look

linux_only = pytest.mark.skipif(sys.platform != "linux", reason="limits and users work differently there")


# ------------------------------------------------------------------ being stopped


@pytest.mark.parametrize("step", STEPS)
def test_being_killed_between_two_steps_loses_nothing_that_was_confirmed(step: str, tmp_path: Path):
    with open_book(tmp_path / "book") as book:
        before = book.log([sound(tmp_path, "before.wav")], room="Room", stage="Stage").takes[0].take
    assert before is not None
    child = start(tmp_path / "book", "--count", "1", "--stop-at", step)
    out, trouble = child.communicate()

    assert child.returncode == -9
    assert (out, trouble) == (b"", b"")
    look(tmp_path / "book", kept={before.sha256})
    file = tmp_path / "to log take" / "take-0.wav"
    with open_book(tmp_path / "book", create=False) as book:
        n_takes = len(book.takes())
        (again,) = book.log([file], room="Room", stage="Stage").takes
        assert n_takes == (2 if step == "committed" else 1)
        assert again.outcome == ("already kept" if step == "committed" else "kept")
        assert book.check().notes == (), "and what lay about is gone"


@pytest.mark.parametrize("step", PURGE_STEPS)
def test_being_killed_while_purging_only_means_to_purge_again(step: str, tmp_path: Path):
    child = start(tmp_path / "book", "--count", "3", "--purge", "--stop-at", step)
    out, _ = child.communicate()
    kept = [sha256 for what, sha256 in said(out) if what == "kept"]

    assert child.returncode == -9
    look(tmp_path / "book", kept=set(kept[:2]))
    with open_book(tmp_path / "book", create=False) as book:
        book.purge()
        assert [take.sha256 for take in book.takes()] == kept[:2]
        assert book.check().notes == ()
    left = {path.name for path in (tmp_path / "book" / "logbook.recordings").iterdir()}
    assert left == set(kept[:2])


def test_the_steps_come_in_their_order_and_everything_is_synced_between(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    seen: list[str] = []
    real = os.fsync

    def fsync(descriptor: int) -> None:
        seen.append("folder" if Path(f"/proc/self/fd/{descriptor}").is_dir() else "file")
        real(descriptor)

    with open_book(tmp_path, at=seen.append) as book:
        book.log([sound(tmp_path / "in", "a.wav")], room="R", stage="S")
        monkeypatch.setattr(os, "fsync", fsync)
        seen.clear()
        book.log([sound(tmp_path / "in", "b.wav")], room="R", stage="S")

    assert tuple(step for step in seen if step in STEPS) == STEPS
    if sys.platform == "linux":
        assert seen[1:6] == ["recording written", "file", "recording synced", "recording renamed", "folder"]


def test_twenty_kills_at_random_moments_lose_nothing(tmp_path: Path):
    tally = kill_at_random(tmp_path, n_kills=20, seed=5)

    assert tally["kills"] == 20
    assert tally["kept"] >= 20


# ------------------------------------------------------------------ two at once


def test_two_who_log_at_once_lose_nothing_and_neither_is_refused(tmp_path: Path):
    both = [start(tmp_path / "book", "--name", name, "--count", "25") for name in ("one", "two")]
    outs = [child.communicate() for child in both]

    assert [child.returncode for child in both] == [0, 0], outs
    confirmed = {sha256 for out, _ in outs for _, sha256 in said(out)}
    assert len(confirmed) == 50
    look(tmp_path / "book", kept=confirmed)


def test_two_with_the_same_sound_keep_it_once(tmp_path: Path):
    file = sound(tmp_path, "a.wav")
    reader = PreparedReader()
    inner = open_book(tmp_path / "book")

    class Meanwhile(PreparedReader):
        def hear(self, path: Path, **options: object) -> object:  # type: ignore[override]
            if not inner.takes():
                inner.log([file], room="R", stage="other")
            return reader.hear(path, **options)  # type: ignore[arg-type]

    with inner, open_book(tmp_path / "book", reader=Meanwhile()) as book:
        (logged,) = book.log([file], room="R", stage="S").takes
        assert logged.outcome == "kept elsewhere"
        assert len(book.takes()) == 1


def test_who_writes_waits_for_another_who_writes(tmp_path: Path):
    with open_book(tmp_path / "book") as book:
        book.log([sound(tmp_path, "a.wav")], room="R", stage="S")
        other = sqlite3.connect(
            tmp_path / "book" / "logbook.sqlite", isolation_level=None, check_same_thread=False
        )
        other.execute("BEGIN IMMEDIATE")
        timer = threading.Timer(0.4, lambda: other.execute("COMMIT"))
        timer.start()
        (logged,) = book.log([sound(tmp_path, "b.wav")], room="R", stage="S").takes
        timer.join()
        other.close()

        assert logged.outcome == "kept"


def test_who_waits_for_ever_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(database, "BUSY_S", 0.05)
    with open_book(tmp_path / "book") as book:
        book.log([sound(tmp_path, "a.wav")], room="R", stage="S")
        other = sqlite3.connect(tmp_path / "book" / "logbook.sqlite", isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(LogbookError) as error:
            book.log([sound(tmp_path, "b.wav")], room="R", stage="S")
        other.close()

        assert error.value.code == "logbook-busy"
        assert len(book.takes()) == 1


# ------------------------------------------------------------------ a full disk, a locked folder


@linux_only
@pytest.mark.parametrize("limit_kib", [2, 60, 200])
def test_a_full_disk_takes_back_nothing_and_is_one_clear_error(limit_kib: int, tmp_path: Path):
    def limited() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (limit_kib << 10, limit_kib << 10))

    child = start(tmp_path / "book", "--count", "60", "--kib", "4", preexec_fn=limited)
    out, trouble = child.communicate()

    assert child.returncode == 1
    assert b"roomir.errors.LogbookError" in trouble
    assert b"disk" in trouble or b"cannot be written" in trouble
    confirmed = {sha256 for _, sha256 in said(out)}
    if limit_kib == 200:
        assert confirmed
        look(tmp_path / "book", kept=confirmed)
        with open_book(tmp_path / "book", create=False) as book:
            # The child tells of a take once the whole stage is kept as well; the disk may fill between them.
            assert 0 <= len(book.takes()) - len(confirmed) <= 1


@contextmanager
def _as_nobody() -> Iterator[None]:
    as_root = os.geteuid() == 0
    if as_root:
        os.setegid(65534)
        os.seteuid(65534)
    try:
        yield
    finally:
        if as_root:
            os.seteuid(0)
            os.setegid(0)


@linux_only
def test_a_folder_one_may_not_write_to_is_named_and_can_still_be_looked_at():
    with tempfile.TemporaryDirectory() as name:  # not tmp_path, whose parents are closed to others
        folder = Path(name)
        folder.chmod(0o755)
        with open_book(folder / "book") as book:
            book.log([sound(folder, "a.wav")], room="R", stage="S")
        for path in (folder / "book", folder / "book" / "logbook.recordings"):
            path.chmod(0o555)
        file = sound(folder, "b.wav")
        before = (folder / "book" / "logbook.sqlite").read_bytes()
        (folder / "book" / "logbook.sqlite").chmod(0o444)
        with _as_nobody():
            with pytest.raises(LogbookError) as error:
                Logbook(folder / "new", create=True)
            assert error.value.code == "logbook-locked-away"
            with open_book(folder / "book", create=False) as book:
                assert [room.name for room in book.rooms()] == ["R"]
                with pytest.raises(LogbookError) as error:
                    book.log([file], room="R", stage="S")
                assert error.value.code == "logbook-locked-away"
        (folder / "book").chmod(0o755)
        assert (folder / "book" / "logbook.sqlite").read_bytes() == before


# ------------------------------------------------------------------ files that are none, or no longer


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A logbook with twenty takes in four stages of two rooms."""
    folder = tmp_path_factory.mktemp("whole")
    with open_book(folder / "book") as book:
        for i in range(20):
            room, stage = f"Room {i // 10}", f"Stage {i // 5}"
            book.log([sound(folder / "in", f"{i}.wav")], room=room, stage=stage)
    return folder / "book"


def _copy(whole: Path, folder: Path) -> Path:
    return Path(shutil.copytree(whole, folder / "book"))


def _random_bytes_in_the_middle(path: Path) -> None:
    content = bytearray(path.read_bytes())
    middle = len(content) // 2
    content[middle : middle + 20_000] = random.Random(3).randbytes(20_000)
    path.write_bytes(content)


DAMAGE: dict[str, Callable[[Path], object]] = {
    "nothing but random bytes": lambda path: path.write_bytes(random.Random(1).randbytes(50_000)),
    "a text": lambda path: path.write_text("Shopping: mineral wool\n" * 99),
    "no beginning": lambda path: path.write_bytes(bytes(4096) + path.read_bytes()[4096:]),
    "no end": lambda path: path.write_bytes(path.read_bytes()[: path.stat().st_size // 2]),
    "random bytes in the middle": _random_bytes_in_the_middle,
    "empty": lambda path: path.write_bytes(b""),
    "gone": lambda path: path.unlink(),
}


@pytest.mark.parametrize("kind", DAMAGE)
def test_a_damaged_logbook_is_one_clear_error_and_every_recording_comes_out(
    kind: str, whole: Path, tmp_path: Path
):
    path = _copy(whole, tmp_path)
    DAMAGE[kind](path / "logbook.sqlite")
    before = {file.name: file.read_bytes() for file in path.rglob("*") if file.is_file()}

    with pytest.raises(LogbookError) as error:
        _work_with(path, new=sound(tmp_path, "new.wav"), out=tmp_path / "out")
    assert error.value.code in ("logbook-damaged", "not-a-logbook")
    if kind not in (
        "random bytes in the middle",
        "no end",
    ):  # where it can be opened, what was written is fine
        assert {file.name: file.read_bytes() for file in path.rglob("*") if file.is_file()} == before

    rescued = rescue(path, tmp_path / "rescued", tables=lambda _: {})
    with open_book(tmp_path / "again") as book:
        book.bring_in(tmp_path / "rescued")
        assert book.check().problems == ()
        assert len(book.takes()) == rescued.n_takes >= 20
        bytes_of = {book.recording(take).read_bytes() for take in book.takes()}
    assert {f"sound of {i}.wav".encode() for i in range(20)} <= bytes_of
    if kind == "no beginning":
        assert (rescued.n_readings, rescued.n_nameless) == (20, 0)
    if kind == "random bytes in the middle":
        assert rescued.n_readings > 5
        assert rescued.n_nameless < 15


def _work_with(path: Path, *, new: Path, out: Path) -> None:
    with open_book(path, create=False) as book:
        book.log([new], room="Room 0", stage="Stage 0")
        assert book.check().problems
        book.export(out, tables=lambda _: {})


def test_any_damage_is_an_error_of_ours_or_none(whole: Path, tmp_path: Path):
    rng = random.Random(11)
    content = (whole / "logbook.sqlite").read_bytes()
    path = _copy(whole, tmp_path)
    for n in range(9):
        damaged = bytearray(content)
        for _ in range(rng.choice((1, 4, 60))):
            start_at = rng.randrange(len(damaged))
            n_bytes = rng.choice((1, 8, 200))
            damaged[start_at : start_at + n_bytes] = rng.randbytes(n_bytes)
        (path / "logbook.sqlite").write_bytes(damaged)
        for job in (
            lambda book: book.summaries(),
            lambda book: [book.reading_of(take) for take in book.takes()],
            lambda book: book.check(),
            lambda book: book.export(tmp_path / f"out {n}.zip", tables=lambda _: {}),  # noqa: B023
        ):
            with contextlib.suppress(LogbookError), open_book(path, create=False) as book:
                job(book)
        (path / "logbook.sqlite").write_bytes(damaged)
        rescued = rescue(path, tmp_path / f"rescued {n}.zip", tables=lambda _: {})
        assert rescued.n_takes >= 20


def test_a_logbook_of_a_newer_version_is_refused_and_not_touched(whole: Path, tmp_path: Path):
    path = _copy(whole, tmp_path) / "logbook.sqlite"
    connection = sqlite3.connect(path)
    connection.execute("PRAGMA user_version = 99")
    connection.close()
    before = path.read_bytes()

    with pytest.raises(LogbookError, match="version 99") as error:
        open_book(path.parent)
    assert error.value.code == "logbook-newer"
    assert path.read_bytes() == before


def test_the_database_of_something_else_is_refused(tmp_path: Path):
    connection = sqlite3.connect(tmp_path / "logbook.sqlite")
    connection.execute("CREATE TABLE recipes (name TEXT)")
    connection.commit()
    connection.close()

    with pytest.raises(LogbookError) as error:
        open_book(tmp_path)
    assert error.value.code == "not-a-logbook"


def test_where_there_is_no_logbook_looking_makes_none(tmp_path: Path):
    with pytest.raises(LogbookError) as error:
        open_book(tmp_path / "book", create=False)

    assert error.value.code == "no-logbook"
    assert not (tmp_path / "book").exists()


def test_a_missing_and_a_damaged_recording_are_found_and_the_rest_comes_out(whole: Path, tmp_path: Path):
    path = _copy(whole, tmp_path)
    first, second, *_ = sorted((path / "logbook.recordings").iterdir())
    first.unlink()
    second.write_bytes(b"something else")
    with open_book(path, create=False) as book:
        problems = book.check().problems
        with pytest.raises(LogbookError) as error:
            book.export(tmp_path / "out", tables=lambda _: {})
        with pytest.raises(LogbookError):
            book.back_up(tmp_path / "copy")

    assert [one.code for one in problems] == ["recording-missing"] * 2
    assert {("is missing" in one.says, "is damaged" in one.says) for one in problems} == {
        (True, False),
        (False, True),
    }
    assert error.value.code == "recording-missing"
    assert not (tmp_path / "out").exists()
    assert not (tmp_path / "copy").exists()
    rescued = rescue(path, tmp_path / "rescued", tables=lambda _: {})
    assert (rescued.n_takes, rescued.n_lost) == (18, 2)


def test_logging_the_file_again_heals_a_damaged_recording(tmp_path: Path):
    file = sound(tmp_path, "a.wav")
    with open_book(tmp_path / "book") as book:
        (logged,) = book.log([file], room="R", stage="S").takes
        assert logged.take is not None
        book.recording(logged.take).write_bytes(b"rotten")
        assert book.check().problems
        book.remove([logged.take])
        book.log([file], room="R", stage="S")
        assert book.check().problems == ()
