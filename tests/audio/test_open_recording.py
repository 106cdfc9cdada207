"""Every kind of file a phone or recorder writes gives back the sound that went into it."""

from __future__ import annotations

import hashlib
import os
import struct
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from roomir.audio.load import open_recording
from roomir.audio.recording import Recording, SoundInMemory
from roomir.errors import ParameterError
from tests.audio import sound_files
from tests.audio.sound_files import (
    RATE_HZ,
    can_encode,
    decay,
    delay_frames,
    levels_db,
    pcm_16,
    riff,
    wav_format,
)


def heard(recording: Recording) -> np.ndarray:
    return recording.sound.stretch(start=0, stop=recording.sound.n_frames)


def assert_same_decay(
    recording: Recording, played: np.ndarray, *, within_db: float, down_to_db: float
) -> None:
    """Same length, same start, and the same level in every 20 ms of the decay, channel by channel."""
    got = heard(recording)
    assert recording.sound.n_channels == played.shape[1]
    for channel in range(played.shape[1]):
        assert delay_frames(got[:, channel], played[:, channel]) == 0
        rate_hz = recording.sound.sample_rate_hz
        was = levels_db(played[:, channel], rate_hz=rate_hz)
        now = levels_db(got[:, channel], rate_hz=rate_hz)[: len(was)]
        # From the block after the onset on: within one block a codec may smear the onset itself.
        loud = np.flatnonzero(was > was.max() - down_to_db)[1:]
        np.testing.assert_allclose(now[loud], was[loud], atol=within_db)


UNPACKED = [
    ("WAV", "PCM_U8", 2.0**-7),
    ("WAV", "PCM_16", 2.0**-15),
    ("WAV", "PCM_24", 2.0**-23),
    ("WAV", "PCM_32", 2.0**-23),
    ("WAV", "FLOAT", 0.0),
    ("WAV", "DOUBLE", 0.0),
    ("WAVEX", "PCM_16", 2.0**-15),
    ("WAVEX", "PCM_24", 2.0**-23),
    ("WAVEX", "FLOAT", 0.0),
    ("RF64", "PCM_24", 2.0**-23),
    ("W64", "PCM_16", 2.0**-15),
    ("AIFF", "PCM_S8", 2.0**-7),
    ("AIFF", "PCM_16", 2.0**-15),
    ("AIFF", "PCM_24", 2.0**-23),
    ("AIFF", "FLOAT", 0.0),
    ("CAF", "PCM_16", 2.0**-15),
    ("CAF", "PCM_24", 2.0**-23),
    ("CAF", "ALAC_16", 2.0**-15),
    ("CAF", "ALAC_24", 2.0**-23),
    ("AU", "PCM_16", 2.0**-15),
    ("FLAC", "PCM_16", 2.0**-15),
    ("FLAC", "PCM_24", 2.0**-23),
]


@pytest.mark.parametrize("n_channels", [1, 2])
@pytest.mark.parametrize(("container", "subtype", "step"), UNPACKED)
def test_sound_kept_without_loss_comes_back_to_the_last_step(tmp_path, container, subtype, step, n_channels):
    played = decay(n_channels=n_channels, duration_s=0.6)
    path = sound_files.save(tmp_path / "take", played, container=container, subtype=subtype)
    recording = open_recording(path)
    assert recording.sound.sample_rate_hz == RATE_HZ
    assert (recording.container, recording.codec) == (container, subtype)
    assert recording.notes == ()
    assert heard(recording).shape == played.shape
    np.testing.assert_allclose(heard(recording), played, rtol=0.0, atol=step)


@pytest.mark.parametrize("rate_hz", [8000, 11025, 16000, 22050, 44100, 88200, 96000, 192000])
def test_a_recording_keeps_its_own_rate(tmp_path, rate_hz):
    played = decay(rate_hz=rate_hz, duration_s=0.5)
    recording = open_recording(
        sound_files.save(tmp_path / "take.wav", played, rate_hz=rate_hz, container="WAV", subtype="PCM_24")
    )
    assert recording.sound.sample_rate_hz == rate_hz
    assert recording.duration_s == pytest.approx(0.5, abs=1e-4)


def test_eight_channels_stay_eight_channels(tmp_path):
    played = decay(n_channels=8, duration_s=0.3)
    path = sound_files.save(tmp_path / "take.wav", played, container="WAVEX", subtype="FLOAT")
    np.testing.assert_array_equal(heard(open_recording(path)), played)


