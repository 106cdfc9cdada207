"""What gives no sound is refused in one line that names the file, with a remedy, and costs little."""

from __future__ import annotations

import os
import re
import socket
import struct
import sys
import tempfile
import time
import tracemalloc
from pathlib import Path

import av
import numpy as np
import pytest

from roomir.audio.load import open_recording
from roomir.errors import AudioError, NothingRecordedError, UnreadableAudioError
from tests.audio import sound_files
from tests.audio.sound_files import RATE_HZ, decay, pcm_16, riff, wav_format
from tests.fuzz.trees import BOXES


def refusal(path: Path | bytes | str, *, channel: int | None = None) -> AudioError:
    with pytest.raises(AudioError) as caught:
        open_recording(path, channel=channel)
    error = caught.value
    name = os.fsdecode(path)
    assert error.says.startswith(f"{name}: ")
    assert "\n" not in error.says + error.remedy
    assert error.remedy
    assert re.fullmatch(r"[a-z]+(-[a-z]+)*", error.code)
    return error


@pytest.fixture(autouse=True)
def _nothing_is_said_on_the_side(capfd):
    """Decoders print whatever they like; none of it reaches the builder."""
    yield
    assert capfd.readouterr() == ("", "")


# The file itself


def test_a_missing_file_is_called_missing(tmp_path):
    error = refusal(tmp_path / "clap.wav")
    assert (type(error), error.code) == (UnreadableAudioError, "file-missing")
    assert refusal(tmp_path / "clap.wav" / "below").code == "file-missing"
    (tmp_path / "gone.wav").symlink_to(tmp_path / "nowhere.wav")
    assert refusal(tmp_path / "gone.wav").code == "file-missing"


def test_a_name_no_file_can_have_is_refused_too():
    with pytest.raises(UnreadableAudioError, match=r"a\\x00b: there is no such file"):
        open_recording("a\0b")
    assert refusal("x" * 5000).code == "cannot-open"


def test_a_folder_is_called_a_folder(tmp_path):
    assert refusal(tmp_path).code == "is-a-folder"


def test_an_empty_file_is_called_empty(tmp_path):
    (tmp_path / "clap.m4a").touch()
    error = refusal(tmp_path / "clap.m4a")
    assert (type(error), error.code) == (NothingRecordedError, "file-empty")


@pytest.mark.skipif(sys.platform == "win32", reason="pipes have no place in folders here")
def test_pipes_sockets_and_devices_are_refused_at_once(tmp_path):
    os.mkfifo(tmp_path / "pipe.wav")  # opening it would wait for a writer
    assert refusal(tmp_path / "pipe.wav").code == "not-a-file"
    assert refusal("/dev/null").code == "not-a-file"
    with socket.socket(socket.AF_UNIX) as listener:
        listener.bind(str(tmp_path / "s"))
        assert refusal(tmp_path / "s").code == "not-a-file"


@pytest.mark.skipif(sys.platform == "win32", reason="permissions work differently there")
def test_a_file_of_somebody_else_is_refused_for_want_of_permission():
    nobody = 65534
    with tempfile.TemporaryDirectory() as folder:  # not tmp_path, whose parents are closed to others
        Path(folder).chmod(0o755)
        locked = sound_files.save(Path(folder) / "locked.wav", decay(), container="WAV", subtype="PCM_16")
        free = sound_files.save(Path(folder) / "free.wav", decay(), container="WAV", subtype="PCM_16")
        inside = Path(folder) / "closed" / "clap.wav"
        inside.parent.mkdir()
        inside.touch()
        locked.chmod(0o000)
        free.chmod(0o444)
        inside.parent.chmod(0o000)
        as_root = os.geteuid() == 0
        if as_root:  # root may read anything, so be nobody for a moment
            os.setegid(nobody)
            os.seteuid(nobody)
        try:
            assert refusal(locked).code == "no-permission"
            assert refusal(inside).code == "no-permission"
            assert open_recording(free).duration_s == pytest.approx(1.5)
        finally:
            if as_root:
                os.seteuid(0)
                os.setegid(0)
            inside.parent.chmod(0o755)


# Not sound


