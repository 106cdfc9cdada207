"""Whatever happens to a file on its way: it gives sound that is sound, or one clear line."""

from __future__ import annotations

import re
import time
from pathlib import Path

import numpy as np
import pytest

from roomir.audio.load import open_recording
from roomir.audio.recording import Recording
from roomir.errors import AudioError
from tests.audio.damage import damaged, whole_files

N_ROUNDS = 8
SEED = 20250503


@pytest.fixture(scope="module")
def files() -> dict[str, bytes]:
    return whole_files()


def open_or_error(path: Path) -> Recording | AudioError:
    try:
        return open_recording(path)
    except AudioError as error:
        return error


@pytest.mark.parametrize("round_", range(N_ROUNDS))
def test_a_damaged_file_gives_sound_or_one_clear_line(tmp_path, files, round_, capfd):
    path = tmp_path / "clap.wav"
    for number, (kind, whole) in enumerate(files.items()):
        path.write_bytes(damaged(whole, np.random.default_rng((SEED, round_, number))) or b"R")
        began = time.monotonic()
        result = open_or_error(path)
        assert time.monotonic() - began < 20.0, kind
        if isinstance(result, AudioError):
            assert result.says.startswith(f"{path}: "), kind
            assert "\n" not in result.says + result.remedy, kind
            assert result.remedy, kind
            assert re.fullmatch(r"[a-z]+(-[a-z]+)*", result.code), kind
            assert result.code not in ("decoder-crashed", "decoder-hangs"), kind
            continue
        sound = result.sound
        assert 8000 <= sound.sample_rate_hz <= 192000, kind
        assert 1 <= sound.n_channels <= 64, kind
        samples = sound.stretch(start=0, stop=sound.n_frames)
        assert samples.shape == (sound.n_frames, sound.n_channels), kind
        assert np.isfinite(samples).all(), kind
        assert result.duration_s < 3600.0, kind
    assert capfd.readouterr() == ("", "")