def test_two_channels_with_the_same_sound_stay_two(tmp_path):
    one = decay(duration_s=0.3)
    path = sound_files.save(tmp_path / "t.wav", np.hstack([one, one]), container="WAV", subtype="FLOAT")
    assert open_recording(path).sound.n_channels == 2


def test_an_offset_is_left_to_the_filters(tmp_path):
    played = 0.5 * decay(duration_s=0.3) + np.float32(0.25)
    path = sound_files.save(tmp_path / "t.wav", played, container="WAV", subtype="FLOAT")
    assert heard(open_recording(path)).mean() == pytest.approx(0.25, abs=0.01)


@pytest.mark.parametrize(
    ("container", "subtype", "within_db"),
    [("OGG", "VORBIS", 1.0), ("OGG", "OPUS", 1.0), ("MP3", "MPEG_LAYER_III", 1.0), ("WAV", "IMA_ADPCM", 1.0)],
)
@pytest.mark.parametrize("n_channels", [1, 2])
def test_packed_sound_keeps_its_decay_and_its_start(tmp_path, container, subtype, within_db, n_channels):
    played = decay(n_channels=n_channels)
    path = sound_files.save(tmp_path / "take", played, container=container, subtype=subtype)
    recording = open_recording(path)
    assert recording.codec == subtype
    assert recording.duration_s == pytest.approx(1.5, abs=0.04)  # whole packets
    assert_same_decay(recording, played, within_db=within_db, down_to_db=25.0)


FILMS = [
    # container, codec, suffix, what the recording says of both, pictures
    ("ipod", "aac", "m4a", ("M4A", "AAC"), False),
    ("mp4", "aac", "mp4", ("MP4", "AAC"), True),
    ("mov", "aac", "mov", ("MOV", "AAC"), True),
    ("matroska", "aac", "mkv", ("Matroska", "AAC"), False),
    ("webm", "libopus", "webm", ("WebM", "OPUS"), False),
    ("matroska", "libopus", "mkv", ("Matroska", "OPUS"), False),
    ("adts", "aac", "aac", ("AAC", "AAC"), False),
]


@pytest.mark.parametrize(("container", "codec", "suffix", "names", "pictures"), FILMS)
@pytest.mark.parametrize("n_channels", [1, 2])
def test_phone_sound_keeps_its_decay(tmp_path, container, codec, suffix, names, pictures, n_channels):
    if not can_encode(codec):
        pytest.skip(f"this build of PyAV has no {codec} encoder")
    played = decay(n_channels=n_channels)
    path = sound_files.save_film(
        tmp_path / f"take.{suffix}", [played], container=container, codec=codec, pictures=pictures
    )
    recording = open_recording(path)
    assert (recording.container, recording.codec) == names
    assert recording.sound.sample_rate_hz == RATE_HZ
    assert recording.notes == ()
    if container == "adts":  # nothing in it tells of the coder's delay, nor of its length
        assert recording.duration_s == pytest.approx(1.5, abs=0.1)
        delay = delay_frames(heard(recording)[:, 0], played[:, 0])
        assert delay in (0, 1024)
        played = np.vstack([np.zeros((delay, n_channels), np.float32), played])
        np.testing.assert_allclose(
            levels_db(heard(recording)[:, 0], rate_hz=RATE_HZ).max(),
            levels_db(played[:, 0], rate_hz=RATE_HZ).max(),
            atol=1.0,
        )
        return
    assert recording.duration_s == pytest.approx(1.5, abs=0.001 if suffix != "mkv" else 0.03)
    assert_same_decay(recording, played, within_db=1.0, down_to_db=25.0)


@pytest.mark.parametrize(
    ("container", "codec", "sample_format", "step"),
    [
        ("ipod", "alac", "s16p", 2.0**-15),
        ("ipod", "alac", "s32p", 2.0**-23),
        ("mov", "alac", "s16p", 2.0**-15),
        ("mov", "pcm_s16le", None, 2.0**-15),
        ("mov", "pcm_s24be", None, 2.0**-23),
        ("matroska", "flac", "s16", 2.0**-15),
    ],
)
def test_lossless_sound_in_films_comes_back_to_the_last_step(tmp_path, container, codec, sample_format, step):
    played = decay(n_channels=2, duration_s=0.6)
    path = sound_files.save_film(
        tmp_path / "take", [played], container=container, codec=codec, sample_format=sample_format
    )
    recording = open_recording(path)
    assert heard(recording).shape == played.shape
    np.testing.assert_allclose(heard(recording), played, rtol=0.0, atol=step)


