"""Logging: what is kept, where, once, and under which name."""

from __future__ import annotations

import hashlib
import os
import sqlite3
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from roomir.errors import LogbookError, ParameterError
from roomir.logbook.folder import usual_path
from roomir.logbook.names import nearest, use_near, use_new
from roomir.logbook.values import About, File, Size
from tests.logbook.books import PreparedReader, open_book, sound


def _sha256(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def test_a_take_is_kept_with_its_reading_and_its_own_bytes(tmp_path: Path):
    file = sound(tmp_path, "spot1.wav")
    about = About(
        spot="A",
        source_position="door",
        microphone_position="1.0, 2.0, 1.2",
        made_with="hands",
        temperature_c=18.5,
        humidity_percent=40.0,
        note="rain",
    )
    with open_book(tmp_path / "book") as book:
        result = book.log(
            [File(path=file, about=about)],
            room="Dairy",
            stage="bare",
            size=Size(dimensions_m=(9.0, 6.0, 3.2)),
            day=date(2024, 5, 3),
            done="emptied",
        )
        (logged,) = result.takes
        room = book.room("Dairy")
        stage = book.stage(room, "bare")
        (take,) = book.takes(of=stage)

        assert logged.outcome == "kept"
        assert logged.take == take
        assert take.about == about
        assert take.name == "spot1.wav"
        assert take.sha256 == take.original_sha256 == _sha256(file)
        assert book.recording(take).read_bytes() == file.read_bytes()
        assert book.recording(take).name == take.sha256
        assert (room.volume_m3, room.dimensions_m) == (pytest.approx(172.8), (9.0, 6.0, 3.2))
        assert (stage.date, stage.done) == (date(2024, 5, 3), "emptied")
        assert book.reading_of(take) == logged.reading
        assert book.reading_together(stage) == result.together


def test_what_is_kept_is_there_when_it_is_opened_again(tmp_path: Path):
    with open_book(tmp_path) as book:
        kept = book.log([sound(tmp_path / "in", "a.wav")], room="R", stage="S").takes[0]
    with open_book(tmp_path, create=False) as book:
        assert book.takes() == (kept.take,)
        assert book.reading_of(book.takes()[0]) == kept.reading


def test_a_take_whose_reading_fails_is_kept_with_the_reason(tmp_path: Path):
    file = sound(tmp_path, "bad.wav", "bad")
    with open_book(tmp_path / "book") as book:
        (logged,) = book.log([file], room="R", stage="S").takes
        (take,) = book.takes()

        assert logged.outcome == "kept without a reading"
        assert take.failure is not None
        assert take.failure.code == "not-sound"
        assert take.failure.says == "bad.wav: no sound", "without the folders of this computer"
        assert take.recorded_at_from == "file date"
        assert book.recording(take).read_bytes() == b"bad"
        assert book.reading_of(take) is None
        assert book.reading_together(book.stage(book.room("R"), "S")).failures == (take.failure,)


def test_a_file_that_is_not_there_leaves_no_trace(tmp_path: Path):
    with open_book(tmp_path / "book") as book:
        (logged,) = book.log([tmp_path / "missing.wav"], room="R", stage="S").takes

        assert logged.outcome == "not kept"
        assert logged.failure is not None
        assert logged.failure.code == "file-missing"
        assert book.rooms() == ()


def test_the_same_sound_is_kept_once_in_a_stage_whatever_it_is_called(tmp_path: Path):
    with open_book(tmp_path / "book") as book:
        first = book.log([sound(tmp_path, "a.wav", "same")], room="R", stage="S").takes[0]
        again = book.log(
            [sound(tmp_path, "a.wav", "same"), sound(tmp_path, "b.wav", "same")], room="R", stage="S"
        )

        assert [one.outcome for one in again.takes] == ["already kept"] * 2
        assert book.takes() == (first.take,)
        assert again.together is None


def test_the_same_sound_in_another_stage_is_refused_with_its_place(tmp_path: Path):
    with open_book(tmp_path / "book") as book:
        book.log([sound(tmp_path, "a.wav", "same")], room="R", stage="bare")
        (logged,) = book.log([sound(tmp_path, "b.wav", "same")], room="R", stage="panels").takes

        assert logged.outcome == "kept elsewhere"
        assert logged.failure is not None
        assert 'in the stage "bare" of the room "R"' in logged.failure.says
        assert [stage.name for stage in book.stages(book.room("R"))] == ["bare"]


def test_a_near_miss_is_questioned_and_nothing_is_kept(tmp_path: Path):
    with open_book(tmp_path / "book") as book:
        book.log([sound(tmp_path, "a.wav")], room="Dairy", stage="bare walls")
        for room, stage, near in (("Diary", "x", "Dairy"), ("Dairy", "bare wall", "bare walls")):
            with pytest.raises(ParameterError, match=f'but there is "{near}"') as error:
                book.log([sound(tmp_path, "b.wav")], room=room, stage=stage)
            assert error.value.code == "near-miss"
            assert "--yes" in error.value.remedy
            assert "--new" in error.value.remedy
        assert len(book.takes()) == 1

        book.log([sound(tmp_path, "b.wav")], room="Diary", stage="Bare Walls", decide=use_near)
        assert {(take.room, take.stage) for take in book.takes()} == {("Dairy", "bare walls")}
        book.log([sound(tmp_path, "c.wav")], room="Diary", stage="bare walls", decide=use_new)
        assert [room.name for room in book.rooms()] == ["Dairy", "Diary"]


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("S1", "S2"),
        ("stage 1", "stage 2"),
        ("stage 1", "stage 11"),
        ("Stage II", "Stage III"),
        ("panels one", "panels two"),
        ("spot A", "spot B"),
        ("2 panels on the wall", "3 panels on the wall"),
        ("bare", "panels"),
        ("live room", "drum room"),
    ],
)
def test_these_are_different_names(one: str, other: str):
    assert nearest(one, [other]) is None


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Dairy", "dairy"),
        ("Dairy", "Diary"),
        ("panels-fitted", "panels fitted"),
        ("Küche", "Kuche"),
        ("stage 01", "stage 1"),
        ("kitchn", "kitchen"),
        ("curtain", "curtains"),
        ("=!", "=!!"),
    ],
)
def test_these_are_near_misses(one: str, other: str):
    assert nearest(one, [other]) == other


