"""An hour of sound is read like a second of it, and takes no more memory."""

from __future__ import annotations

import gc
import struct
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import pytest

from roomir.audio import foreign, native
from roomir.audio.load import open_recording
from roomir.audio.long_sound import OneChannel, RawSound, SoundInFile
from roomir.audio.recording import Sound, SoundInMemory
from roomir.audio.watched import Watched
from tests.audio import sound_files
from tests.audio.sound_files import decay, pcm_16, wav_format


@pytest.fixture
def everything_is_long(monkeypatch):
    """Leave takes on disk from 100 kB on, so that seconds stand for hours."""
    monkeypatch.setattr(native, "MAX_BYTES_IN_MEMORY", 100_000)
    monkeypatch.setattr(foreign, "MAX_BYTES_IN_MEMORY", 100_000)


def assert_same_sound(sound: Sound, samples: np.ndarray, *, atol: float) -> None:
    """Whatever is asked, in whatever order, is what a slice of the array would be."""
    n = len(samples)
    assert (sound.n_frames, sound.n_channels) == samples.shape
    for n_frames in (1000, 65536, n, 2 * n):
        blocks = list(sound.blocks(n_frames=n_frames))
        assert [len(block) for block in blocks] == [
            min(n_frames, n - start) for start in range(0, n, n_frames)
        ]
        np.testing.assert_allclose(np.concatenate(blocks), samples, rtol=0.0, atol=atol)
    rng = np.random.default_rng(11)
    for start, stop in [(0, 0), (-5, 10), (n - 3, n + 50), (n, n + 1), (n + 7, n + 9), (500, 20), (-9, -2)]:
        expected = samples[max(start, 0) : max(min(stop, n), 0)]
        got = sound.stretch(start=start, stop=stop)
        assert got.shape == expected.shape
        np.testing.assert_allclose(got, expected, rtol=0.0, atol=atol)
    for _ in range(40):
        start = int(rng.integers(0, n))
        stop = start + int(rng.integers(1, 20000))
        got = sound.stretch(start=start, stop=stop)
        assert got.dtype == np.float32
        np.testing.assert_allclose(got, samples[start:stop], rtol=0.0, atol=atol)


@pytest.mark.parametrize("n_channels", [1, 2])
@pytest.mark.parametrize(
    ("container", "subtype", "kept_as"),
    [
        ("WAV", "PCM_24", SoundInFile),
        ("AIFF", "PCM_16", SoundInFile),
        ("CAF", "FLOAT", SoundInFile),
        ("FLAC", "PCM_24", SoundInFile),
        ("OGG", "VORBIS", RawSound),
        ("MP3", "MPEG_LAYER_III", RawSound),
    ],
)
def test_a_long_take_is_the_same_sound_on_disk(
    tmp_path, monkeypatch, container, subtype, kept_as, n_channels
):
    path = sound_files.save(
        tmp_path / "t", decay(n_channels=n_channels, duration_s=2.0), container=container, subtype=subtype
    )
    in_memory = open_recording(path).sound
    monkeypatch.setattr(native, "MAX_BYTES_IN_MEMORY", 100_000)
    monkeypatch.setattr(foreign, "MAX_BYTES_IN_MEMORY", 100_000)
    sound = open_recording(path).sound
    assert isinstance(sound, kept_as)
    assert_same_sound(sound, in_memory.stretch(start=0, stop=in_memory.n_frames), atol=0.0)


@pytest.mark.usefixtures("everything_is_long")
def test_a_long_phone_memo_is_unpacked_to_disk(tmp_path):
    played = decay(n_channels=2, duration_s=2.0)
    path = sound_files.save_film(
        tmp_path / "t.m4a", [played], container="ipod", codec="alac", sample_format="s32p"
    )
    sound = open_recording(path).sound
    assert isinstance(sound, RawSound)
    assert_same_sound(sound, played, atol=2.0**-23)


@pytest.mark.usefixtures("everything_is_long")
@pytest.mark.parametrize("container", ["WAV", "M4A"])
def test_one_channel_of_a_long_take_can_be_picked(tmp_path, container):
    played, path = decay(n_channels=2, duration_s=2.0), tmp_path / "t"
    if container == "M4A":
        sound_files.save_film(path, [played], container="ipod", codec="alac", sample_format="s32p")
    else:
        sound_files.save(path, played, container="WAV", subtype="FLOAT")
    sound = open_recording(path, channel=2).sound
    assert isinstance(sound, OneChannel)
    assert_same_sound(sound, played[:, 1:], atol=2.0**-23)


@pytest.mark.usefixtures("everything_is_long")
def test_two_readers_at_once_do_not_disturb_each_other(tmp_path):
    played = decay(duration_s=2.0)
    path = sound_files.save(tmp_path / "t", played, container="FLAC", subtype="PCM_24")
    sound = open_recording(path).sound
    for start, (one, two) in zip(
        range(0, len(played), 5000),
        zip(sound.blocks(n_frames=5000), sound.blocks(n_frames=5000), strict=True),
        strict=True,
    ):
        sound.stretch(start=70000, stop=70100)
        np.testing.assert_array_equal(one, two)
        np.testing.assert_allclose(one, played[start : start + 5000], atol=2.0**-23)


