"""An export comes back equal, and a hostile one does nothing."""

from __future__ import annotations

import copy
import csv
import io
import json
import random
import shutil
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from roomir import api
from roomir.errors import LogbookError
from roomir.logbook.logbook import Logbook
from roomir.logbook.names import use_new
from roomir.logbook.values import About, File, RoomNotes, Size
from tests.logbook.books import open_book, sound

HOSTILE = [
    "=cmd|'/c calc'!A1",
    "+1",
    "@x",
    "-2+3",
    "</script><script>alert(1)</script>",
    "a\x1b[2Jb\nc",
    "[bold]x",
]


def _fill(book: Logbook, folder: Path) -> None:
    for i, name in enumerate(HOSTILE):
        about = About(spot=name, source_position=name, note=name, temperature_c=18.25, humidity_percent=40.5)
        size = Size(dimensions_m=(5.1, 4.2, 2.5)) if i == 0 else Size(volume_m3=48.7)
        files = [File(path=sound(folder, f"{i}.wav"), about=about), sound(folder, f"{i} bad.m4a", f"bad {i}")]
        book.log(files, room=name, stage=f"stage {i} {name}", size=size, done=name, decide=use_new)
        book.annotate_room(book.room(name), RoomNotes(description=f"[room]\nnote = {name!r}" if i else ""))


