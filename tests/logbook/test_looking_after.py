"""Renaming, moving, noting, removing and purging, and taking readings again."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from roomir.errors import LogbookError, ParameterError
from roomir.logbook.logbook import Logbook
from roomir.logbook.names import use_near, use_new
from roomir.logbook.values import About, File, RoomNotes, Size, StageNotes
from roomir.reading.reading import Reading
from tests.logbook.books import PreparedReader, open_book, sound


@pytest.fixture
def book(tmp_path: Path) -> Any:
    """Two rooms: one with the stages bare (a, b) and panels (c), one with bare (d)."""
    with open_book(tmp_path / "book") as book:
        for name, room, stage in (
            ("a", "Dairy", "bare"),
            ("b", "Dairy", "bare"),
            ("c", "Dairy", "panels"),
            ("d", "Booth", "bare"),
        ):
            book.log([sound(tmp_path, f"{name}.wav")], room=room, stage=stage)
        yield book


def _names(book: Logbook) -> list[tuple[str, str, str]]:
    return [(take.room, take.stage, take.name) for take in book.takes()]


def test_a_room_and_a_stage_get_other_names(book: Logbook):
    book.rename(book.room("Booth"), to="Vocal booth")
    book.rename(book.stage(book.room("Dairy"), "panels"), to="twelve panels")

    assert [room.name for room in book.rooms()] == ["Dairy", "Vocal booth"]
    assert [stage.name for stage in book.stages(book.room("Dairy"))] == ["bare", "twelve panels"]


def test_a_name_that_is_taken_or_close_to_another_is_questioned(book: Logbook):
    with pytest.raises(LogbookError) as error:
        book.rename(book.room("Booth"), to="Dairy")
    assert error.value.code == "name-taken"
    with pytest.raises(ParameterError) as near:
        book.rename(book.room("Booth"), to="Diary")
    assert near.value.code == "near-miss"
    with pytest.raises(LogbookError):
        book.rename(book.room("Booth"), to="Diary", decide=use_near)
    assert book.rename(book.room("Booth"), to="Diary", decide=use_new).name == "Diary"
    book.rename(book.room("Diary"), to="Attic")
    assert book.rename(book.room("Attic"), to="attic").name == "attic", "its own name is no other one"


def test_takes_move_to_a_stage_that_is_made(book: Logbook):
    first = book.find_take("a.wav")
    (moved,) = book.move_takes([first], room="Booth", stage="lined")

    assert (moved.room, moved.stage, moved.id) == ("Booth", "lined", first.id)
    assert book.summaries(of=book.room("Dairy"))[0].stages[0].mid is None
    stage = book.stage(book.room("Dairy"), "bare")
    assert [take.path for take in book.reading_together(stage).takes] == ["b.wav"]
    assert book.summaries(of=book.room("Dairy"))[0].stages[0].mid is not None


def test_stages_move_in_their_order(book: Logbook):
    room = book.room("Dairy")
    bare, panels = book.stages(room)
    assert [one.name for one in book.move_stage(panels, behind=None)] == ["panels", "bare"]
    assert [one.name for one in book.move_stage(panels, behind=bare)] == ["bare", "panels"]


def test_what_is_known_is_corrected(book: Logbook):
    room = book.annotate_room(book.room("Dairy"), RoomNotes(size=Size(volume_m3=48.0), note="cold"))
    room = book.annotate_room(room, RoomNotes(size=Size(dimensions_m=(5.0, 4.0, 2.5))))
    stage = book.annotate_stage(
        book.stage(room, "panels"), StageNotes(day=date(2024, 5, 3), done="panels", note="twelve")
    )
    take = book.find_take("c.wav")
    take = book.annotate_take(take, replace(take.about, spot="A", temperature_c=12.0))

    assert (room.volume_m3, room.dimensions_m, room.note) == (50.0, (5.0, 4.0, 2.5), "cold")
    assert (stage.date, stage.done, stage.note) == (date(2024, 5, 3), "panels", "twelve")
    assert (take.about.spot, take.about.temperature_c) == ("A", 12.0)
    with pytest.raises(ParameterError):
        book.annotate_take(take, About(temperature_c=1000.0))


def test_a_take_is_found_by_number_name_and_hash(book: Logbook, tmp_path: Path):
    take = book.takes()[0]
    assert (
        book.find_take(str(take.id)) == book.find_take(take.name) == book.find_take(take.sha256[:9]) == take
    )
    book.log([sound(tmp_path / "other", "a.wav", "another a")], room="Booth", stage="bare")
    with pytest.raises(LogbookError) as error:
        book.find_take("a.wav")
    assert error.value.code == "ambiguous-take"
    assert book.find_take("a.wav", of=book.room("Dairy")).room == "Dairy"
    for wanted in ("999", "nothing.wav", "abcdef0123"):
        with pytest.raises(LogbookError) as error:
            book.find_take(wanted)
        assert error.value.code == "no-such-take"


@pytest.mark.parametrize("what", ["take", "stage", "room"])
def test_removing_is_undone(what: str, book: Logbook):
    before = _names(book)
    room = book.room("Dairy")
    removed: Any = {"take": [book.find_take("a.wav")], "stage": book.stage(room, "bare"), "room": room}[what]
    book.remove(removed)

    assert len(_names(book)) == {"take": 3, "stage": 2, "room": 1}[what]
    book.undo()
    assert _names(book) == before


def test_removals_are_undone_one_after_the_other(book: Logbook):
    before = _names(book)
    book.remove([book.find_take("a.wav")])
    book.remove(book.stage(book.room("Dairy"), "bare"))
    book.remove(book.room("Dairy"))
    assert len(book.removals()) == 3
    for n in (2, 3, 4):  # the room with panels, then bare with b, then a
        book.undo()
        assert len(_names(book)) == n
    assert _names(book) == before
    with pytest.raises(LogbookError) as error:
        book.undo()
    assert error.value.code == "nothing-to-undo"


def test_what_has_a_new_place_by_now_cannot_come_back(book: Logbook, tmp_path: Path):
    book.remove([book.find_take("a.wav")])
    (logged,) = book.log([tmp_path / "a.wav"], room="Booth", stage="bare").takes
    assert logged.outcome == "kept"
    with pytest.raises(LogbookError) as error:
        book.undo()
    assert error.value.code == "cannot-undo"
    assert logged.take is not None
    book.rename(book.room("Booth"), to="elsewhere")
    book.remove([logged.take])
    assert len(book.removals()) == 2


SECRET = "what somebody said on the take"


def test_purging_erases_rows_recordings_and_every_trace_in_the_file(tmp_path: Path):
    with open_book(tmp_path / "book") as book:
        book.log([sound(tmp_path, "keep.wav")], room="R", stage="S")
        secret = File(path=sound(tmp_path, f"{SECRET}.wav", SECRET), about=About(note=SECRET, spot=SECRET))
        (logged,) = book.log([secret], room="R", stage="S").takes
        assert logged.take is not None
        recording = book.recording(logged.take)
        book.remove([logged.take])
        assert recording.exists()
        copy = tmp_path / "book" / "logbook.before-version-2.sqlite"
        copy.write_bytes(SECRET.encode())

        going = book.would_purge()
        assert going.takes == ((logged.take.id, f"{SECRET}.wav"),)
        assert going.recordings == (logged.take.sha256,)
        assert going.copies == (copy,)
        assert book.purge() == going
        assert book.would_purge().is_empty
        assert [take.name for take in book.takes()] == ["keep.wav"]
        assert book.check().problems == book.check().notes == ()
        (again,) = book.log([secret], room="R", stage="S").takes
        assert again.outcome == "kept"
        book.remove(book.room("R"))
        book.purge()

    assert not recording.exists()
    for file in (tmp_path / "book").rglob("*"):
        assert file.is_dir() or SECRET.encode() not in file.read_bytes(), file


def test_a_recording_that_another_take_needs_is_not_purged(book: Logbook, tmp_path: Path):
    book.remove([book.find_take("a.wav")])
    (logged,) = book.log([tmp_path / "a.wav"], room="Booth", stage="bare").takes
    going = book.purge()

    assert logged.take is not None
    assert (len(going.takes), going.recordings) == (1, ())
    assert book.recording(logged.take).read_bytes() == (tmp_path / "a.wav").read_bytes()


class _NextVersion(PreparedReader):
    """A later analysis in which T20 at 500 Hz is another one."""

    def read(self, heard: Any, **options: Any) -> Reading:
        made = super().read(heard, **options)
        bands = tuple(
            replace(one, figures=replace(one.figures, t20_s=0.5))
            if one.figures.band.nominal_hz == 500
            else one
            for one in made.bands
        )
        return replace(made, bands=bands, roomir_version="9.9.9")


def test_reading_again_shows_what_moved_and_keeps_what_was(tmp_path: Path):
    with open_book(tmp_path / "book") as book:
        book.log([sound(tmp_path, "a.wav"), sound(tmp_path, "bad.wav", "bad")], room="R", stage="S")
        assert [one.moved for one in book.reread(book.takes())] == [(), ()]
        (one, _) = book.takes()
        old = book.reading_of(one)
    with open_book(tmp_path / "book", reader=_NextVersion(), create=False) as book:
        good, bad = book.reread(book.takes())
        new = book.reading_of(one)
        counted = book.check().n_readings
        stage = book.stage(book.room("R"), "S")

        assert [(m.band_hz, m.quantity, m.before, m.after) for m in good.moved] == [
            (500, "t20_s", 0.874, 0.5)
        ]
        assert (good.version_before, good.take.roomir_version) == ("0.1.0", "9.9.9")
        assert (bad.moved, bad.version_before) == ((), None)
        assert bad.failure is not None
        assert bad.failure.code == "not-sound"
        assert old != new
        assert new is not None
        assert new.roomir_version == book.reading_together(stage).roomir_version == "9.9.9"
        assert counted == 3, "the old one, the new one, and that of the stage"


def test_a_recording_that_is_gone_is_no_reading_and_the_old_one_stays(tmp_path: Path):
    with open_book(tmp_path / "book") as book:
        (logged,) = book.log([sound(tmp_path, "a.wav")], room="R", stage="S").takes
        assert logged.take is not None
        book.recording(logged.take).unlink()
        (one,) = book.reread(book.takes())

        assert one.failure is not None
        assert one.failure.code == "recording-missing"
        assert book.reading_of(logged.take) == logged.reading


def test_a_moved_take_says_when_its_new_stage_was(tmp_path: Path):
    times = {"a.wav": datetime(2024, 5, 9, tzinfo=UTC), "b.wav": datetime(2024, 5, 3, tzinfo=UTC)}
    with open_book(tmp_path / "book", reader=PreparedReader(times)) as book:
        book.log([sound(tmp_path, "a.wav"), sound(tmp_path, "b.wav")], room="R", stage="later")
        book.move_takes([book.find_take("b.wav")], room="R", stage="earlier")

        assert [one.name for one in book.stages(book.room("R"))] == ["earlier", "later"]


def test_a_description_stays_with_its_room_until_it_is_purged(tmp_path: Path):
    text = '[room]\nname = "Dairy"\nvolume_m3 = 48\n'
    with open_book(tmp_path / "book") as book:
        book.log([sound(tmp_path, "a.wav")], room="Dairy", stage="bare")
        book.log([sound(tmp_path, "b.wav")], room="Booth", stage="bare")
        dairy = book.annotate_room(book.room("Dairy"), RoomNotes(description="old"))
        dairy = book.annotate_room(dairy, RoomNotes(description=text))
        dairy = book.rename(dairy, to="Milk room")

        assert (dairy.description, book.room("Booth").description) == (text, "")
        book.remove(dairy)
        book.undo()
        assert book.room("Milk room").description == text
        book.remove(book.room("Milk room"))
        book.purge()
    for file in (tmp_path / "book").rglob("*.sqlite*"):
        assert b"volume_m3 = 48" not in file.read_bytes()


def test_a_description_can_be_taken_away(tmp_path: Path):
    with open_book(tmp_path / "book") as book:
        book.log([sound(tmp_path, "a.wav")], room="Dairy", stage="bare")
        book.annotate_room(book.room("Dairy"), RoomNotes(description="x"))

        assert book.annotate_room(book.room("Dairy"), RoomNotes(description="")).description == ""


def test_a_description_longer_than_any_room_needs_is_refused(tmp_path: Path):
    with open_book(tmp_path / "book") as book:
        book.log([sound(tmp_path, "a.wav")], room="Dairy", stage="bare")
        with pytest.raises(ParameterError) as error:
            book.annotate_room(book.room("Dairy"), RoomNotes(description="#" * 200_001))

        assert error.value.code == "bad-room"
        assert book.room("Dairy").description == ""
