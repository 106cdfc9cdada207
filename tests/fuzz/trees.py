"""Containers taken apart into named pieces, so that damage can be done to their structure.

A piece keeps what it holds as bytes or as pieces again. Written out, every length is true again, unless a
piece was told to lie about its own.
"""

from __future__ import annotations

import struct
from collections.abc import Callable, Iterator
from dataclasses import dataclass


@dataclass
class Piece:
    """A box, chunk or element: its name, what is in it, and a length to claim instead of the true one."""

    name: bytes
    body: bytes | list[Piece]
    claims: int | None = None


@dataclass(frozen=True)
class Family:
    """How files of one family are taken apart, how the head of a piece is written, how high lengths go."""

    parse: Callable[[bytes], tuple[bytes, list[Piece]]]
    head: Callable[[bytes, int], bytes]
    size_bits: int
    pad: int = 1

    def write(self, preamble: bytes, pieces: list[Piece]) -> bytes:
        return preamble + b"".join(self._write(piece) for piece in pieces)

    def _write(self, piece: Piece) -> bytes:
        body = piece.body if isinstance(piece.body, bytes) else b"".join(map(self._write, piece.body))
        claimed = len(body) if piece.claims is None else piece.claims
        return self.head(piece.name, claimed) + body + bytes(-len(body) % self.pad)

    def nested(self, piece: Piece, *, name: bytes, times: int) -> Piece:
        """The piece inside as many others, one in another."""
        inner = self._write(piece)
        heads = []
        length = len(inner)
        for _ in range(times - 1):
            heads.append(self.head(name, length))
            length += len(heads[-1])
        return Piece(name, b"".join(reversed(heads)) + inner)


def all_pieces(pieces: list[Piece]) -> Iterator[tuple[list[Piece], int]]:
    """Every piece at every depth, as the list it stands in and its place there."""
    for place, piece in enumerate(pieces):
        yield pieces, place
        if isinstance(piece.body, list):
            yield from all_pieces(piece.body)


# The family of MP4, MOV, M4A and 3GP (ISO/IEC 14496-12)

_BOXES_OF_BOXES = frozenset(
    {b"moov", b"trak", b"mdia", b"minf", b"stbl", b"edts", b"udta", b"moof", b"traf", b"mvex", b"dinf"}
)


def _parse_boxes(data: bytes) -> list[Piece]:
    pieces, at = [], 0
    while at + 8 <= len(data):
        size = int.from_bytes(data[at : at + 4], "big") or len(data) - at
        if size < 8 or at + size > len(data):
            break
        name, body = data[at + 4 : at + 8], data[at + 8 : at + size]
        pieces.append(Piece(name, _parse_boxes(body) if name in _BOXES_OF_BOXES else body))
        at += size
    return pieces


def _box_head(name: bytes, length: int) -> bytes:
    if length + 8 < 1 << 32:
        return struct.pack(">I", length + 8) + name
    return struct.pack(">I", 1) + name + struct.pack(">Q", (length + 16) % (1 << 64))


BOXES = Family(parse=lambda data: (b"", _parse_boxes(data)), head=_box_head, size_bits=64)


# RIFF, AIFF and CAF: one list of chunks behind a preamble


def _parse_chunks(data: bytes, *, preamble: int, size_format: str, pad: int) -> tuple[bytes, list[Piece]]:
    pieces, at, width = [], preamble, struct.calcsize(size_format)
    while at + 4 + width <= len(data):
        (size,) = struct.unpack_from(size_format, data, at + 4)
        size = min(size, len(data)) if size >= 0 else len(data)
        pieces.append(Piece(data[at : at + 4], data[at + 4 + width : at + 4 + width + size]))
        at += 4 + width + size + -size % pad
    return data[:preamble], pieces


def _chunk_family(*, preamble: int, size_format: str, pad: int) -> Family:
    bits = 8 * struct.calcsize(size_format)
    return Family(
        parse=lambda data: _parse_chunks(data, preamble=preamble, size_format=size_format, pad=pad),
        head=lambda name, length: name + struct.pack(size_format.upper(), length % (1 << bits)),
        size_bits=bits,
        pad=pad,
    )