def test_a_voice_memo_of_an_old_phone_is_read_at_eight_kilohertz(tmp_path):
    if not can_encode("libopencore_amrnb"):
        pytest.skip("this build of PyAV has no AMR-NB encoder")
    played = decay(rate_hz=8000)
    path = sound_files.save_film(
        tmp_path / "take.3gp", [played], rate_hz=8000, container="3gp", codec="libopencore_amrnb"
    )
    recording = open_recording(path)
    assert (recording.container, recording.codec) == ("3GP", "AMR_NB")
    assert recording.sound.sample_rate_hz == 8000
    # A speech coder models a voice, not samples: only the fall itself can be expected back.
    was, now = levels_db(played[:, 0], rate_hz=8000), levels_db(heard(recording)[:, 0], rate_hz=8000)
    top = int(np.argmax(was))
    fall_was, fall_now = was[top + 1] - was[top + 11], now[top + 1 : top + 3].max() - now[top + 11]
    assert fall_now == pytest.approx(fall_was, abs=6.0)


@pytest.mark.parametrize(
    ("magic", "first_byte", "frame_bytes", "rate_hz"),
    [(b"#!AMR-WB\n", 0x44, 61, 16000), (b"#!AMR\n", 0x3C, 32, 8000)],
)
def test_bare_speech_frames_last_twenty_milliseconds_each(tmp_path, magic, first_byte, frame_bytes, rate_hz):
    # 3GPP TS 26.201 and 26.101 fix mode and length of a frame; the bits in it are arbitrary here,
    # since no encoder for the wide-band codec comes with the libraries.
    rng = np.random.default_rng(3)
    frames = b"".join(bytes([first_byte]) + rng.bytes(frame_bytes - 1) for _ in range(50))
    (tmp_path / "memo.amr").write_bytes(magic + frames)
    recording = open_recording(tmp_path / "memo.amr")
    assert (recording.container, recording.sound.sample_rate_hz) == ("AMR", rate_hz)
    assert recording.duration_s == pytest.approx(1.0)


def test_bare_packets_are_not_said_to_be_cut_short(tmp_path):
    # Loud noise first and silence behind it: a length worked out from the first packets is far off.
    noise = 0.3 * np.random.default_rng(4).standard_normal((RATE_HZ, 1)).astype(np.float32)
    played = np.vstack([noise, np.zeros((9 * RATE_HZ, 1), np.float32), noise])
    for bit_rate in (64_000, 256_000):
        path = sound_files.save_film(
            tmp_path / "t.aac", [played], container="adts", codec="aac", bit_rate=bit_rate
        )
        recording = open_recording(path)
        assert recording.notes == ()
        assert recording.duration_s == pytest.approx(11.0, abs=0.1)


@pytest.mark.parametrize("suffix", ["wav", "m4a", "txt"])
@pytest.mark.parametrize("made_as", ["WAV", "FLAC", "MP3", "M4A", "WebM"])
def test_the_content_decides_and_not_the_suffix(tmp_path, made_as, suffix):
    played, path = decay(duration_s=0.5), tmp_path / f"take.{suffix}"
    if made_as == "M4A":
        sound_files.save_film(path, [played], container="ipod", codec="aac")
    elif made_as == "WebM":
        sound_files.save_film(path, [played], container="webm", codec="libopus")
    else:
        subtype = {"WAV": "PCM_16", "FLAC": "PCM_16", "MP3": "MPEG_LAYER_III"}[made_as]
        sound_files.save(path, played, container=made_as, subtype=subtype)
    recording = open_recording(path)
    assert recording.container == made_as
    assert recording.duration_s == pytest.approx(0.5, abs=0.05)


def test_mp3_behind_a_tag_with_a_picture_is_still_mp3(tmp_path):
    path = sound_files.save(tmp_path / "t", decay(), container="MP3", subtype="MPEG_LAYER_III")
    picture = bytes(200_000)
    size = len(picture)
    tag = b"ID3\x03\0\0" + bytes([size >> 21 & 127, size >> 14 & 127, size >> 7 & 127, size & 127])
    path.write_bytes(tag + picture + path.read_bytes())
    assert open_recording(path).container == "MP3"


