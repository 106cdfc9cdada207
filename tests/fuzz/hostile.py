"""Files that nobody's recorder wrote: one for each number, always the same for the same seed."""

from __future__ import annotations

import struct
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from tests.audio import sound_files
from tests.audio.damage import damaged, whole_files
from tests.audio.sound_files import pcm_16, riff, wav_format
from tests.fuzz.odd_sounds import odd_sound
from tests.fuzz.trees import Family, Piece, all_pieces, family_of, ogg_pages, with_checksum

LARGEST_BYTES = 3 << 20
"""Beyond this a file says nothing new and only costs time."""

RATES_HZ = (0, 1, 7999, 8000, 8001, 44100, 48000, 96000, 192000, 192001, 655350, 1 << 31, (1 << 32) - 1)
CHANNELS = (0, 1, 2, 3, 8, 63, 64, 65, 255, 256, 1000, 32767, 65535, 5_000_000, (1 << 32) - 1)
BITS = (0, 1, 7, 8, 12, 16, 17, 20, 24, 32, 33, 64, 255, 65535)


@dataclass(frozen=True)
class Case:
    """One file to be read."""

    number: int
    kind: str
    data: bytes


class Hostility:
    """Makes the file of any number.

    Parameters
    ----------
    seed : int
        Decides every file together with its number.
    """

    def __init__(self, *, seed: int) -> None:
        self._seed = seed
        self._whole = [*whole_files().items(), *_whole_takes().items()]

    @property
    def n_whole(self) -> int:
        """How many undamaged files the damaged ones are made from."""
        return len(self._whole)

    def case(self, number: int) -> Case:
        """Make one file."""
        rng = np.random.default_rng((self._seed, number))
        name, whole = self._whole[number % len(self._whole)]
        way = rng.choice(len(_WAYS), p=_SHARES)
        kind, made = _WAYS[way](rng, name, whole, self._any(rng))
        return Case(number=number, kind=kind, data=made[:LARGEST_BYTES] or b"R")

    def _any(self, rng: np.random.Generator) -> bytes:
        return self._whole[int(rng.integers(len(self._whole)))][1]


Made = tuple[str, bytes]


def _whole_takes() -> dict[str, bytes]:
    """Undamaged files that give a reading: what is damaged in them reaches the arithmetic."""
    rng = np.random.default_rng(17)
    files = {}
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "t"
        for rate_hz, container, subtype in (
            (48000, "WAV", "PCM_16"),
            (16000, "WAV", "FLOAT"),
            (8000, "WAV", "PCM_16"),
            (44100, "FLAC", "PCM_16"),
            (48000, "OGG", "OPUS"),
            (24000, "CAF", "PCM_16"),
        ):
            samples = odd_sound("claps", rng, rate_hz=rate_hz)
            sound_files.save(path, samples, rate_hz=rate_hz, container=container, subtype=subtype)
            files[f"{container} {subtype} take"] = path.read_bytes()
        samples = odd_sound("claps", rng, rate_hz=48000)[:, :1]
        for container, codec in (("ipod", "aac"), ("mov", "pcm_s16le"), ("webm", "libopus")):
            sound_files.save_film(path, [samples, samples], container=container, codec=codec)
            files[f"{container} {codec} take"] = path.read_bytes()
    return files


# Damage to bytes


def _damaged(rng: np.random.Generator, name: str, whole: bytes, other: bytes) -> Made:  # noqa: ARG001
    return f"damaged: {name}", damaged(whole, rng)


def _truncated(rng: np.random.Generator, name: str, whole: bytes, other: bytes) -> Made:  # noqa: ARG001
    reach = int(rng.choice([64, 1024, len(whole)]))
    return f"cut: {name}", whole[: int(rng.integers(1, min(reach, len(whole)) + 1))]


def _spliced(rng: np.random.Generator, name: str, whole: bytes, other: bytes) -> Made:
    here, there = int(rng.integers(len(whole))), int(rng.integers(len(other)))
    made = whole[:here] + other[there:] if rng.integers(2) else whole + other
    return f"spliced: {name}", made


def _noise_behind_a_magic(rng: np.random.Generator, name: str, whole: bytes, other: bytes) -> Made:  # noqa: ARG001
    kept = int(rng.choice([4, 8, 12, 16, 40, 100]))
    return f"noise behind a magic: {name}", whole[:kept] + rng.bytes(int(rng.integers(1, 20_000)))