def test_names_are_data(tmp_path: Path):
    names = ["[bold]R[/]", "=1+1", "</script>", "a\x1b[31m", "a\nb", "Robert'); DROP TABLE take;--", "録音"]
    with open_book(tmp_path / "book") as book:
        for i, name in enumerate(names):
            file = File(path=sound(tmp_path, f"{i}.wav"), about=About(spot=name, note=name))
            book.log([file], room=name, stage=name, decide=use_new)

        assert {room.name for room in book.rooms()} == set(names)
        assert {take.about.spot for take in book.takes()} == set(names)
        for name in names:
            assert book.stage(book.room(name), name).name == name


@pytest.mark.parametrize("name", ["", "   ", "x" * 201, "caf\udce9"])
def test_what_is_no_name_is_refused(name: str, tmp_path: Path):
    with open_book(tmp_path / "book") as book:
        with pytest.raises(ParameterError) as error:
            book.log([sound(tmp_path, "a.wav")], room=name, stage="S")
        assert error.value.code == "bad-name"


def _when(name: str, day: int, hour: int) -> dict[str, datetime]:
    return {name: datetime(2024, 5, day, hour, tzinfo=UTC)}


def test_stages_stand_as_they_were_recorded_however_they_were_logged(tmp_path: Path):
    times = _when("panels.wav", 9, 12) | _when("bare.wav", 3, 12) | _when("later.wav", 3, 18)
    with open_book(tmp_path / "book", reader=PreparedReader(times)) as book:
        for name in ("panels", "bare", "later"):
            book.log([sound(tmp_path, f"{name}.wav")], room="R", stage=name)

        assert [one.name for one in book.stages(book.room("R"))] == ["bare", "later", "panels"]