def test_a_short_take_lies_in_memory_and_is_read_only(tmp_path):
    path = sound_files.save(tmp_path / "t.wav", decay(), container="WAV", subtype="PCM_16")
    sound = open_recording(path).sound
    assert isinstance(sound, SoundInMemory)
    assert not sound.samples.flags.writeable


@pytest.mark.parametrize("container", ["WAV", "M4A"])
def test_one_channel_can_be_picked(tmp_path, container):
    played, path = decay(n_channels=2), tmp_path / "take"
    if container == "M4A":
        sound_files.save_film(path, [played], container="ipod", codec="alac", sample_format="s32p")
    else:
        sound_files.save(path, played, container="WAV", subtype="PCM_24")
    for channel in (1, 2):
        recording = open_recording(path, channel=channel)
        assert recording.sound.n_channels == 1
        np.testing.assert_allclose(heard(recording)[:, 0], played[:, channel - 1], atol=2.0**-23)


def test_a_channel_that_is_not_there_is_named_with_those_that_are(tmp_path):
    path = sound_files.save(tmp_path / "t.wav", decay(n_channels=2), container="WAV", subtype="PCM_16")
    with pytest.raises(ParameterError, match=r"t\.wav: there is no channel 3; the file has 2 channels"):
        open_recording(path, channel=3)
    with pytest.raises(ParameterError, match="counted from 1"):
        open_recording(path, channel=0)


def test_a_dead_second_microphone_is_noted_and_the_take_read(tmp_path):
    samples = np.hstack([decay(), np.zeros((72000, 1), np.float32)])
    path = sound_files.save(tmp_path / "t.wav", samples, container="WAV", subtype="PCM_16")
    (note,) = open_recording(path).notes
    assert note.code == "silent-channel"
    assert "channel 2 of 2" in note.says


def test_the_hash_is_that_of_the_bytes(tmp_path):
    path = sound_files.save(tmp_path / "t.wav", decay(), container="WAV", subtype="PCM_16")
    assert open_recording(path).source_sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    path = sound_files.save_film(tmp_path / "t.m4a", [decay()], container="ipod", codec="aac")
    assert open_recording(path).source_sha256 == hashlib.sha256(path.read_bytes()).hexdigest()


# Several tracks


def test_of_two_tracks_the_first_is_read_and_the_other_mentioned(tmp_path):
    tracks = [decay(seed=1), decay(seed=2)]
    path = sound_files.save_film(tmp_path / "t.mp4", tracks, container="mp4", codec="aac")
    recording = open_recording(path)
    (note,) = recording.notes
    assert note.code == "more-tracks"
    assert "2 sound tracks; number 1 was read" in note.says
    assert_same_decay(recording, tracks[0], within_db=1.0, down_to_db=25.0)


def test_a_first_track_in_an_unknown_coding_gives_way_to_the_second(tmp_path):
    tracks = [decay(seed=1), decay(seed=2)]
    path = sound_files.save_film(tmp_path / "t.mov", tracks, container="mov", codec="aac")
    # As on phones that write spatial sound first, in a coding of their maker's.
    path.write_bytes(path.read_bytes().replace(b"mp4a", b"zzzz", 1).replace(b"esds", b"zzzz", 1))
    recording = open_recording(path)
    assert "number 2 was read" in recording.notes[0].says
    assert_same_decay(recording, tracks[1], within_db=1.0, down_to_db=25.0)


# Dates


def test_the_date_in_a_phone_film_is_when_it_was_recorded(tmp_path):
    path = sound_files.save_film(
        tmp_path / "t.m4a",
        [decay()],
        container="ipod",
        codec="aac",
        tags={"creation_time": "2025-05-02T14:03:11Z"},
    )
    recording = open_recording(path)
    assert recording.recorded_at == datetime(2025, 5, 2, 14, 3, 11, tzinfo=UTC)
    assert recording.recorded_at_from == "metadata"


