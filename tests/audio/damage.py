"""Whole files of every kind, and ways in which they get damaged."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np

from tests.audio import sound_files
from tests.audio.sound_files import can_encode, decay, pcm_16, riff, wav_format

SOUNDFILE_KINDS = [
    ("WAV", "PCM_U8"),
    ("WAV", "PCM_16"),
    ("WAV", "FLOAT"),
    ("WAV", "IMA_ADPCM"),
    ("WAVEX", "PCM_24"),
    ("RF64", "PCM_16"),
    ("W64", "PCM_16"),
    ("AIFF", "PCM_16"),
    ("CAF", "PCM_16"),
    ("CAF", "ALAC_16"),
    ("AU", "PCM_16"),
    ("FLAC", "PCM_16"),
    ("OGG", "VORBIS"),
    ("OGG", "OPUS"),
    ("MP3", "MPEG_LAYER_III"),
]

FILM_KINDS = [
    ("ipod", "aac", "", 48000),
    ("ipod", "alac", "", 48000),
    ("mp4", "aac", "faststart", 48000),
    ("mp4", "aac", "frag_keyframe+empty_moov", 48000),
    ("mov", "pcm_s16le", "", 48000),
    ("webm", "libopus", "", 48000),
    ("matroska", "flac", "", 48000),
    ("adts", "aac", "", 48000),
    ("3gp", "libopencore_amrnb", "", 8000),
]


def whole_files() -> dict[str, bytes]:
    """One short undamaged file of every kind that can be made here."""
    files = {}
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "t"
        for container, subtype in SOUNDFILE_KINDS:
            sound_files.save(path, decay(n_channels=2, duration_s=0.4), container=container, subtype=subtype)
            files[f"{container} {subtype}"] = path.read_bytes()
        for container, codec, flags, rate_hz in FILM_KINDS:
            if not can_encode(codec):
                continue
            sound_files.save_film(
                path,
                [decay(duration_s=0.4, rate_hz=rate_hz)],
                container=container,
                codec=codec,
                rate_hz=rate_hz,
                pictures=container == "mp4",
                options={"movflags": flags} if flags else {},
                tags={"creation_time": "2025-05-02T14:03:11Z"},
            )
            files[f"{container} {codec} {flags}".strip()] = path.read_bytes()
    dated = (b"bext", bytes(320) + b"2025-03-0415:16:17" + bytes(264))
    files["WAV bext"] = riff((b"fmt ", wav_format()), dated, (b"data", pcm_16(decay(duration_s=0.4))))
    return files


def damaged(whole: bytes, rng: np.random.Generator) -> bytes:
    """A damaged copy: cut, spliced, or with bytes turned, mostly in the first part where headers are."""
    data = bytearray(whole)
    way = rng.integers(6)
    if way == 0:
        data = data[: int(rng.integers(1, len(data)))]
    elif way == 1:
        start, length = int(rng.integers(len(data))), int(rng.integers(1, 2000))
        del data[start : start + length]
    elif way == 2:
        start = int(rng.integers(len(data)))
        data[start:start] = rng.bytes(int(rng.integers(1, 2000)))
    if not data:
        return bytes(data)
    reach = min(len(data), int(rng.choice([64, 512, len(data)])))
    for _ in range(int(rng.choice([0, 1, 3, 10, 60] if way < 3 else [1, 3, 10, 60]))):
        at = int(rng.integers(reach))
        kind = rng.integers(3)
        if kind == 0:
            data[at] ^= 1 << int(rng.integers(8))
        elif kind == 1:
            data[at] = int(rng.integers(256))
        else:
            extreme = (b"\0\0\0\0", b"\xff\xff\xff\xff", b"\x7f\xff\xff\xff", b"\x80\0\0\0")
            data[at : at + 4] = extreme[int(rng.integers(4))]
    return bytes(data)