RIFF = _chunk_family(preamble=12, size_format="<I", pad=2)
AIFF = _chunk_family(preamble=12, size_format=">I", pad=2)
CAF = _chunk_family(preamble=8, size_format=">q", pad=1)


# Matroska and WebM (RFC 8794)

_MASTERS = frozenset(
    bytes.fromhex(identity)
    for identity in ("1a45dfa3", "18538067", "1549a966", "1654ae6b", "ae", "e1", "1f43b675", "114d9b74", "a0")
)


def _parse_elements(data: bytes) -> list[Piece]:
    pieces, at = [], 0
    while at < len(data):
        n_name = 9 - data[at].bit_length()
        start = at + n_name
        if n_name > 4 or start >= len(data):
            break
        n_size = 9 - data[start].bit_length()
        size = int.from_bytes(data[start : start + n_size], "big") & ((1 << 7 * n_size) - 1)
        if size == (1 << 7 * n_size) - 1:  # "not known": up to the end
            size = len(data)
        name, body = data[at:start], data[start + n_size : start + n_size + size]
        pieces.append(Piece(name, _parse_elements(body) if name in _MASTERS else body))
        at = start + n_size + size
    return pieces


ELEMENTS = Family(
    parse=lambda data: (b"", _parse_elements(data)),
    head=lambda name, length: name + (1 << 56 | length % (1 << 56)).to_bytes(8, "big"),
    size_bits=56,
)


# FLAC's blocks of metadata (RFC 9639): the sound behind them is a piece without a head


def _parse_flac(data: bytes) -> tuple[bytes, list[Piece]]:
    pieces, at, last = [], 4, False
    while not last and at + 4 <= len(data):
        last, size = data[at] >= 0x80, int.from_bytes(data[at + 1 : at + 4], "big")
        pieces.append(Piece(data[at : at + 1], data[at + 4 : at + 4 + size]))
        at += 4 + size
    return data[:4], [*pieces, Piece(b"", data[at:])]


FLAC = Family(
    parse=_parse_flac,
    head=lambda name, length: name and name + (length % (1 << 24)).to_bytes(3, "big"),
    size_bits=24,
)


# Ogg pages (RFC 3533): their checksum is made true again, or no decoder would look at them


def ogg_pages(data: bytes) -> list[bytes]:
    pages, at = [], 0
    while data[at : at + 4] == b"OggS" and at + 27 <= len(data):
        n_segments = data[at + 26]
        size = 27 + n_segments + sum(data[at + 27 : at + 27 + n_segments])
        pages.append(data[at : at + size])
        at += size
    return pages


_POLYNOMIAL = 0x04C11DB7


def _crc_table() -> list[int]:
    table = []
    for byte in range(256):
        value = byte << 24
        for _ in range(8):
            value = (value << 1 ^ (_POLYNOMIAL if value & 0x80000000 else 0)) & 0xFFFFFFFF
        table.append(value)
    return table


_CRC = _crc_table()


def with_checksum(page: bytes) -> bytes:
    """The page with a true checksum (RFC 3533, section 6, field 7)."""
    if len(page) < 27:
        return page
    page = page[:22] + bytes(4) + page[26:]
    crc = 0
    for byte in page:
        crc = (crc << 8 & 0xFFFFFFFF) ^ _CRC[crc >> 24 ^ byte]
    return page[:22] + crc.to_bytes(4, "little") + page[26:]


def family_of(data: bytes) -> Family | None:
    """The family a whole file belongs to, or None where there is nothing to take apart."""
    if data[4:8] in (b"ftyp", b"moov", b"mdat", b"wide", b"free"):
        return BOXES
    by_magic = {
        b"RIFF": RIFF,
        b"RF64": RIFF,
        b"FORM": AIFF,
        b"caff": CAF,
        b"\x1a\x45\xdf\xa3": ELEMENTS,
        b"fLaC": FLAC,
    }
    return by_magic.get(data[:4])