NOT_SOUND = {
    "text": b"Clap list, 3 May\nnorth corner 1.2 m\n" * 40,
    "one byte": b"R",
    "web page": b"<!DOCTYPE html><html><body>Your download has expired.</body></html>",
    "picture": b"\xff\xd8\xff\xe0\0\x10JFIF\0" + bytes(3000),
    "archive": b"PK\x03\x04" + bytes(3000),
    "zeros": bytes(5000),
    "noise": np.random.default_rng(5).bytes(20000),
    # These name other files or hosts, which a decoder must not go and open.
    "play list": b"#EXTM3U\n#EXT-X-TARGETDURATION:9\n#EXTINF:9,\n/etc/passwd\n#EXT-X-ENDLIST\n",
    "cue script": b"ffconcat version 1.0\nfile /etc/passwd\n",
    "session": b"v=0\no=- 0 0 IN IP4 127.0.0.1\ns=x\nc=IN IP4 127.0.0.1\nt=0 0\nm=audio 5004 RTP/AVP 96\n",
}


@pytest.mark.parametrize("suffix", ["wav", "m4a", "mp3"])
@pytest.mark.parametrize("what", NOT_SOUND)
def test_what_is_no_sound_is_said_to_be_none_whatever_its_suffix(tmp_path, what, suffix):
    (tmp_path / f"clap.{suffix}").write_bytes(NOT_SOUND[what])
    error = refusal(tmp_path / f"clap.{suffix}")
    assert (type(error), error.code) == (UnreadableAudioError, "not-sound")


def test_a_film_without_sound_is_told_from_a_damaged_one(tmp_path):
    path = tmp_path / "t.mp4"
    with av.open(str(path), "w") as out:
        film = out.add_stream("mpeg4", rate=10)
        film.width, film.height, film.pix_fmt = 64, 48, "yuv420p"
        frame = av.VideoFrame.from_ndarray(np.zeros((48, 64, 3), np.uint8), format="rgb24")
        out.mux(film.encode(frame))
        out.mux(film.encode(None))
    assert refusal(path).code == "no-audio-track"


def test_a_coding_nobody_here_knows_is_named_as_the_trouble(tmp_path):
    path = sound_files.save_film(tmp_path / "t.mov", [decay()], container="mov", codec="alac")
    path.write_bytes(path.read_bytes().replace(b"alac", b"zzzz"))
    assert refusal(path).code == "unknown-codec"


# Damaged or unfinished


def test_a_memo_that_was_never_finished_is_told_so(tmp_path):
    whole = sound_files.save_film(tmp_path / "w.m4a", [decay()], container="ipod", codec="aac").read_bytes()
    index_at = whole.index(b"moov") - 4
    for length in (40, 2000, index_at, index_at + 300):
        (tmp_path / "clap.m4a").write_bytes(whole[:length])
        error = refusal(tmp_path / "clap.m4a")
        assert (type(error), error.code) == (UnreadableAudioError, "unfinished")
        assert "never finished" in error.says


@pytest.mark.parametrize("container", ["WAV", "RF64", "W64", "AIFF", "CAF", "AU", "OGG"])
def test_a_header_without_sound_is_refused(tmp_path, container):
    subtype = {"OGG": "VORBIS"}.get(container, "PCM_16")
    path = sound_files.save(tmp_path / "t", decay()[:0], container=container, subtype=subtype)
    error = refusal(path)
    assert (type(error), error.code) == (NothingRecordedError, "no-samples")


@pytest.mark.parametrize("length", [4, 12, 20, 40])
def test_a_wav_cut_within_its_header_is_refused(tmp_path, length):
    whole = riff((b"fmt ", wav_format()), (b"data", pcm_16(decay())))
    (tmp_path / "t.wav").write_bytes(whole[:length])
    assert refusal(tmp_path / "t.wav").code in ("damaged", "no-samples", "not-sound")


