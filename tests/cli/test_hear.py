"""`roomir hear` as typed."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.plan.rooms import box_text

Roomir = Callable[..., Any]


@pytest.fixture
def room(tmp_path: Path) -> Path:
    path = tmp_path / "room.toml"
    path.write_text(
        box_text((3.2, 2.6, 2.5), walls="gypsum board 13 mm on studs", floor="wood floor on joists")
    )
    return path


def test_a_voice_is_heard_dry_as_it_is_and_as_proposed_equally_loud(
    roomir: Roomir, room: Path, tmp_path: Path
):
    import soundfile
    from pyloudnorm import Meter

    out = tmp_path / "room.wav"
    choice = ("--absorber", "stone wool 50 mm, 80 kg/m3")
    run = roomir("hear", room, "--target", "0.2-0.6", *choice, "-o", out, "--json")
    document = json.loads(run.out)

    assert (run.status, run.err) == (0, "")
    assert document["schema"] == "roomir/heard/1"
    assert document["parts"][:2] == ["dry", "the room as it is"]
    assert len(document["parts"]) == 3
    before, after = (one["asked_s"] for one in document["responses"])
    assert after[4] < 0.7 * before[4]
    samples, rate = soundfile.read(out)
    assert np.abs(samples).max() < 1.0
    # The parts are told apart by 0.6 s of digital silence; the dry voice has a pause of its own within it.
    dry_s = 5.9
    meter = Meter(rate)
    first = meter.integrated_loudness(samples[: round(dry_s * rate)])
    assert first == pytest.approx(document["loudness_lufs"], abs=0.3)


@pytest.mark.parametrize(
    ("name", "says"), [("room.mp3", "does not end in .wav"), ("there.wav", "will not be overwritten")]
)
def test_no_file_is_overwritten(roomir: Roomir, room: Path, tmp_path: Path, name: str, says: str):
    (tmp_path / "there.wav").write_bytes(b"kept")
    run = roomir("hear", room, "-o", tmp_path / name)

    assert run.status == 2
    assert says in run.err
    assert (tmp_path / "there.wav").read_bytes() == b"kept"


def test_a_dry_sound_of_ones_own_that_is_too_short_is_refused(roomir: Roomir, room: Path, tmp_path: Path):
    import soundfile

    soundfile.write(tmp_path / "dry.wav", 0.1 * np.sin(np.arange(4800)), 48_000)
    run = roomir("hear", room, "--dry", tmp_path / "dry.wav", "-o", tmp_path / "out.wav")

    assert run.status == 1
    assert "too short for a loudness" in run.err
