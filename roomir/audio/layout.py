"""What the first bytes and the chunk list of a file tell, without decoding anything.

The content decides what a file is, never its suffix. The walkers below read
sizes and names of chunks only; they take nothing on trust, and stop quietly
where a chunk leads nowhere: judging a file is the decoder's business, this
module explains.
"""

from __future__ import annotations

import os
import struct
from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """A family of files.

    Attributes
    ----------
    label : str
        What to call it in front of the builder; empty for something unknown.
    decoders : tuple of str
        Decoders to try in a process apart, in this order.
    demuxers : str
        The demuxers that may touch it, separated by commas. Naming them
        keeps play lists and the like from sending the decoder elsewhere.
    plain : bool
        Whether its samples may lie there unpacked, to be read in place.
    """

    label: str
    decoders: tuple[str, ...]
    demuxers: str
    plain: bool = False


_BOTH = ("soundfile", "av")
WAV = Kind(label="WAV", decoders=_BOTH, demuxers="wav", plain=True)
W64 = Kind(label="W64", decoders=_BOTH, demuxers="w64", plain=True)
AIFF = Kind(label="AIFF", decoders=_BOTH, demuxers="aiff", plain=True)
CAF = Kind(label="CAF", decoders=_BOTH, demuxers="caf", plain=True)
AU = Kind(label="AU", decoders=_BOTH, demuxers="au", plain=True)
FLAC = Kind(label="FLAC", decoders=_BOTH, demuxers="flac", plain=True)
OGG = Kind(label="OGG", decoders=_BOTH, demuxers="ogg")
MP3 = Kind(label="MP3", decoders=_BOTH, demuxers="mp3,aac,flac")
ADTS = Kind(label="AAC", decoders=("av",), demuxers="aac,loas")
ISO = Kind(label="MP4", decoders=("av",), demuxers="mov")
M4A = Kind(label="M4A", decoders=("av",), demuxers="mov")
MOV = Kind(label="MOV", decoders=("av",), demuxers="mov")
THREE_GP = Kind(label="3GP", decoders=("av",), demuxers="mov")
MATROSKA = Kind(label="Matroska", decoders=("av",), demuxers="matroska")
WEBM = Kind(label="WebM", decoders=("av",), demuxers="matroska")
AMR = Kind(label="AMR", decoders=("av",), demuxers="amr")
AVI = Kind(label="AVI", decoders=("av",), demuxers="avi")
ASF = Kind(label="WMA", decoders=("av",), demuxers="asf")
# Demuxers with a signature of their own only: the loose ones find "sound" in any text.
UNKNOWN = Kind(label="", decoders=_BOTH, demuxers="mov,matroska,ogg,flac,wav,aiff,caf,amr")

_ISO_ATOMS = (b"ftyp", b"moov", b"mdat", b"wide", b"free", b"skip", b"pnot", b"uuid")
_W64_TAIL = bytes.fromhex("f3acd3118cd100c04f8edb8a")
_UNPACKED_WAV_TAGS = (0x0001, 0x0003, 0x0006, 0x0007, 0xFFFE)  # integer, float, A-law, mu-law, extensible
_UNPACKED_CAF_FORMATS = (b"lpcm", b"ulaw", b"alaw")
_UNKNOWN_SIZE = 0x7FFF_0000  # what programs write that cannot go back to fill in the length
_MAX_CHUNKS = 10_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """What a file looks like from outside.

    Attributes
    ----------
    kind : Kind
        The family its content belongs to.
    n_bytes : int
        Length of the file.
    plain : bool
        Whether its samples may be read in place.
    announced_format : (int, int) or None
        Channels and rate [Hz] that a WAV header claims.
    announced_bytes, present_bytes : int or None
        Length of the sound's chunk as announced, and what of it is there.
    never_closed : bool
        A WAV file whose recorder did not live to write the length.
    index_missing : bool
        A film file without its index, or with a part of it only.
    dates : tuple of str
        Dates found on the way.
    """

    kind: Kind
    n_bytes: int
    plain: bool = False
    announced_format: tuple[int, int] | None = None
    announced_bytes: int | None = None
    present_bytes: int | None = None
    never_closed: bool = False
    index_missing: bool = False
    dates: tuple[str, ...] = ()

    @property
    def part_present(self) -> float:
        """Which part of the announced sound is there, 1 where nothing is known to be missing."""
        if not self.announced_bytes or self.present_bytes is None:
            return 1.0
        return self.present_bytes / self.announced_bytes