# Damage to structure


def _absurd(rng: np.random.Generator, *, bits: int) -> int:
    top = 1 << bits
    near = (0, 1, 2, 7, 8, top // 2 - 1, top // 2, top // 2 + 1, top - 1, top - 2, top - 8, top - 9)
    if rng.integers(3):
        return int(near[int(rng.integers(len(near)))])
    return int.from_bytes(rng.bytes(bits // 8), "big")


def _absurd_field(rng: np.random.Generator, body: bytes) -> bytes:
    width = int(rng.choice([1, 2, 4, 8]))
    if len(body) < width:
        return body
    at = int(rng.integers(min(len(body), 400) - width + 1)) if len(body) > width else 0
    value = _absurd(rng, bits=8 * width).to_bytes(width, "big" if rng.integers(2) else "little")
    return body[:at] + value + body[at + width :]


_WAYS_TO_MANGLE = ("field", "field", "length", "gone", "swapped", "empty", "blown", "again", "nested")


def _mangle(rng: np.random.Generator, pieces: list[Piece], family: Family, *, multiply: bool) -> str:
    places = list(all_pieces(pieces))
    if not places:
        return "nothing"
    siblings, place = places[int(rng.integers(len(places)))]
    piece = siblings[place]
    what = str(rng.choice(_WAYS_TO_MANGLE[: None if multiply else -2]))
    if what == "length":
        piece.claims = _absurd(rng, bits=family.size_bits)
    elif what == "field":
        leaves = [p for s, i in places if isinstance(s[i].body, bytes) and 0 < len((p := s[i]).body) < 2000]
        for _ in range(int(rng.integers(1, 4))):
            if leaves:
                leaf = leaves[int(rng.integers(len(leaves)))]
                leaf.body = _absurd_field(rng, leaf.body)
    elif what == "again":
        length = len(family.write(b"", [piece]))
        times = min(int(rng.choice([2, 10, 300, 20_000])), max(1, LARGEST_BYTES // max(length, 1)))
        siblings[place : place + 1] = [piece] * times
    elif what == "gone":
        del siblings[place]
    elif what == "nested":
        names = [s[i].name for s, i in places if isinstance(s[i].body, list)] or [piece.name]
        siblings[place] = family.nested(
            piece, name=names[int(rng.integers(len(names)))], times=int(rng.choice([1, 10, 500, 50_000]))
        )
    elif what == "swapped":
        others, there = places[int(rng.integers(len(places)))]
        if others is siblings or not isinstance(piece.body, list):
            siblings[place], others[there] = others[there], siblings[place]
    elif what == "empty":
        piece.body = b""
    else:
        body = piece.body if isinstance(piece.body, bytes) else b""
        piece.body = body + rng.bytes(int(rng.integers(1, 30_000)))
    return what


def _mangled(rng: np.random.Generator, name: str, whole: bytes, other: bytes) -> Made:
    if whole[:4] == b"OggS":
        return _mangled_pages(rng, name, whole)
    family = family_of(whole)
    if family is None:
        return _damaged(rng, name, whole, other)
    preamble, pieces = family.parse(whole)
    # What is multiplied comes last: multiplying twice would make files that no disk holds.
    n = int(rng.choice([1, 1, 2, 4]))
    done = [_mangle(rng, pieces, family, multiply=i == n - 1) for i in range(n)]
    return f"structure ({done[-1]}): {name}", family.write(preamble, pieces)


def _mangled_pages(rng: np.random.Generator, name: str, whole: bytes) -> Made:
    pages = ogg_pages(whole)
    for _ in range(int(rng.choice([1, 2, 5]))):
        at = int(rng.integers(len(pages))) if rng.integers(3) else min(int(rng.integers(3)), len(pages) - 1)
        what = rng.integers(5)
        if what < 3:
            pages[at] = _absurd_field(rng, pages[at])
        elif what == 3:
            pages[at : at + 1] = [pages[at]] * int(rng.choice([0, 2, 50]))
        else:
            there = int(rng.integers(len(pages)))
            pages[at], pages[there] = pages[there], pages[at]
        if not pages:
            return f"structure (pages): {name}", whole[:27]
    return f"structure (pages): {name}", b"".join(map(with_checksum, pages))


# Headers that claim what nobody records


def _pick(rng: np.random.Generator, values: tuple[int, ...]) -> int:
    return values[int(rng.integers(len(values)))]


def _wav_claim(rng: np.random.Generator) -> bytes:
    channels, rate_hz, bits = _pick(rng, CHANNELS), _pick(rng, RATES_HZ), _pick(rng, BITS)
    tag = _pick(rng, (0, 1, 2, 3, 6, 7, 0x11, 0x31, 0x50, 0x55, 0xFF, 0x161, 0xF1AC, 0xFFFE, 0xFFFF))
    form = wav_format(tag=tag, n_channels=channels, rate_hz=rate_hz, bits=bits)
    if tag == 0xFFFE:
        form += struct.pack("<HHI", 22, bits & 0xFFFF, 0xFFFFFFFF) + b"\1\0" + bytes(14)
    whole = bytearray(riff((b"fmt ", form), (b"data", pcm_16(sound_files.decay(duration_s=0.2)))))
    if rng.integers(2):
        at = whole.index(b"data") + 4
        whole[at : at + 4] = struct.pack("<I", _absurd(rng, bits=32))
    if rng.integers(4) == 0:
        ds64 = b"ds64" + struct.pack("<IQQQI", 28, *(_absurd(rng, bits=64) for _ in range(3)), 0)
        whole[:12] = b"RF64" + b"\xff" * 4 + b"WAVE" + ds64
        at = whole.index(b"data") + 4
        whole[at : at + 4] = b"\xff" * 4
    return bytes(whole)


def _aiff_claim(rng: np.random.Generator) -> bytes:
    rate = (bytes.fromhex("400ebb80000000000000"), bytes(10), b"\x7f\xff" + b"\xff" * 8, rng.bytes(10))
    common = struct.pack(
        ">HIH", _pick(rng, CHANNELS) & 0xFFFF, _absurd(rng, bits=32), _pick(rng, BITS) & 0xFFFF
    )
    common += rate[int(rng.integers(4))]
    sound = struct.pack(">II", _absurd(rng, bits=32) if rng.integers(2) else 0, 0) + rng.bytes(2000)
    chunks = b"COMM" + struct.pack(">I", 18) + common + b"SSND" + struct.pack(">I", len(sound)) + sound
    return b"FORM" + struct.pack(">I", 4 + len(chunks)) + b"AIFF" + chunks


def _caf_claim(rng: np.random.Generator) -> bytes:
    rate_hz = (48000.0, 0.0, -48000.0, float("nan"), float("inf"), 1e300, 5e-324, 7999.9)[
        int(rng.integers(8))
    ]
    coding = (b"lpcm", b"alac", b"ima4", b"aac ", b"ulaw", b"zzzz")[int(rng.integers(6))]
    numbers = [_pick(rng, (0, 1, 2, 4, 4096, 0xFFFFFFFF)) for _ in range(3)]
    description = struct.pack(">d4sIIIII", rate_hz, coding, *numbers, _pick(rng, CHANNELS), _pick(rng, BITS))
    data_bytes = _absurd(rng, bits=64)
    head = b"caff\0\1\0\0desc" + struct.pack(">q", 32) + description
    return head + b"data" + struct.pack(">Q", data_bytes) + rng.bytes(3000)


def _au_claim(rng: np.random.Generator) -> bytes:
    numbers = (
        _pick(rng, (0, 24, 28, 0xFFFFFFFF)),
        _absurd(rng, bits=32),
        _pick(rng, (0, 1, 2, 3, 4, 5, 6, 7, 23, 27, 255)),
        _pick(rng, RATES_HZ) & 0xFFFFFFFF,
        _pick(rng, CHANNELS),
    )
    return b".snd" + struct.pack(">5I", *numbers) + bytes(4) + rng.bytes(3000)


def _flac_claim(rng: np.random.Generator, flac: bytes) -> bytes:
    whole = bytearray(flac)
    # STREAMINFO: 20 bits rate, 3 bits channels - 1, 5 bits depth - 1, 36 bits frames (RFC 9639, 8.2).
    packed = (_pick(rng, RATES_HZ) & 0xFFFFF) << 44 | int(rng.integers(8)) << 41 | int(rng.integers(32)) << 36
    whole[18:26] = (packed | _absurd(rng, bits=40) >> 4).to_bytes(8, "big")
    if rng.integers(2):
        whole[8:12] = struct.pack(">HH", _absurd(rng, bits=16), _absurd(rng, bits=16))
    return bytes(whole)


def _w64_claim(rng: np.random.Generator) -> bytes:
    tail = bytes.fromhex("f3acd3118cd100c04f8edb8a")
    form = wav_format(n_channels=_pick(rng, CHANNELS), rate_hz=_pick(rng, RATES_HZ), bits=_pick(rng, BITS))
    fmt = b"fmt " + tail + struct.pack("<Q", 40) + form
    data = b"data" + tail + struct.pack("<Q", _absurd(rng, bits=64)) + rng.bytes(3000)
    outer = b"riff" + bytes.fromhex("2e91cf11a5d628db04c10000") + struct.pack("<Q", _absurd(rng, bits=64))
    return outer + b"wave" + tail + fmt + data


def _mp3_claim(rng: np.random.Generator, mp3: bytes) -> bytes:
    size = _absurd(rng, bits=32) & 0x7F7F7F7F
    tag = b"ID3" + bytes([_pick(rng, (2, 3, 4, 255)), 0, int(rng.integers(256))]) + struct.pack(">I", size)
    frame = b"APIC" + struct.pack(">I", _absurd(rng, bits=32)) + bytes(2) + rng.bytes(100)
    made = (tag + frame if rng.integers(2) else b"") + mp3
    at = made.find(b"Xing")
    if at > 0:
        made = made[: at + 4] + rng.bytes(120) + made[at + 124 :]
    return made


def _adts_claim(rng: np.random.Generator) -> bytes:
    out = b""
    for _ in range(int(rng.integers(1, 60))):
        payload = rng.bytes(int(rng.integers(0, 300)))
        length = len(payload) + 7 if rng.integers(4) else _absurd(rng, bits=16) & 0x1FFF
        head = 0xFFF << 44 | 1 << 40 | int(rng.integers(4)) << 38 | int(rng.integers(16)) << 34
        head |= int(rng.integers(8)) << 30 | length << 13 | 0x7FF << 2
        out += head.to_bytes(7, "big") + payload
    return out


def _amr_claim(rng: np.random.Generator) -> bytes:
    magic = b"#!AMR-WB\n" if rng.integers(2) else b"#!AMR\n"
    return magic + rng.bytes(int(rng.integers(0, 20_000)))


def _claiming(rng: np.random.Generator, name: str, whole: bytes, other: bytes) -> Made:
    makers: dict[str, Callable[[], bytes]] = {
        "WAV": lambda: _wav_claim(rng),
        "AIFF": lambda: _aiff_claim(rng),
        "CAF": lambda: _caf_claim(rng),
        "AU": lambda: _au_claim(rng),
        "W64": lambda: _w64_claim(rng),
        "AAC": lambda: _adts_claim(rng),
        "AMR": lambda: _amr_claim(rng),
    }
    if whole[:4] == b"fLaC":
        makers = {"FLAC": lambda: _flac_claim(rng, whole)}
    elif name.startswith("MP3"):
        makers = {"MP3": lambda: _mp3_claim(rng, whole)}
    elif family_of(whole) is not None and whole[:4] not in (b"RIFF", b"RF64", b"FORM", b"caff"):
        return _mangled(rng, name, whole, other)
    claim = str(rng.choice(list(makers)))
    return f"claim: {claim}", makers[claim]()


# Whole files of sounds nobody claps


def _odd(rng: np.random.Generator, name: str, whole: bytes, other: bytes) -> Made:  # noqa: ARG001
    rate_hz = int(rng.choice([8000, 8001, 11025, 16000, 22050, 44100, 47999, 48000, 96000, 192000]))
    sound = str(rng.choice(odd_sound.names))
    samples = odd_sound(sound, rng, rate_hz=rate_hz)
    container, subtype = (("WAV", "FLOAT"), ("WAV", "DOUBLE"), ("WAV", "PCM_16"), ("CAF", "FLOAT"))[
        int(rng.integers(4))
    ]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "t"
        sound_files.save(path, samples, rate_hz=rate_hz, container=container, subtype=subtype)
        return f"odd sound: {sound}", path.read_bytes()


_WAYS = (_damaged, _truncated, _mangled, _claiming, _odd, _spliced, _noise_behind_a_magic)
_SHARES = (0.26, 0.06, 0.34, 0.14, 0.1, 0.05, 0.05)