def test_a_film_of_hundreds_of_broken_tracks_is_given_up_soon(tmp_path):
    path = sound_files.save_film(tmp_path / "t.mov", [decay(duration_s=0.2)], container="mov", codec="aac")
    whole = path.read_bytes()
    index = whole.index(b"moov") - 4
    preamble, pieces = BOXES.parse(whole[index:])
    (moov,) = pieces
    tracks = [piece for piece in moov.body if piece.name == b"trak"]
    moov.body.extend(tracks * 300)
    broken = BOXES.write(preamble, pieces).replace(b"mp4a", b"zzzz").replace(b"esds", b"zzzz")
    path.write_bytes(whole[:index] + broken)
    began = time.monotonic()
    assert refusal(path).code == "unknown-codec"
    assert time.monotonic() - began < 10.0


# Samples


@pytest.mark.parametrize("subtype", ["FLOAT", "DOUBLE"])
@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf])
def test_samples_that_are_no_numbers_are_counted_and_refused(tmp_path, subtype, value):
    samples = decay(n_channels=2)
    samples[70000:70003, 1] = value
    path = sound_files.save(tmp_path / "t.wav", samples, container="WAV", subtype=subtype)
    error = refusal(path)
    assert (type(error), error.code) == (UnreadableAudioError, "not-finite")
    assert "3 of 144000 samples" in error.says
    assert open_recording(path, channel=1).sound.n_channels == 1


@pytest.mark.parametrize(
    ("container", "subtype"),
    [("WAV", "PCM_U8"), ("WAV", "PCM_16"), ("WAV", "FLOAT"), ("FLAC", "PCM_24"), ("MP3", "MPEG_LAYER_III")],
)
def test_digital_silence_is_called_silent(tmp_path, container, subtype):
    path = sound_files.save(
        tmp_path / "t", np.zeros((48000, 2), np.float32), container=container, subtype=subtype
    )
    error = refusal(path)
    assert (type(error), error.code) == (NothingRecordedError, "silent")


def test_a_silent_phone_memo_is_called_silent(tmp_path):
    silence = np.zeros((48000, 1), np.float32)
    path = sound_files.save_film(tmp_path / "t.m4a", [silence], container="ipod", codec="aac")
    assert refusal(path).code == "silent"


def test_numbers_beyond_any_sound_are_refused(tmp_path):
    path = sound_files.save(tmp_path / "t.wav", 1e30 * decay(), container="WAV", subtype="FLOAT")
    error = refusal(path)
    assert (type(error), error.code) == (UnreadableAudioError, "absurd-level")
    path = sound_files.save(tmp_path / "t.wav", 1e-30 * decay(), container="WAV", subtype="FLOAT")
    assert refusal(path).code == "silent"


def test_integers_written_as_floats_are_sound_all_the_same(tmp_path):
    for full_scale in (2.0**15, 2.0**31):
        path = sound_files.save(tmp_path / "t.wav", full_scale * decay(), container="WAV", subtype="FLOAT")
        assert open_recording(path).notes == ()


def test_an_offset_and_nothing_else_is_no_recording(tmp_path):
    samples = np.full((48000, 1), 0.125, np.float32)
    path = sound_files.save(tmp_path / "t.wav", samples, container="WAV", subtype="PCM_16")
    error = refusal(path)
    assert (type(error), error.code) == (NothingRecordedError, "constant")
    assert "0.125" in error.says


@pytest.mark.parametrize("n_frames", [1, 2, 2399])
def test_less_than_fifty_milliseconds_is_too_short(tmp_path, n_frames):
    path = sound_files.save(
        tmp_path / "t.wav", decay()[12000 : 12000 + n_frames], container="WAV", subtype="PCM_16"
    )
    error = refusal(path)
    assert (type(error), error.code) == (NothingRecordedError, "too-short")


def test_fifty_milliseconds_are_long_enough_to_look_at(tmp_path):
    path = sound_files.save(tmp_path / "t.wav", decay()[12000:14400], container="WAV", subtype="PCM_16")
    assert open_recording(path).sound.n_frames == 2400


# Claims no memory may be spent on


def flac_claiming(*, n_frames: int) -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        path = sound_files.save(Path(folder) / "t", decay(), container="FLAC", subtype="PCM_16")
        whole = bytearray(path.read_bytes())
    # STREAMINFO: 20 bits rate, 3 bits channels - 1, 5 bits depth - 1, 36 bits frames (RFC 9639, 8.2).
    whole[18:26] = (RATE_HZ << 44 | 15 << 36 | n_frames).to_bytes(8, "big")
    return bytes(whole)