def read_layout(file: BinaryIO) -> Layout:
    """Look at a file's first bytes and chunk list."""
    n_bytes = os.fstat(file.fileno()).st_size
    kind = kind_of(file)
    if kind is WAV:
        return _wav_layout(file, n_bytes)
    if kind in (AIFF, CAF, W64):
        return _chunk_layout(file, n_bytes, kind)
    if kind.demuxers == "mov":
        return Layout(kind=kind, n_bytes=n_bytes, index_missing=not _has_index(file, n_bytes))
    return Layout(kind=kind, n_bytes=n_bytes, plain=kind.plain)


def kind_of(file: BinaryIO) -> Kind:
    """Tell the family of a file from its content."""
    head = _bytes_at(file, 0, 64)
    if head[:3] == b"ID3" and len(head) > 10:
        a, b, c, d = (byte & 0x7F for byte in head[6:10])
        behind = _bytes_at(file, 10 + (a << 21 | b << 14 | c << 7 | d), 64)
        return _kind_from(behind) if behind[:4] == b"fLaC" or _is_adts(behind) else MP3
    return _kind_from(head)


def _kind_from(head: bytes) -> Kind:
    magic, form = head[:4], head[8:12]
    if magic in (b"RIFF", b"RIFX", b"RF64", b"BW64"):
        return {b"WAVE": WAV, b"AVI ": AVI}.get(form, UNKNOWN)
    if magic == b"FORM" and form in (b"AIFF", b"AIFC"):
        return AIFF
    by_magic = {b"caff": CAF, b"riff": W64, b"fLaC": FLAC, b"OggS": OGG, b".snd": AU, b"dns.": AU}
    if magic in by_magic:
        return by_magic[magic]
    if magic == b"\x1a\x45\xdf\xa3":
        return WEBM if b"webm" in head else MATROSKA
    if head[:5] == b"#!AMR":
        return AMR
    if magic == b"\x30\x26\xb2\x75":
        return ASF
    if head[4:8] in _ISO_ATOMS:
        return _iso_kind(head)
    if _is_adts(head):
        return ADTS
    return MP3 if _is_mpeg_audio(head) else UNKNOWN


def _iso_kind(head: bytes) -> Kind:
    if head[4:8] != b"ftyp":
        return MOV  # the older film format has no brand
    brand = head[8:12]
    if brand[:3] in (b"3gp", b"3g2", b"3gr", b"3gs"):
        return THREE_GP
    return {b"M4A ": M4A, b"M4B ": M4A, b"qt  ": MOV}.get(brand, ISO)


def _is_adts(head: bytes) -> bool:
    return len(head) > 2 and head[0] == 0xFF and head[1] & 0xF6 == 0xF0


def _is_mpeg_audio(head: bytes) -> bool:
    if len(head) < 4 or head[0] != 0xFF or head[1] & 0xE0 != 0xE0:
        return False
    layer, rate, bit_rate = head[1] >> 1 & 3, head[2] >> 2 & 3, head[2] >> 4
    return layer != 0 and rate != 3 and bit_rate != 15


def _bytes_at(file: BinaryIO, offset: int, count: int) -> bytes:
    file.seek(offset)
    return file.read(count)


def _chunks(file: BinaryIO, *, start: int, stop: int, size_format: str) -> Iterator[tuple[bytes, int, int]]:
    """Yield name, start and announced length of consecutive chunks."""
    width = struct.calcsize(size_format)
    # RIFF and AIFF pad chunks to even length; CAF, with its eight-byte sizes, does not.
    pad = width == 4
    offset = start
    for _ in range(_MAX_CHUNKS):
        header = _bytes_at(file, offset, 4 + width)
        if len(header) < 4 + width:
            return
        (size,) = struct.unpack(size_format, header[4:])
        yield header[:4], offset + 4 + width, size
        offset += 4 + width + size + (size & 1 if pad else 0)
        if size < 0 or offset >= stop:
            return


