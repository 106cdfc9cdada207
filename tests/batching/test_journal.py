"""What has been read stays read, whatever happens to the run."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from roomir.batching.find import Item
from roomir.batching.journal import Journal, journal_path
from roomir.errors import RoomirError

SETTINGS = {"bands": "octave", "roomir_version": "0.1.0"}


def item(place: int, **changes: int) -> Item:
    return Item(
        **({"place": place, "name": f"take {place}\udcff.wav", "n_bytes": 10, "modified_ns": 5} | changes)
    )


@pytest.fixture
def output(tmp_path: Path) -> Path:
    return tmp_path / "rooms.csv"


def test_records_are_found_again_by_the_next_run(output: Path):
    with Journal(output, settings=SETTINGS) as journal:
        journal.add(item(1), {"file": "one"})
        journal.add(item(0), {"file": "nought"})
    with Journal(output, settings=SETTINGS) as journal:
        assert item(0) in journal
        assert journal.record(item(1)) == {"file": "one"}
        assert journal.record(item(0)) == {"file": "nought"}
        assert item(2) not in journal
        journal.add(item(2), {"file": "two"})
        assert journal.record(item(0)) == {"file": "nought"}
        journal.remove()
    assert not journal_path(output).exists()


def test_a_file_that_has_changed_is_read_again(output: Path):
    with Journal(output, settings=SETTINGS) as journal:
        journal.add(item(1), {})

        assert item(1, n_bytes=11) not in journal
        assert item(1, modified_ns=6) not in journal
        assert item(1) in journal


@pytest.mark.parametrize("cut", [1, 5, 20, 60])
def test_a_line_that_was_being_written_is_dropped_and_the_rest_is_kept(output: Path, cut: int):
    with Journal(output, settings=SETTINGS) as journal:
        journal.add(item(0), {"file": "nought"})
        journal.add(item(1), {"file": "one", "padding": "x" * 60})
    whole = journal_path(output).read_bytes()
    journal_path(output).write_bytes(whole[:-cut])
    with Journal(output, settings=SETTINGS) as journal:
        assert item(0) in journal
        assert item(1) not in journal
        journal.add(item(1), {"file": "one", "padding": "x" * 60})
    assert journal_path(output).read_bytes() == whole


def test_a_journal_cut_at_any_byte_opens_again(output: Path):
    with Journal(output, settings=SETTINGS) as journal:
        journal.add(item(0), {"file": "nought"})
    whole = journal_path(output).read_bytes()
    for length in range(len(whole)):
        journal_path(output).write_bytes(whole[:length])
        with Journal(output, settings=SETTINGS) as journal:
            assert item(0) not in journal


def test_two_runs_on_one_output_are_refused(output: Path):
    with Journal(output, settings=SETTINGS), pytest.raises(RoomirError, match="another run") as refused:
        Journal(output, settings=SETTINGS)

    assert refused.value.code == "batch-running"
    Journal(output, settings=SETTINGS).__exit__()  # and accepted afterwards


def test_a_run_with_other_options_does_not_throw_away_what_was_read(output: Path):
    with Journal(output, settings=SETTINGS) as journal:
        journal.add(item(0), {})
    with pytest.raises(RoomirError) as refused:
        Journal(output, settings=SETTINGS | {"bands": "third-octave"})

    assert refused.value.code == "other-batch"
    with Journal(output, settings=SETTINGS) as journal:
        assert item(0) in journal


def test_a_run_that_read_nothing_leaves_nothing_and_is_in_nobodys_way(output: Path):
    Journal(output, settings=SETTINGS).__exit__()
    assert not journal_path(output).exists()

    journal_path(output).write_text('{"format": "roomir/batch-journal/1", "settings": {}}\n')
    with Journal(output, settings=SETTINGS) as journal:
        journal.add(item(0), {})


@pytest.mark.parametrize("content", [b"shopping list", b"shopping list\n", b"[1, 2]\n", b'{"format": "x"}\n'])
def test_a_file_that_is_no_journal_is_left_alone(output: Path, content: bytes):
    journal_path(output).write_bytes(content)
    with pytest.raises(RoomirError) as refused:
        Journal(output, settings=SETTINGS)

    assert refused.value.code == "not-a-journal"
    assert journal_path(output).read_bytes() == content


def test_a_folder_that_cannot_be_written_to_is_named_at_once(tmp_path: Path):
    with pytest.raises(RoomirError) as refused:
        Journal(tmp_path / "missing" / "rooms.csv", settings=SETTINGS)

    assert refused.value.code == "cannot-write"


def test_each_record_is_one_line_of_ascii(output: Path):
    with Journal(output, settings=SETTINGS) as journal:
        journal.add(item(0), {"says": "two\nlines \u2028 and \udcff"})
    lines = journal_path(output).read_bytes().split(b"\n")

    assert len(lines) == 3
    assert json.loads(lines[1])["record"] == {"says": "two\nlines \u2028 and \udcff"}