def test_the_date_of_a_file_orders_days_and_is_marked(tmp_path: Path):
    with open_book(tmp_path / "book") as book:
        for name, day, hour in (("second", 9, 12), ("first", 3, 12), ("same day", 3, 6)):
            file = sound(tmp_path, f"{name}.wav")
            at = datetime(2024, 5, day, hour, tzinfo=UTC).timestamp()
            os.utime(file, (at, at))
            book.log([file], room="R", stage=name)

        assert [one.name for one in book.stages(book.room("R"))] == ["first", "same day", "second"]
        assert {take.recorded_at_from for take in book.takes()} == {"file date"}


def test_what_the_logbook_knows_of_a_room_is_not_overwritten_in_passing(tmp_path: Path):
    with open_book(tmp_path / "book") as book:
        book.log([sound(tmp_path, "a.wav")], room="R", stage="S", done="this", size=Size(volume_m3=48.0))
        for options in ({"size": Size(volume_m3=50.0)}, {"done": "that"}):
            with pytest.raises(ParameterError) as error:
                book.log([sound(tmp_path, "b.wav")], room="R", stage="S", **options)  # type: ignore[arg-type]
            assert error.value.code in ("other-size", "other-stage")
        book.log([sound(tmp_path, "b.wav")], room="R", stage="S", size=Size(dimensions_m=(4.0, 4.0, 3.0)))
        assert book.room("R").dimensions_m == (4.0, 4.0, 3.0)


@pytest.mark.parametrize(
    "about", [{"temperature_c": 200.0}, {"humidity_percent": 101.0}, {"humidity_percent": float("nan")}]
)
def test_air_that_is_none_is_refused(about: dict[str, Any], tmp_path: Path):
    with open_book(tmp_path / "book") as book, pytest.raises(ParameterError):
        book.log([File(path=sound(tmp_path, "a.wav"), about=About(**about))], room="R", stage="S")


@pytest.mark.parametrize("name", ["", " ", "\u0301"])
def test_a_room_is_not_found_by_a_name_without_letters(name: str):
    assert nearest(name, ["Dairy", "Booth"]) is None


def test_a_room_or_stage_that_is_not_there_is_named_with_those_that_are(tmp_path: Path):
    with open_book(tmp_path / "book") as book:
        book.log([sound(tmp_path, "a.wav")], room="Dairy", stage="bare")
        with pytest.raises(LogbookError, match='no room "Diary"') as error:
            book.room("Diary")
        assert (error.value.code, error.value.remedy) == ("no-such-room", 'did you mean "Dairy"?')
        with pytest.raises(LogbookError, match='no stage "panels"') as error:
            book.stage(book.room("Dairy"), "panels")
        assert '"bare"' in error.value.remedy


def test_a_list_tells_when_a_stage_is_to_be_read_together_again(tmp_path: Path):
    with open_book(tmp_path / "book") as book:
        book.log([sound(tmp_path, "a.wav"), sound(tmp_path, "b.wav")], room="R", stage="S")
        ((stage,),) = [one.stages for one in book.summaries()]

        assert (stage.n_takes, stage.n_failed, stage.spots) == (2, 0, 5)
        assert stage.mid is not None
        assert stage.mid.decay_time_s == book.reading_together(stage.stage).mid.decay_time_s


def test_connections_are_set_so_that_what_is_committed_stays(tmp_path: Path):
    with open_book(tmp_path) as book:
        connection = book._store.database._connection
        for pragma, value in (
            ("foreign_keys", 1),
            ("trusted_schema", 0),
            ("synchronous", 2),
            ("secure_delete", 1),
        ):
            assert connection.execute(f"PRAGMA {pragma}").fetchone()[0] == value
    plain = sqlite3.connect(tmp_path / "logbook.sqlite")
    tables = plain.execute("PRAGMA table_list").fetchall()
    plain.close()
    ours = [row for row in tables if not row[1].startswith("sqlite_")]
    assert ours
    assert all(row[5] == 1 for row in ours), "every table is strict"


def test_the_variable_names_the_usual_logbook(tmp_path: Path):
    assert usual_path({"ROOMIR_LOGBOOK": str(tmp_path)}) == tmp_path
    assert usual_path({}).name == "roomir"