def test_a_phone_date_with_its_time_zone_goes_before_the_containers_own(tmp_path):
    path = sound_files.save_film(
        tmp_path / "t.mov",
        [decay()],
        container="mov",
        codec="aac",
        options={"movflags": "use_metadata_tags"},
        tags={
            "creation_time": "2025-05-02T14:30:00Z",
            "com.apple.quicktime.creationdate": "2025-05-02T16:03:11+0200",
        },
    )
    recorded_at = open_recording(path).recorded_at
    assert recorded_at == datetime(2025, 5, 2, 14, 3, 11, tzinfo=UTC)
    assert recorded_at.utcoffset() == timedelta(hours=2)


def test_a_clock_that_was_never_set_gives_no_date(tmp_path):
    path = sound_files.save_film(
        tmp_path / "t.mp4",
        [decay()],
        container="mp4",
        codec="aac",
        tags={"creation_time": "1970-01-01T00:00:00Z"},
    )
    assert open_recording(path).recorded_at_from == "file date"


def test_the_place_a_phone_writes_is_nowhere_in_what_is_kept(tmp_path):
    path = sound_files.save_film(
        tmp_path / "t.mp4",
        [decay()],
        container="mp4",
        codec="aac",
        tags={"location": "+12.3456+065.4321/", "title": "+12.3456"},
    )
    assert b"12.3456" in path.read_bytes()
    recording = open_recording(path)
    assert "12.34" not in repr(recording) + repr(recording.notes)


BEXT = bytes(320) + b"2025-03-04" + b"15:16:17" + bytes(602 - 338)


@pytest.mark.parametrize(
    ("chunk", "behind"),
    [
        ((b"bext", BEXT), False),
        ((b"LIST", b"INFOICRD" + struct.pack("<I", 20) + b"2025-03-04 15:16:17\0"), False),
        ((b"LIST", b"INFOICRD" + struct.pack("<I", 20) + b"2025-03-04T15:16:17\0"), True),
    ],
)
def test_a_field_recorders_date_is_taken_as_local_time(tmp_path, chunk, behind):
    sound = (b"data", pcm_16(decay(duration_s=0.5)))
    chunks = [sound, chunk] if behind else [chunk, sound]
    (tmp_path / "t.wav").write_bytes(riff((b"fmt ", wav_format()), *chunks))
    recording = open_recording(tmp_path / "t.wav")
    assert recording.recorded_at == datetime(2025, 3, 4, 15, 16, 17).astimezone()
    assert recording.recorded_at_from == "metadata"


def test_a_date_without_a_time_of_day_is_no_date(tmp_path):
    year = (b"LIST", b"INFOICRD" + struct.pack("<I", 11) + b"2025-03-04\0\0")
    (tmp_path / "t.wav").write_bytes(
        riff((b"fmt ", wav_format()), year, (b"data", pcm_16(decay(duration_s=0.5))))
    )
    assert open_recording(tmp_path / "t.wav").recorded_at_from == "file date"


def test_without_any_date_inside_it_is_the_files_own(tmp_path):
    path = sound_files.save(tmp_path / "t.wav", decay(), container="WAV", subtype="PCM_16")
    os.utime(path, (1_700_000_000, 1_700_000_000))
    recording = open_recording(path)
    assert recording.recorded_at == datetime(2023, 11, 14, 22, 13, 20, tzinfo=UTC)
    assert recording.recorded_at_from == "file date"


# Files cut short, and never closed


@pytest.mark.parametrize("container", ["WAV", "RF64", "W64", "AIFF", "CAF"])
def test_a_cut_file_gives_what_is_there_and_says_how_much(tmp_path, container):
    played = decay(duration_s=2.0)
    path = sound_files.save(tmp_path / "t", played, container=container, subtype="PCM_16")
    path.write_bytes(path.read_bytes()[: -len(played)])  # half of it: two bytes a sample
    recording = open_recording(path)
    (note,) = recording.notes
    assert note.code == "cut-short"
    assert "1.0 of 2.0 s are there" in note.says
    np.testing.assert_allclose(heard(recording), played[: recording.sound.n_frames], atol=2.0**-15)


