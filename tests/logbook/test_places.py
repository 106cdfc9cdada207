"""Where a take was recorded is never kept, and its sound is not touched by that. The places are invented."""

from __future__ import annotations

import hashlib
import struct
from pathlib import Path

import numpy as np
import pytest

from roomir.audio.load import open_recording
from roomir.logbook.logbook import Logbook
from roomir.logbook.places import find_places
from tests.audio import sound_files

PLACE = "+48.1351+011.5820+519.000/"
DIGITS = (b"48.1351", b"011.5820")

FILES = {
    "film with a location box": {"container": "mov", "codec": "aac", "tags": {"location": PLACE}},
    "M4A with a location box": {"container": "ipod", "codec": "aac", "tags": {"location": PLACE}},
    "MP4 with a location box": {"container": "mp4", "codec": "aac", "tags": {"location": PLACE}},
    "3GP with a location box": {"container": "3gp", "codec": "aac", "tags": {"location": PLACE}},
    "film with a metadata list": {
        "container": "mov",
        "codec": "aac",
        "tags": {
            "com.apple.quicktime.location.ISO6709": PLACE,
            "com.apple.quicktime.location.name": "Room 48.1351 011.5820",
        },
        "options": {"movflags": "use_metadata_tags"},
    },
    "Matroska": {"container": "matroska", "codec": "libopus", "tags": {"LOCATION": PLACE}},
    "OGG": {"container": "ogg", "codec": "libopus", "tags": {"LOCATION": PLACE}},
    "FLAC": {"container": "flac", "codec": "flac", "tags": {"LOCATION": PLACE}},
    "MP3": {"container": "mp3", "codec": "libmp3lame", "tags": {"LOCATION": PLACE}},
}


@pytest.mark.parametrize("kind", FILES)
def test_a_place_is_blanked_and_the_sound_stays_the_same_to_the_sample(kind: str, tmp_path: Path):
    how = FILES[kind]
    if not sound_files.can_encode(how["codec"]):  # type: ignore[arg-type]
        pytest.skip(f"this build has no {how['codec']}")
    file = sound_files.save_film(tmp_path / "take", [sound_files.decay()], **how)  # type: ignore[arg-type]
    content = file.read_bytes()
    assert any(digits in content for digits in DIGITS) or b"loci" in content
    with Logbook(tmp_path / "book", create=True) as book:
        (logged,) = book.log([file], room="R", stage="S").takes
        take = logged.take
        assert take is not None
        kept = book.recording(take)
        (again,) = book.log([file], room="R", stage="S").takes
        (blanked,) = book.log([kept], room="R", stage="S").takes
        assert book.check().problems == ()

    assert take.original_sha256 == hashlib.sha256(content).hexdigest()
    assert take.sha256 == hashlib.sha256(kept.read_bytes()).hexdigest() != take.original_sha256
    assert again.outcome == blanked.outcome == "already kept", (
        "with and without the place it is the same take"
    )
    assert len(kept.read_bytes()) == len(content)
    before, after = (open_recording(path) for path in (file, kept))
    everything = before.sound.n_frames
    assert np.array_equal(
        before.sound.stretch(start=0, stop=everything), after.sound.stretch(start=0, stop=everything)
    )
    for path in (tmp_path / "book").rglob("*"):
        assert path.is_dir() or not any(digits in path.read_bytes() for digits in (*DIGITS, b"loci")), path


def test_a_take_without_a_place_is_kept_byte_for_byte(sample_data: Path):
    for path in sample_data.iterdir():
        if path.suffix in (".wav", ".flac", ".m4a", ".mov"):
            with path.open("rb") as file:
                assert find_places(file) == (), path


@pytest.mark.parametrize("at", [0, 1 << 22, (1 << 22) - 9, 3 << 21])
def test_a_place_is_found_wherever_it_stands(at: int, tmp_path: Path):
    path = tmp_path / "x"
    path.write_bytes(bytes(at) + PLACE.encode() + bytes(99))
    with path.open("rb") as file:
        blanks = find_places(file)

    assert blanks[0].start == at
    assert blanks[-1].stop == at + len(PLACE)
    assert b"".join(blank.instead for blank in blanks).strip() == b""


def test_the_coordinates_of_an_exif_packet_are_blanked(tmp_path: Path):
    path = tmp_path / "x"
    path.write_bytes(b'<rdf exif:GPSLatitude="48,8.106N" exif:GPSLongitude="11,34.92E"/>' + bytes(9))
    with path.open("rb") as file:
        assert len(find_places(file)) == 2


@pytest.mark.parametrize("size", [0, 1, 7, 0xFFFF_FFFF])
def test_boxes_that_lead_nowhere_end_the_search(size: int, tmp_path: Path):
    path = tmp_path / "x.mov"
    box = struct.pack(">I", size) + b"udta"
    moov = struct.pack(">I", 8 + len(box)) + b"moov" + box
    path.write_bytes(struct.pack(">I", 16) + b"ftypqt  " + bytes(4) + moov * 3)
    with path.open("rb") as file:
        assert find_places(file) == ()
