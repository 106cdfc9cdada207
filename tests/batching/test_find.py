"""Which files of a folder get a row, and which are left aside."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from roomir.batching.find import find_recordings
from roomir.errors import RoomirError

WAV = b"RIFF\x24\0\0\0WAVEfmt "


def names(folder: Path) -> list[str]:
    found = find_recordings(folder)
    assert [item.place for item in found.items] == list(range(len(found.items)))
    return [item.name for item in found.items]


def test_recordings_are_told_by_name_or_by_content_and_come_in_order(tmp_path: Path):
    for name, content in {
        "b/spot 2.wav": WAV,
        "b/spot 1.M4A": b"not really",
        "a.flac": b"",
        "b.wav": WAV,
        "recording without suffix": WAV,
        "film.bin": b"\0\0\0\x18ftypqt  ",
        "notes.txt": b"clapped in four spots",
        "photo.heic": b"\0\0\0\x18ftypheic",
        "photo.jpg": b"\xff\xd8\xff\xe0",
        "table.dat": b"\xff\xfb\x90\x00",
        ".hidden.wav": WAV,
        "._spot 1.m4a": WAV,
    }.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(content)

    assert names(tmp_path) == [
        *("a.flac", "b/spot 1.M4A", "b/spot 2.wav", "b.wav", "film.bin", "recording without suffix"),
    ]
    assert find_recordings(tmp_path).left_aside == {"hidden": 2, "without sound": 4}


def test_links_that_lead_back_are_walked_once_and_a_file_has_one_row(tmp_path: Path):
    (tmp_path / "inner").mkdir()
    (tmp_path / "inner" / "take.wav").write_bytes(WAV)
    (tmp_path / "inner" / "again").symlink_to(tmp_path)
    (tmp_path / "alias.wav").symlink_to(tmp_path / "inner" / "take.wav")
    (tmp_path / "nowhere.wav").symlink_to(tmp_path / "missing.wav")

    assert names(tmp_path) == ["alias.wav"]
    assert find_recordings(tmp_path).left_aside == {"seen under another name": 1, "without sound": 1}


def test_a_folder_elsewhere_is_followed(tmp_path: Path):
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "elsewhere" / "take.wav").write_bytes(WAV)
    (tmp_path / "here").mkdir()
    (tmp_path / "here" / "linked").symlink_to(tmp_path / "elsewhere")

    assert names(tmp_path / "here") == ["linked/take.wav"]


def test_pipes_are_not_opened(tmp_path: Path):
    os.mkfifo(tmp_path / "pipe.wav")
    os.mkfifo(tmp_path / "pipe")

    assert names(tmp_path) == []
    assert find_recordings(tmp_path).left_aside == {"without sound": 2}


def test_names_that_are_no_text_are_found(tmp_path: Path):
    (tmp_path / os.fsdecode(b"take \xff.wav")).write_bytes(WAV)

    assert names(tmp_path) == [os.fsdecode(b"take \xff.wav")]


@pytest.mark.parametrize(("name", "code"), [("missing", "file-missing"), ("take.wav", "no-folder")])
def test_what_is_no_folder_is_refused(tmp_path: Path, name: str, code: str):
    (tmp_path / "take.wav").write_bytes(WAV)
    with pytest.raises(RoomirError) as refused:
        find_recordings(tmp_path / name)

    assert refused.value.code == code