@pytest.mark.usefixtures("everything_is_long")
@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="open files can't be counted here")
def test_a_long_take_leaves_nothing_on_disk_when_it_goes(tmp_path, monkeypatch):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "tmp"))
    (tmp_path / "tmp").mkdir()
    memo = sound_files.save_film(tmp_path / "t.m4a", [decay(duration_s=2.0)], container="ipod", codec="aac")
    wav = sound_files.save(tmp_path / "t.wav", decay(duration_s=2.0), container="WAV", subtype="FLOAT")
    before = len(list(Path("/proc/self/fd").iterdir()))
    recordings = [open_recording(memo), open_recording(wav), open_recording(memo, channel=1)]
    assert len(list(Path("/proc/self/fd").iterdir())) == before + 3
    del recordings
    gc.collect()
    assert len(list(Path("/proc/self/fd").iterdir())) == before
    assert list((tmp_path / "tmp").iterdir()) == []


@pytest.mark.usefixtures("everything_is_long")
def test_a_damaged_long_take_is_decoded_once_and_kept_apart(tmp_path):
    path = sound_files.save(tmp_path / "t", decay(duration_s=4.0), container="FLAC", subtype="PCM_16")
    damaged = bytearray(path.read_bytes())
    damaged[len(damaged) // 2 :][:40] = bytes(40)
    path.write_bytes(damaged[: len(damaged) * 3 // 4])
    sound = open_recording(path).sound
    assert isinstance(sound, RawSound)
    whole = np.concatenate(list(sound.blocks(n_frames=7000)))
    assert len(whole) == sound.n_frames


@pytest.mark.usefixtures("everything_is_long")
@pytest.mark.parametrize("container", ["WAV", "M4A"])
def test_whoever_waits_for_a_long_take_is_told_how_far_it_is(tmp_path, monkeypatch, container):
    monkeypatch.setattr(foreign, "_LOOK_S", 0.001)
    played, path, parts = decay(n_channels=2, duration_s=4.0), tmp_path / "t", []
    if container == "M4A":
        sound_files.save_film(path, [played], container="ipod", codec="alac", sample_format="s32p")
    else:
        sound_files.save(path, played, container="WAV", subtype="FLOAT")
    open_recording(path, tell=parts.append)
    assert parts[-1] == 1.0
    assert len(set(parts)) >= 3
    assert all(0.0 <= part <= 1.0 for part in parts)


def test_a_sound_that_is_watched_is_the_same_sound():
    played, parts = decay(n_channels=2, duration_s=2.0), []
    sound = Watched(SoundInMemory(samples=played, sample_rate_hz=48000), tell=parts.append)
    assert_same_sound(sound, played, atol=0.0)
    assert sound.sample_rate_hz == 48000
    parts.clear()
    for _ in sound.blocks(n_frames=96):
        pass
    sound.stretch(start=0, stop=960)
    assert parts[:-1] == [step / 100 for step in range(101)]
    assert parts[-1] == 0.01


PEAK = """
import sys
from roomir.audio.load import open_recording
sound = open_recording(sys.argv[1]).sound
assert sound.n_frames == int(sys.argv[2]), sound.n_frames
for number, block in zip(range(300), sound.blocks(n_frames=1 << 16)):
    assert number > 0 or abs(block).max() > 0.1
for minute in range(60):
    assert len(sound.stretch(start=minute * 2880000, stop=minute * 2880000 + 480000)) == 480000
# Not ru_maxrss, in which the size of whoever started this process lives on.
(peak,) = [line for line in open("/proc/self/status") if line.startswith("VmHWM:")]
print(int(peak.split()[1]) // 1024)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="the peak of memory is not told elsewhere")
def test_an_hour_in_stereo_fits_into_the_memory_of_a_minute(tmp_path):
    n_frames = 3600 * 48000
    n_bytes = n_frames * 4
    start = pcm_16(decay(n_channels=2))
    with (tmp_path / "hour.wav").open("wb") as out:
        out.write(b"RIFF" + struct.pack("<I", n_bytes + 36) + b"WAVEfmt " + struct.pack("<I", 16))
        out.write(wav_format(n_channels=2) + b"data" + struct.pack("<I", n_bytes) + start)
        out.truncate(44 + n_bytes)  # the rest is a hole: silence that takes no room on the disk
    done = subprocess.run(
        [sys.executable, "-c", PEAK, str(tmp_path / "hour.wav"), str(n_frames)],
        capture_output=True,
        text=True,
        check=True,
    )
    assert int(done.stdout) < 150  # MB, some 60 of them the interpreter and its libraries