def aiff_claiming(*, n_channels: int, rate: bytes, n_frames: int) -> bytes:
    common = struct.pack(">hIh", n_channels, n_frames, 16) + rate
    sound = bytes(8) + bytes(2000)
    body = (
        b"AIFF" + b"COMM" + struct.pack(">I", 18) + common + b"SSND" + struct.pack(">I", len(sound)) + sound
    )
    return b"FORM" + struct.pack(">I", len(body)) + body


def caf_claiming(*, n_channels: int, rate_hz: float) -> bytes:
    description = struct.pack(
        ">d4sIIIII", rate_hz, b"lpcm", 0, 2 * n_channels & 0xFFFFFFFF, 1, n_channels, 16
    )
    return (
        b"caff\0\1\0\0desc"
        + struct.pack(">q", 32)
        + description
        + b"data"
        + struct.pack(">q", -1)
        + bytes(2004)
    )


SOUND = pcm_16(decay())
IMPOSSIBLE = {
    "no channels": riff((b"fmt ", wav_format(n_channels=0)), (b"data", SOUND)),
    "two thousand channels": riff((b"fmt ", wav_format(n_channels=2000)), (b"data", SOUND)),
    "as many channels as fit": riff((b"fmt ", wav_format(n_channels=65535)), (b"data", SOUND)),
    "a hundred channels": riff((b"fmt ", wav_format(n_channels=100)), (b"data", SOUND)),
    "rate zero": riff((b"fmt ", wav_format(rate_hz=0)), (b"data", SOUND)),
    "rate one": riff((b"fmt ", wav_format(rate_hz=1)), (b"data", SOUND)),
    "rate four thousand million": riff((b"fmt ", wav_format(rate_hz=0xFFFF_FFFF)), (b"data", SOUND)),
    "depth zero": riff((b"fmt ", wav_format(bits=0)), (b"data", SOUND)),
    "depth of 60000 bits": riff((b"fmt ", wav_format(bits=60000)), (b"data", SOUND)),
    "flac of sixteen days": flac_claiming(n_frames=(1 << 36) - 2),
    "aiff without channels": aiff_claiming(
        n_channels=0, rate=bytes.fromhex("400ebb80000000000000"), n_frames=9
    ),
    "aiff with an endless rate": aiff_claiming(n_channels=1, rate=b"\x7f\xff" + b"\xff" * 8, n_frames=9),
    "caf with millions of channels": caf_claiming(n_channels=5_000_000, rate_hz=48000.0),
    "caf with a rate that is no number": caf_claiming(n_channels=1, rate_hz=float("nan")),
    "caf with a negative rate": caf_claiming(n_channels=1, rate_hz=-48000.0),
}


@pytest.mark.parametrize("claim", IMPOSSIBLE)
def test_an_impossible_header_is_refused_before_memory_is_spent(tmp_path, claim):
    (tmp_path / "t").write_bytes(IMPOSSIBLE[claim])
    open_recording_is_warm = refusal(tmp_path / "t")
    assert open_recording_is_warm.code in ("impossible-format", "too-long", "damaged")
    tracemalloc.start()
    try:
        refusal(tmp_path / "t")
        _, peak_bytes = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert peak_bytes < 8 << 20


def test_an_impossible_header_is_quoted(tmp_path):
    (tmp_path / "t.wav").write_bytes(IMPOSSIBLE["two thousand channels"])
    assert "claims 2000 channels at 48000 samples a second" in refusal(tmp_path / "t.wav").says


@pytest.mark.parametrize("n_frames", [72001, 10_000_000, 1_000_000_000])
def test_a_length_that_is_not_there_gives_what_is(tmp_path, n_frames):
    (tmp_path / "t.flac").write_bytes(flac_claiming(n_frames=n_frames))
    tracemalloc.start()
    try:
        recording = open_recording(tmp_path / "t.flac")
        _, peak_bytes = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert recording.sound.n_frames == 72000
    assert peak_bytes < 64 << 20
    if n_frames > 80_000:
        assert [note.code for note in recording.notes] == ["cut-short"]
