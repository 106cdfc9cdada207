"""The same take gives the same decay times from every container, in the bands its coding leaves alone.

One synthetic take (invented room) is written in every way that can be made here, and read through the front
door. What lossless codings, and codings for music, leave alone of it:

==========================  ==================  ============================
coding                      bands held to 3 %   why not the others
==========================  ==================  ============================
PCM, FLAC, ALAC             all (to 0.5 %)
AAC 128 kb/s, MP3, Vorbis   250 Hz to 8 kHz     a clap's bass is faint, and the coder's noise covers it
Opus 64 kb/s                250 Hz to 8 kHz     the same
AMR narrow and wide band    none                it draws the sound anew from a model of a voice
==========================  ==================  ============================
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import av
import numpy as np
import pytest
from scipy.signal import resample_poly

import roomir
from roomir import api
from roomir.reading.reading import Reading
from roomir.report.document import to_json
from roomir.report.table import to_csv
from roomir.report.text import render
from roomir.report.view import view
from roomir.synth.takes import make_take
from tests.audio import sound_files
from tests.audio.sound_files import can_encode

RATE_HZ = 48000
WITHIN = 0.03
LOSSLESS_WITHIN = 0.005
MUSIC_HZ = (250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0)


@pytest.fixture(scope="module")
def take() -> np.ndarray:
    """Five claps in a small live room with a quiet background; all figures invented."""
    decay_time_s = {63: 0.9, 125: 0.8, 250: 0.7, 500: 0.6, 1000: 0.55, 2000: 0.5, 4000: 0.45, 8000: 0.4}
    made = make_take(
        seed=11,
        sample_rate_hz=RATE_HZ,
        decay_time_s=decay_time_s,
        n_claps=5,
        background_db=-75.0,
        background_slope_db_per_octave=-2.0,
    )
    return made.samples[:, np.newaxis]


@pytest.fixture(scope="module")
def wav_reading(take: np.ndarray, tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Reading]:
    """What the take says as 24-bit WAV at a rate; read once for each rate."""
    read: dict[int, Reading] = {}

    def reading(rate_hz: int = RATE_HZ) -> Reading:
        if rate_hz not in read:
            path = tmp_path_factory.mktemp("wav") / "take.wav"
            samples = at_rate(take, rate_hz=rate_hz)
            sound_files.save(path, samples, rate_hz=rate_hz, container="WAV", subtype="PCM_24")
            read[rate_hz] = roomir.read(path)
        return read[rate_hz]

    return reading


def at_rate(samples: np.ndarray, *, rate_hz: int) -> np.ndarray:
    return (
        resample_poly(samples, rate_hz, RATE_HZ, axis=0).astype(np.float32) if rate_hz != RATE_HZ else samples
    )


def times_s(reading: Reading) -> dict[float, float]:
    return {
        band.figures.band.nominal_hz: band.figures.decay_time_s
        for band in reading.bands
        if band.figures.decay_time_s is not None
    }


def assert_same_in_every_band(reading: Reading, reference: Reading) -> None:
    assert set(times_s(reading)) == set(times_s(reference)) >= {125.0, *MUSIC_HZ}
    assert_same_times(reading, reference, bands_hz=tuple(times_s(reference)), within=LOSSLESS_WITHIN)


def assert_same_times(
    reading: Reading, reference: Reading, *, bands_hz: tuple[float, ...], within: float
) -> None:
    assert reading.failures == ()
    got, expected = times_s(reading), times_s(reference)
    assert set(bands_hz) <= set(expected)
    assert {hz: got.get(hz) for hz in bands_hz} == {
        hz: pytest.approx(expected[hz], rel=within) for hz in bands_hz
    }


# How a take is written: container, coding, kilobits per second, and what is held to the WAV reading.

UNPACKED = [("RF64", "PCM_24"), ("W64", "PCM_24"), ("AIFF", "PCM_24"), ("CAF", "PCM_24"), ("FLAC", "PCM_24"),
            ("WAV", "FLOAT"), ("CAF", "ALAC_24"), ("AU", "PCM_24")]  # fmt: skip
PACKED = [("OGG", "VORBIS"), ("OGG", "OPUS"), ("MP3", "MPEG_LAYER_III")]
FILMS = [
    ("ipod", "aac", 128),
    ("mp4", "aac", 128),
    ("mov", "aac", 128),
    ("3gp", "aac", 128),
    ("matroska", "aac", 128),
    ("webm", "libopus", 64),
]


@pytest.mark.parametrize(("container", "subtype"), UNPACKED)
def test_a_lossless_file_reads_like_the_wav_in_every_band(tmp_path, take, wav_reading, container, subtype):
    path = sound_files.save(tmp_path / "take", take, container=container, subtype=subtype)
    assert_same_in_every_band(roomir.read(path), wav_reading())


@pytest.mark.parametrize("container", ["ipod", "mov"])
def test_a_lossless_phone_memo_reads_like_the_wav_in_every_band(tmp_path, take, wav_reading, container):
    path = sound_files.save_film(
        tmp_path / "take", [take], container=container, codec="alac", sample_format="s32p"
    )
    assert_same_in_every_band(roomir.read(path), wav_reading())


@pytest.mark.parametrize(("container", "subtype"), PACKED)
def test_a_packed_file_reads_like_the_wav_from_250_hz_up(tmp_path, take, wav_reading, container, subtype):
    path = sound_files.save(tmp_path / "take", take, container=container, subtype=subtype)
    assert_same_times(roomir.read(path), wav_reading(), bands_hz=MUSIC_HZ, within=WITHIN)


@pytest.mark.parametrize(("container", "codec", "kbit_s"), FILMS)
def test_a_phone_file_reads_like_the_wav_from_250_hz_up(
    tmp_path, take, wav_reading, container, codec, kbit_s
):
    if not can_encode(codec):
        pytest.skip(f"this build of PyAV has no {codec} encoder")
    path = sound_files.save_film(
        tmp_path / "take", [take], container=container, codec=codec, bit_rate=1000 * kbit_s,
        pictures=container in ("mp4", "mov"),
    )  # fmt: skip
    assert_same_times(roomir.read(path), wav_reading(), bands_hz=MUSIC_HZ, within=WITHIN)


# Rates


@pytest.mark.parametrize("rate_hz", [16000, 22050, 32000, 44100, 96000, 192000])
def test_the_rate_makes_no_difference_in_the_bands_it_carries(tmp_path, take, wav_reading, rate_hz):
    path = sound_files.save(
        tmp_path / "t.wav", at_rate(take, rate_hz=rate_hz), rate_hz=rate_hz, container="WAV", subtype="PCM_24"
    )
    carried = tuple(hz for hz in MUSIC_HZ if hz * 2**0.5 < 0.48 * rate_hz)
    assert_same_times(roomir.read(path), wav_reading(), bands_hz=carried, within=WITHIN)


def test_eight_kilohertz_give_the_bands_they_carry_and_name_the_others(wav_reading):
    reading = wav_reading(8000)
    assert_same_times(reading, wav_reading(), bands_hz=(250.0, 500.0, 1000.0, 2000.0), within=WITHIN)
    for band in reading.bands:
        lost = band.figures.band.nominal_hz in (4000.0, 8000.0)
        assert (band.figures.decay_time_s is None) or not lost
        assert ("rate-too-low" in [reason.code for reason in band.figures.reasons]) == lost
    (note,) = reading.takes[0].notes
    assert note.code == "rate-too-low"
    assert "4 kHz, 8 kHz" in note.says
    page = render(view(reading), full=False, colour=False)
    assert re.search(r"4 kHz +- .*unusable", page)
    assert re.search(r"2 kHz +0\.\d+ .*reliable", page)


# Voice coders


def assert_marked_as_speech(reading: Reading, *, rate_hz: int) -> None:
    (read,) = reading.takes
    assert read.sample_rate_hz == rate_hz
    assert "rate-too-low" in {note.code for note in read.notes}
    assert "speech-codec" in {concern.code for concern in read.concerns}
    for band in reading.bands:
        assert band.figures.verdict != "reliable"
        if band.claps_used:
            assert "speech-codec" in {reason.code for reason in band.figures.reasons}


def test_a_narrow_band_voice_memo_is_opened_and_marked(tmp_path, take):
    if not can_encode("libopencore_amrnb"):
        pytest.skip("this build of PyAV has no AMR-NB encoder")
    path = sound_files.save_film(
        tmp_path / "memo.3gp", [at_rate(take, rate_hz=8000)], rate_hz=8000, container="3gp",
        codec="libopencore_amrnb", bit_rate=12_200,
    )  # fmt: skip
    reading = roomir.read(path)
    assert_marked_as_speech(reading, rate_hz=8000)
    assert not {4000.0, 8000.0} & set(times_s(reading))


def test_a_wide_band_voice_memo_is_opened_and_marked(tmp_path):
    # No encoder for the wide-band coding comes with the libraries, so that no take can be put into it: the
    # bits are arbitrary (frame type and length after 3GPP TS 26.201), and what they sound like as well.
    rng = np.random.default_rng(3)
    frames = b"".join(b"\x44" + rng.bytes(60) for _ in range(200))
    (tmp_path / "memo.amr").write_bytes(b"#!AMR-WB\n" + frames)
    with av.open(str(tmp_path / "memo.amr")) as bare, av.open(str(tmp_path / "memo.3gp"), "w") as film:
        stream = film.add_stream_from_template(bare.streams.audio[0])
        for packet in bare.demux():
            if packet.size:
                packet.stream = stream
                film.mux(packet)
    reading, bare_reading = (api.read(tmp_path / name) for name in ("memo.3gp", "memo.amr"))
    for one in (reading, bare_reading):
        assert_marked_as_speech(one, rate_hz=16000)
        assert one.takes[0].duration_s == pytest.approx(4.0, abs=0.02)
    assert reading.takes[0].claps == bare_reading.takes[0].claps
    assert times_s(reading) == times_s(bare_reading)


# Tracks, dates, places


def test_the_first_track_that_decodes_is_read_and_said_so(tmp_path, take, wav_reading):
    other = 0.1 * np.random.default_rng(8).standard_normal(take.shape).astype(np.float32)
    path = sound_files.save_film(
        tmp_path / "t.mov", [other, take], container="mov", codec="aac", bit_rate=128_000
    )
    # As on phones that write spatial sound first, in a coding of their maker's.
    path.write_bytes(path.read_bytes().replace(b"mp4a", b"zzzz", 1).replace(b"esds", b"zzzz", 1))
    reading = roomir.read(path)
    (note,) = reading.takes[0].notes
    assert note.code == "more-tracks"
    assert "2 sound tracks; number 2 was read" in note.says
    assert "number 2 was read" in render(view(reading), full=True, colour=False)
    assert_same_times(reading, wav_reading(), bands_hz=MUSIC_HZ, within=WITHIN)


@pytest.mark.parametrize(
    ("container", "codec"), [("ipod", "aac"), ("mov", "aac"), ("3gp", "aac"), ("webm", "libopus"),
                             ("matroska", "flac")],
)  # fmt: skip
def test_a_phone_file_tells_when_it_was_recorded(tmp_path, container, codec):
    path = sound_files.save_film(
        tmp_path / "t", [sound_files.decay()], container=container, codec=codec,
        tags={"creation_time": "2025-05-02T14:03:11Z"},
    )  # fmt: skip
    (read,) = roomir.read(path).takes
    assert read.recorded_at == datetime(2025, 5, 2, 14, 3, 11, tzinfo=UTC)
    assert read.recorded_at_from == "metadata"


def test_a_date_that_is_only_the_files_is_marked_so(wav_reading):
    page = render(view(wav_reading()), full=True, colour=False)
    assert wav_reading().takes[0].recorded_at_from == "file date"
    assert "(file date)" in page


PLACE = "+12.3456+065.4321/"  # invented


def with_place_in_film(path: Path, take: np.ndarray, *, container: str) -> Path:
    own = {"location": PLACE, "location-eng": PLACE, "comment": PLACE, "title": PLACE}
    apple = {"com.apple.quicktime.location.ISO6709": PLACE}
    return sound_files.save_film(
        path, [take], container=container, codec="aac", tags=apple if container == "mov" else own,
        options={"movflags": "use_metadata_tags"} if container == "mov" else {},
    )  # fmt: skip


def with_place_in_wav(path: Path, take: np.ndarray) -> Path:
    described = PLACE.encode().ljust(256, b"\0") + bytes(602 - 256)
    path.write_bytes(
        sound_files.riff(
            (b"fmt ", sound_files.wav_format()),
            (b"bext", described),
            (b"iXML", b"<BWFXML><LOCATION_GPS>" + PLACE.encode() + b"</LOCATION_GPS></BWFXML>"),
            (b"data", sound_files.pcm_16(take)),
        )
    )
    return path


def with_place_in_tags(path: Path, take: np.ndarray, *, container: str) -> Path:
    codec = {"flac": "flac", "matroska": "flac", "ogg": "libopus", "mp3": "libmp3lame"}[container]
    return sound_files.save_film(
        path, [take], container=container, codec=codec, tags={"LOCATION": PLACE, "comment": PLACE}
    )


PLACED = {
    "mp4": lambda path, take: with_place_in_film(path, take, container="mp4"),
    "mov": lambda path, take: with_place_in_film(path, take, container="mov"),
    "3gp": lambda path, take: with_place_in_film(path, take, container="3gp"),
    "m4a": lambda path, take: with_place_in_film(path, take, container="ipod"),
    "wav": with_place_in_wav,
    "flac": lambda path, take: with_place_in_tags(path, take, container="flac"),
    "ogg": lambda path, take: with_place_in_tags(path, take, container="ogg"),
    "mp3": lambda path, take: with_place_in_tags(path, take, container="mp3"),
    "mkv": lambda path, take: with_place_in_tags(path, take, container="matroska"),
}


@pytest.mark.parametrize("kind", PLACED)
def test_the_place_of_a_recording_is_in_nothing_that_is_kept_or_shown(tmp_path, take, kind):
    path = PLACED[kind](tmp_path / "take", take)
    assert any(digits.encode() in path.read_bytes() for digits in (PLACE, PLACE[:8]))
    reading = roomir.read(path)
    assert reading.takes
    # Numbers of the reading itself are no places: what is looked for is text that could only be one.
    everything = "\n".join(
        (render(view(reading), full=True, colour=False), to_json(reading), to_csv(reading), repr(reading))
    )
    for said in (PLACE, "+12.3456", "065.4321", "location", "LOCATION", "GPS"):
        assert said not in everything