def _wav_layout(file: BinaryIO, n_bytes: int) -> Layout:
    magic = _bytes_at(file, 0, 4)
    order = ">" if magic == b"RIFX" else "<"
    long_size: int | None = None
    tag, announced_format, announced, present = 0, None, None, None
    never_closed = False
    dates: list[str] = []
    for name, offset, size in _chunks(file, start=12, stop=n_bytes, size_format=f"{order}I"):
        if name == b"ds64" and size >= 16:
            long_size = struct.unpack("<Q", _bytes_at(file, offset + 8, 8).ljust(8, b"\0"))[0]
        elif name == b"fmt " and size >= 16:
            fields = _bytes_at(file, offset, 8)
            if len(fields) == 8:
                tag, channels, rate = struct.unpack(f"{order}HHI", fields)
                announced_format = (channels, rate)
        elif name == b"bext":
            dates.append(_bext_date(_bytes_at(file, offset + 320, 18)))
        elif name == b"LIST" and _bytes_at(file, offset, 4) == b"INFO":
            dates.extend(_info_dates(file, offset + 4, min(offset + size, n_bytes), order))
        elif name == b"data" and announced is None:
            present = n_bytes - offset
            if size == 0xFFFF_FFFF and long_size is not None:
                size = long_size
            never_closed = size == 0 and present > 0 and not _is_chunk_at(file, offset, n_bytes, order)
            # A length that nobody could have known is no promise that was broken.
            if size < _UNKNOWN_SIZE or size <= 2 * present:
                announced, present = size, min(size, present)
            if size >= n_bytes - offset:
                break
    return Layout(
        kind=WAV,
        n_bytes=n_bytes,
        plain=tag in _UNPACKED_WAV_TAGS,
        announced_format=announced_format,
        announced_bytes=announced,
        present_bytes=present,
        never_closed=never_closed,
        dates=tuple(dates),
    )


def _is_chunk_at(file: BinaryIO, offset: int, n_bytes: int, order: str) -> bool:
    for name, start, size in _chunks(file, start=offset, stop=n_bytes, size_format=f"{order}I"):
        return name.isascii() and name.decode("ascii").isprintable() and start + size <= n_bytes
    return False


def _bext_date(text: bytes) -> str:
    # EBU Tech 3285, section 2.3: OriginationDate yyyy-mm-dd, OriginationTime hh-mm-ss, both with
    # any separator.
    date, clock = text[:10].decode("latin-1"), text[10:18].decode("latin-1")
    return f"{date[:4]}-{date[5:7]}-{date[8:10]}T{clock[:2]}:{clock[3:5]}:{clock[6:8]}"


def _info_dates(file: BinaryIO, start: int, stop: int, order: str) -> Iterator[str]:
    for name, offset, size in _chunks(file, start=start, stop=stop, size_format=f"{order}I"):
        if name == b"ICRD":
            yield _bytes_at(file, offset, min(size, 40)).split(b"\0")[0].decode("latin-1")


def _chunk_layout(file: BinaryIO, n_bytes: int, kind: Kind) -> Layout:
    announced, present, plain = None, None, True
    if kind is W64:
        chunks = _w64_chunks(file, n_bytes)
    elif kind is CAF:
        chunks = _chunks(file, start=8, stop=n_bytes, size_format=">q")
    else:
        chunks = _chunks(file, start=12, stop=n_bytes, size_format=">I")
    for name, offset, size in chunks:
        if name == b"desc":
            plain = _bytes_at(file, offset + 8, 4) in _UNPACKED_CAF_FORMATS
        elif name in (b"data", b"SSND"):
            # CAF: -1 where the recorder was still running.
            if size > 0:
                announced, present = size, min(size, n_bytes - offset)
            break
    return Layout(kind=kind, n_bytes=n_bytes, plain=plain, announced_bytes=announced, present_bytes=present)


def _w64_chunks(file: BinaryIO, n_bytes: int) -> Iterator[tuple[bytes, int, int]]:
    offset = 40  # the outer chunk's 16-byte name and 8-byte size, and the name of the form
    for _ in range(_MAX_CHUNKS):
        header = _bytes_at(file, offset, 24)
        if len(header) < 24:
            return
        size = struct.unpack("<q", header[16:])[0]  # counts its own header
        if size < 24:
            return
        yield header[:4] if header[4:16] == _W64_TAIL else b"", offset + 24, size - 24
        offset += size + (-size & 7)
        if offset >= n_bytes:
            return


def _has_index(file: BinaryIO, n_bytes: int) -> bool:
    offset = 0
    for _ in range(_MAX_CHUNKS):
        header = _bytes_at(file, offset, 16)
        if len(header) < 8:
            return False
        size = struct.unpack(">I", header[:4])[0]
        if size == 1 and len(header) == 16:
            size = struct.unpack(">Q", header[8:])[0]
        elif size == 0:
            size = n_bytes - offset
        if header[4:8] == b"moov":
            return bool(offset + size <= n_bytes)
        if size < 8:
            return False
        offset += size
        if offset >= n_bytes:
            return False
    return False