@pytest.fixture(scope="module")
def exported(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the export ``out`` and the same as ``out.zip``."""
    folder = tmp_path_factory.mktemp("exported")
    with open_book(folder / "book") as book:
        _fill(book, folder / "in")
        api.export_logbook(book, folder / "out")
        api.export_logbook(book, folder / "out.zip")
    return folder


def _files(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()
    }


@pytest.mark.parametrize("kind", ["out", "out.zip"])
def test_an_export_comes_back_equal(kind: str, exported: Path, tmp_path: Path):
    with open_book(tmp_path / "book") as book, open_book(exported / "book") as original:
        imported = book.bring_in(exported / kind)
        api.export_logbook(book, tmp_path / "again")

        assert {one.outcome for one in imported} == {"kept"}
        assert _files(tmp_path / "again") == _files(exported / "out")
        assert book.check().problems == ()
        for one, other in zip(original.takes(), book.takes(), strict=True):
            assert original.reading_of(one) == book.reading_of(other)
            assert (one.name, one.about, one.failure) == (other.name, other.about, other.failure)


def test_folder_and_zip_hold_the_same_and_the_recordings_are_the_files_own_bytes(exported: Path):
    with zipfile.ZipFile(exported / "out.zip") as archive:
        inside = {name: archive.read(name) for name in archive.namelist()}

    assert inside == _files(exported / "out")
    assert {path.read_bytes() for path in (exported / "in").iterdir()} == {
        content for name, content in inside.items() if name.startswith("recordings/")
    }
    assert {name.split(".")[-1] for name in inside if name.startswith("recordings/")} == {"wav", "m4a"}


def test_the_tables_of_an_export_hold_no_formula_and_no_control_character(exported: Path):
    for name in ("takes.csv", "bands.csv"):
        text = (exported / "out" / name).read_text("utf-8")
        rows = list(csv.reader(io.StringIO(text)))
        assert len(rows) > len(HOSTILE)
        assert len({len(row) for row in rows}) == 1
        for cell in (cell for row in rows[1:] for cell in row):
            assert cell.isprintable()
            assert not cell.startswith(("=", "+", "@"))
            assert not cell.startswith("-") or cell.replace(".", "").replace("e", "").strip("-").isdigit()


def test_importing_twice_keeps_everything_once(exported: Path, tmp_path: Path):
    with open_book(tmp_path / "book") as book:
        book.bring_in(exported / "out")
        n_takes = len(book.takes())
        again = book.bring_in(exported / "out.zip")

        assert {one.outcome for one in again} == {"already kept"}
        assert len(book.takes()) == n_takes


def test_a_sound_that_is_kept_elsewhere_is_told_and_the_rest_comes_in(exported: Path, tmp_path: Path):
    with open_book(tmp_path / "book") as book:
        book.log([sound(tmp_path, "0.wav")], room="Mine", stage="bare")
        outcomes = [one.outcome for one in book.bring_in(exported / "out")]

    assert sorted(set(outcomes)) == ["kept", "kept elsewhere"]
    assert outcomes.count("kept elsewhere") == 1


def test_what_was_removed_stays_out(tmp_path: Path):
    with open_book(tmp_path / "book") as book:
        book.log([sound(tmp_path, "a.wav"), sound(tmp_path, "b.wav")], room="R", stage="S")
        book.remove([book.find_take("a.wav")])
        assert api.export_logbook(book, tmp_path / "out") == 1
    assert len(list((tmp_path / "out" / "recordings").iterdir())) == 1


def test_nothing_is_written_over_and_nothing_half_written_stays(exported: Path, tmp_path: Path):
    (tmp_path / "there").mkdir()
    with open_book(exported / "book") as book:
        for job in (lambda target: api.export_logbook(book, target), book.back_up):
            with pytest.raises(LogbookError) as error:
                job(tmp_path / "there")
            assert error.value.code == "already-there"
            with pytest.raises(LogbookError) as error:
                job(tmp_path / "no such folder" / "out")
            assert error.value.code == "logbook-disk"
    assert [path.name for path in tmp_path.iterdir()] == ["there"]


def test_a_backup_is_a_logbook(exported: Path, tmp_path: Path):
    with open_book(exported / "book") as book:
        n_recordings = book.back_up(tmp_path / "copy")
        takes = book.takes()
    with open_book(tmp_path / "copy", create=False) as book:
        assert book.takes() == takes
        assert book.check().problems == ()
        assert book.check().n_recordings == n_recordings


# ------------------------------------------------------------------ hostile


def _refused(source: Path, tmp_path: Path) -> str:
    with open_book(tmp_path / "book") as book:
        with pytest.raises(LogbookError) as error:
            book.bring_in(source)
        assert book.check().problems == ()
    assert not (tmp_path / "evil").exists()
    return error.value.code


def _zip(path: Path, entries: dict[str, bytes], **options: Any) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in entries.items():
            archive.writestr(name, content, **options)
    return path


@pytest.mark.parametrize(
    "name", ["../evil", "/tmp/evil", "recordings/../../evil", "..\\evil", "C:\\evil", "C:evil"]
)
def test_a_name_that_leads_out_of_a_zip_file_is_refused(name: str, exported: Path, tmp_path: Path):
    entries = _files(exported / "out") | {name: b"x"}

    assert _refused(_zip(tmp_path / "x.zip", entries), tmp_path) == "import-unsafe"


def test_a_bomb_does_not_unpack(exported: Path, tmp_path: Path):
    entries = _files(exported / "out") | {"recordings/zeros": bytes(130 << 20)}

    assert _refused(_zip(tmp_path / "x.zip", entries), tmp_path) == "import-unsafe"


def test_a_link_that_leads_out_of_a_folder_is_refused(exported: Path, tmp_path: Path):
    out = Path(shutil.copytree(exported / "out", tmp_path / "out"))
    recording = next((out / "recordings").iterdir())
    outside = tmp_path / "outside"
    recording.rename(outside)
    recording.symlink_to(outside)

    assert _refused(out, tmp_path) == "import-unsafe"


def test_a_recording_that_is_not_what_its_hash_says_is_refused(exported: Path, tmp_path: Path):
    out = Path(shutil.copytree(exported / "out", tmp_path / "out"))
    recording = next((out / "recordings").iterdir())
    content = recording.read_bytes()
    recording.write_bytes(bytes([content[0] ^ 1]) + content[1:])
    assert _refused(out, tmp_path) == "import-damaged"
    recording.write_bytes(content + b"more")
    assert _refused(out, tmp_path) == "import-damaged"
    recording.unlink()
    assert _refused(out, tmp_path) == "import-incomplete"


def test_what_is_no_export_is_refused(tmp_path: Path):
    (tmp_path / "empty").mkdir()
    for source, code in (
        (tmp_path / "nothing", "not-an-export"),
        (tmp_path / "empty", "import-incomplete"),
        (sound(tmp_path, "x.zip", "no zip file"), "not-an-export"),
        (_zip(tmp_path / "y.zip", {"logbook.json": b"{}"}), "not-an-export"),
        (_zip(tmp_path / "z.zip", {"logbook.json": b"[" * 100_000}), "import-damaged"),
    ):
        assert _refused(source, tmp_path) == code


MUTATIONS: dict[str, Callable[[dict[str, Any]], Any]] = {
    "a later version": lambda main: main.update(schema="roomir/logbook/2"),
    "a path for a recording": lambda main: _first(main).update(recording="../../evil"),
    "a hash that is a path": lambda main: _first(main).update(sha256="../" * 21 + "x"),
    "a blank name": lambda main: main["rooms"][0].update(name=" "),
    "a size below zero": lambda main: main["rooms"][0].update(volume_m3=-1.0),
    "no stages": lambda main: main["rooms"][0].pop("stages"),
    "a channel of zero": lambda main: _first(main).update(channel=0),
    "air that is none": lambda main: _first(main).update(humidity_percent=400.0),
    "a huge number": lambda main: _first(main).update(temperature_c=10**400),
    "a day that is none": lambda main: main["rooms"][0]["stages"][0].update(date="2024-02-31"),
}


def _first(main: dict[str, Any]) -> dict[str, Any]:
    return main["rooms"][0]["stages"][0]["takes"][0]  # type: ignore[no-any-return]


@pytest.mark.parametrize("kind", MUTATIONS)
def test_a_document_that_was_tampered_with_is_refused_before_anything_is_kept(
    kind: str, exported: Path, tmp_path: Path
):
    out = Path(shutil.copytree(exported / "out", tmp_path / "out"))
    main = json.loads((out / "logbook.json").read_text("utf-8"))
    MUTATIONS[kind](main)
    (out / "logbook.json").write_text(json.dumps(main), "utf-8")

    assert _refused(out, tmp_path) == "not-an-export"
    with open_book(tmp_path / "book") as book:
        assert book.rooms() == ()


def test_any_change_to_a_document_is_an_error_of_ours_or_none(exported: Path, tmp_path: Path):
    main = json.loads((exported / "out" / "logbook.json").read_text("utf-8"))
    main["rooms"] = main["rooms"][:1]
    out = Path(shutil.copytree(exported / "out", tmp_path / "out"))
    rng = random.Random(4)
    refused = 0
    for n in range(25):
        changed = copy.deepcopy(main)
        _change_something(changed, rng)
        (out / "logbook.json").write_text(json.dumps(changed), "utf-8")
        with open_book(tmp_path / f"book {n}") as book:
            try:
                book.bring_in(out)
            except LogbookError:
                refused += 1
            assert book.check().problems == ()
    assert 3 < refused < 25


def _change_something(value: Any, rng: random.Random) -> None:
    while True:
        keys = list(value) if isinstance(value, dict) else list(range(len(value)))
        if not keys:
            return
        key = rng.choice(keys)
        if isinstance(value[key], dict | list) and value[key] and rng.random() < 0.9:
            value = value[key]
            continue
        value[key] = rng.choice([None, True, -1, 1.5, "", "x", [], {}, "2024-01-01", 10**30])
        return