@pytest.mark.parametrize("container", ["FLAC", "MP3"])
def test_a_cut_packed_file_gives_what_is_there(tmp_path, container):
    played = decay(duration_s=2.0)
    subtype = {"FLAC": "PCM_16", "MP3": "MPEG_LAYER_III"}[container]
    path = sound_files.save(tmp_path / "t", played, container=container, subtype=subtype)
    path.write_bytes(path.read_bytes()[: path.stat().st_size * 6 // 10])
    recording = open_recording(path)
    assert "cut-short" in [note.code for note in recording.notes]
    assert 0.5 < recording.duration_s < 1.6
    assert delay_frames(heard(recording)[:, 0], played[:, 0]) == 0


def test_a_film_cut_behind_its_index_gives_what_is_there(tmp_path):
    played = decay(duration_s=3.0)
    path = sound_files.save_film(
        tmp_path / "t.m4a", [played], container="ipod", codec="aac", options={"movflags": "faststart"}
    )
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    recording = open_recording(path)
    assert "cut-short" in [note.code for note in recording.notes]
    assert 0.1 < recording.duration_s < 2.9


@pytest.mark.parametrize("riff_size", [0, 8, 36])
def test_a_recorder_that_lost_power_leaves_a_readable_take(tmp_path, riff_size):
    played = decay(duration_s=1.0)
    whole = bytearray(riff((b"fmt ", wav_format()), (b"data", pcm_16(played))))
    whole[4:8], whole[40:44] = struct.pack("<I", riff_size), bytes(4)
    (tmp_path / "t.wav").write_bytes(whole)
    recording = open_recording(tmp_path / "t.wav")
    assert [note.code for note in recording.notes] == ["never-closed"]
    np.testing.assert_allclose(heard(recording), played, atol=2.0**-14)


def test_a_streamed_wav_without_a_length_is_whole(tmp_path):
    played = decay(duration_s=1.0)
    whole = bytearray(riff((b"fmt ", wav_format()), (b"data", pcm_16(played))))
    whole[4:8] = whole[40:44] = b"\xff" * 4
    (tmp_path / "t.wav").write_bytes(whole)
    recording = open_recording(tmp_path / "t.wav")
    assert recording.notes == ()
    assert recording.sound.n_frames == len(played)


def test_lost_packets_leave_silence_of_their_own_length(tmp_path):
    played = decay(duration_s=2.0)
    path = sound_files.save(tmp_path / "t.flac", played, container="FLAC", subtype="PCM_16")
    damaged = bytearray(path.read_bytes())
    middle = len(damaged) // 4
    damaged[middle : middle + 40] = bytes(40)
    path.write_bytes(damaged)
    recording = open_recording(path)
    assert [note.code for note in recording.notes] == ["damaged-parts"]
    assert recording.sound.n_frames == len(played)
    np.testing.assert_allclose(heard(recording)[-24000:], played[-24000:], atol=2.0**-15)


# Names


@pytest.mark.skipif(sys.platform != "linux", reason="only here can a name be any bytes")
@pytest.mark.parametrize(
    ("name", "shown"),
    [
        (b"caf\xe9.wav", r"caf\xe9.wav"),
        ("Küche, erste Aufnahme (1).wav".encode(), "Küche, erste Aufnahme (1).wav"),
        (b"two\nlines.wav", r"two\nlines.wav"),
        (b"\x1b[31mred.wav", r"\x1b[31mred.wav"),
        (b"-rf.wav", "-rf.wav"),
    ],
)
def test_an_odd_name_works_and_is_shown_on_one_line(tmp_path, name, shown):
    for container, subtype in (("WAV", "PCM_16"), ("MP3", "MPEG_LAYER_III")):
        made = sound_files.save(tmp_path / "made", decay(), container=container, subtype=subtype)
        path = os.fsencode(tmp_path) + b"/" + name
        os.rename(made, path)  # noqa: PTH104 - a Path can't be bytes
        recording = open_recording(path)
        assert recording.source_name == f"{tmp_path}/{shown}"
        assert open_recording(os.fsdecode(path)).source_sha256 == recording.source_sha256
        recording.source_name.encode()  # fit for any output


def test_the_name_is_the_path_as_it_was_given(tmp_path, monkeypatch):
    sound_files.save(tmp_path / "t.wav", decay(), container="WAV", subtype="PCM_16")
    monkeypatch.chdir(tmp_path)
    assert open_recording("t.wav").source_name == "t.wav"
    assert open_recording(Path("./t.wav")).source_name == "t.wav"


# Real recordings


def test_every_real_recording_opens_without_a_word(shared_recordings):
    paths = sorted(shared_recordings.glob("*.wav"))
    assert paths
    for path in paths:
        recording = open_recording(path)
        assert recording.notes == ()
        assert recording.duration_s > 0.9
