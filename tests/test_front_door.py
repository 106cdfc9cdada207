"""`roomir.read`: files by any name in, one reading out, and news for whoever waits."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import numpy as np
import pytest

import roomir
from roomir.audio import foreign
from roomir.errors import ParameterError
from tests.audio import sound_files

RATE_HZ = 16000


@pytest.fixture
def two_minutes(tmp_path: Path) -> Path:
    """A burst at the beginning and a long quiet rest."""
    quiet = 1e-4 * np.random.default_rng(3).standard_normal((118 * RATE_HZ, 1)).astype(np.float32)
    played = np.vstack([sound_files.decay(rate_hz=RATE_HZ, duration_s=2.0), quiet])
    return sound_files.save(tmp_path / "clap.wav", played, rate_hz=RATE_HZ, container="WAV", subtype="PCM_16")


def test_whoever_waits_hears_of_every_file_and_how_far_it_is(two_minutes: Path, tmp_path: Path):
    news = []
    roomir.read(
        [tmp_path / "missing.wav", two_minutes], progress=lambda *what: news.append((*what, "", 0.0)[:5])
    )
    assert news[:2] == [
        (1, 2, str(tmp_path / "missing.wav"), "", 0.0),
        (2, 2, str(two_minutes), "", 0.0),
    ]
    for doing in ("opening", "listening"):
        parts = [part for *_, what, part in news if what == doing]
        assert max(parts) == 1.0
        assert len(set(parts)) > 20


@pytest.mark.skipif(sys.platform != "linux", reason="only here can a name be any bytes")
def test_a_name_may_be_bytes_and_is_spelt_out_in_the_reading(two_minutes: Path):
    name = os.fsencode(two_minutes.parent) + b"/caf\xe9.wav"
    os.rename(two_minutes, name)  # noqa: PTH104 - a Path can't be bytes
    reading = roomir.read(name)
    shown = f"{two_minutes.parent}/caf\\xe9.wav"
    assert [take.path for take in reading.takes] == [shown]
    assert {failure.path for failure in reading.failures} <= {shown}
    (gone,) = roomir.read(b"gone \xff.wav").failures
    assert gone.path == r"gone \xff.wav"
    assert gone.says.count(gone.path) == 1


def test_a_channel_below_the_first_is_refused_by_the_same_code_everywhere(two_minutes: Path):
    with pytest.raises(ParameterError) as caught:
        roomir.read(two_minutes, channel=0)
    (failure,) = roomir.read(two_minutes, channel=2).failures
    assert caught.value.code == failure.code == "no-such-channel"


@pytest.mark.parametrize(
    ("habit", "code"),
    [("import os; os.abort()", "decoder-crashed"), ("import time; time.sleep(60)", "decoder-hangs")],
)
def test_a_decoder_that_breaks_down_costs_its_file_and_no_other(
    two_minutes: Path,
    monkeypatch: pytest.MonkeyPatch,
    capfd: pytest.CaptureFixture[str],
    habit: str,
    code: str,
):
    memo = sound_files.save_film(
        two_minutes.with_suffix(".m4a"), [sound_files.decay()], container="ipod", codec="aac"
    )
    monkeypatch.setattr(foreign, "_COMMAND", [sys.executable, "-c", habit])
    monkeypatch.setattr(foreign, "BASE_TIMEOUT_S", 1.0)
    reading = roomir.read([memo, two_minutes])
    assert [take.path for take in reading.takes] == [str(two_minutes)]
    assert (reading.failures[0].path, reading.failures[0].code) == (str(memo), code)
    assert capfd.readouterr() == ("", "")
