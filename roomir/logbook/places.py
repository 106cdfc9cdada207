"""Where a file says on Earth it was recorded, so that this can be blanked.

Phones write their position into the files they make. What is blanked keeps
its length: no index in the file has to move, and the sound decodes to the
same samples. Looked for are

- in MP4, M4A, MOV and 3GP files: the boxes ``loci`` (3GPP TS 26.244, 8.6)
  and ``(c)xyz``, and every item of the metadata list whose key speaks of a
  location (QuickTime File Format, metadata item keys);
- in files of every kind: a position as ISO 6709 writes it, and the GPS
  values of an Exif packet in XMP.
"""

from __future__ import annotations

import os
import re
import struct
from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO

from roomir.audio.layout import OGG, kind_of

_MAX_BOXES = 100_000
_MAX_DEPTH = 8
_LARGEST_ITEM = 1 << 20
_PIECE = 1 << 22
_LONGEST_MATCH = 200

_CONTAINERS = frozenset({b"moov", b"trak", b"udta", b"moof", b"traf"})
_PLACES = frozenset({b"\xa9xyz", b"loci"})
# With decimals: degrees alone are too coarse to give a house away, and too short to be told from chance.
_ISO_6709 = re.compile(rb"[+-]\d{2,6}\.\d{2,}[+-]\d{3,7}\.\d{2,}(?:[+-]\d+(?:\.\d+)?)?(?:CRS\w+)?/?")
_EXIF = re.compile(rb"GPS(?:(?:Dest)?(?:Latitude|Longitude)|Altitude)[=>][\"']?([0-9][^\"'<]{0,40})")


@dataclass(frozen=True, slots=True, kw_only=True)
class Blank:
    """A stretch of a file to be overwritten.

    Attributes
    ----------
    start : int
        Where it begins. [bytes]
    instead : bytes
        What to write there.
    """

    start: int
    instead: bytes

    @property
    def stop(self) -> int:
        """Where it ends. [bytes]"""
        return self.start + len(self.instead)


def find_places(file: BinaryIO) -> tuple[Blank, ...]:
    """Find what to overwrite so that a file no longer says where it was recorded.

    Parameters
    ----------
    file : binary file
        Any file; its position is moved.

    Returns
    -------
    tuple of Blank
        In order and apart from each other; empty where no place is written.
    """
    n_bytes = os.fstat(file.fileno()).st_size
    kind = kind_of(file)
    found = list(_written_out(file))
    if kind.demuxers == "mov":
        found += _boxes_of_places(file, start=0, stop=n_bytes, depth=0)
    blanks = _apart(found)
    return _with_checksums(file, blanks) if kind is OGG and blanks else blanks


def _apart(found: list[Blank]) -> tuple[Blank, ...]:
    """Put them in order; of two that overlap the one that begins first and is longer stays."""
    apart: list[Blank] = []
    for blank in sorted(found, key=lambda one: (one.start, -one.stop)):
        if not apart or blank.start >= apart[-1].stop:
            apart.append(blank)
        elif blank.stop > apart[-1].stop:
            rest = apart[-1].stop - blank.start
            apart.append(Blank(start=apart[-1].stop, instead=blank.instead[rest:]))
    return tuple(apart)


def _written_out(file: BinaryIO) -> Iterator[Blank]:
    """Find positions written as text anywhere in the file."""
    offset, kept = 0, b""
    file.seek(0)
    while piece := file.read(_PIECE):
        window = kept + piece
        base = offset - len(kept)
        for pattern, group in ((_ISO_6709, 0), (_EXIF, 1)):
            for match in pattern.finditer(window):
                start, stop = match.span(group)
                yield Blank(start=base + start, instead=b" " * (stop - start))
        offset += len(piece)
        # What is found twice where pieces meet is put together later.
        kept = window[-_LONGEST_MATCH:]


def _boxes(file: BinaryIO, *, start: int, stop: int) -> Iterator[tuple[bytes, int, int, int]]:
    """Yield kind, start of the content, and end, of consecutive boxes (ISO/IEC 14496-12)."""
    for _ in range(_MAX_BOXES):
        if start + 8 > stop:
            return
        file.seek(start)
        header = file.read(16)
        if len(header) < 8:
            return
        size, content = struct.unpack(">I", header[:4])[0], start + 8
        if size == 1 and len(header) == 16:
            size, content = struct.unpack(">Q", header[8:])[0], start + 16
        elif size == 0:
            size = stop - start
        end = start + size
        if end < content or end > stop:
            return
        yield header[4:8], start, content, end
        start = end


def _boxes_of_places(file: BinaryIO, *, start: int, stop: int, depth: int) -> Iterator[Blank]:
    for kind, begins, content, end in _boxes(file, start=start, stop=stop):
        if kind in _PLACES:
            # A reader passes over what is free.
            yield Blank(start=begins + 4, instead=b"free")
            yield Blank(start=content, instead=bytes(min(end - content, _LARGEST_ITEM)))
        elif kind == b"meta":
            yield from _items_of_places(file, start=content, stop=end)
        elif kind in _CONTAINERS and depth < _MAX_DEPTH:
            yield from _boxes_of_places(file, start=content, stop=end, depth=depth + 1)


def _items_of_places(file: BinaryIO, *, start: int, stop: int) -> Iterator[Blank]:
    """Find the values of a metadata list whose keys speak of a location."""
    file.seek(start)
    # In MP4 four bytes of version and flags stand before the boxes, in QuickTime none do.
    if file.read(8)[4:] not in (b"hdlr", b"keys", b"ilst", b"free"):
        start += 4
    boxes = {kind: (content, end) for kind, _, content, end in _boxes(file, start=start, stop=stop)}
    if b"keys" not in boxes or b"ilst" not in boxes:
        return
    keys_at, keys_end = boxes[b"keys"]
    numbers = {
        struct.pack(">I", n)
        for n, (_, _, content, end) in enumerate(_boxes(file, start=keys_at + 8, stop=keys_end), start=1)
        if _speaks_of_place(file, content, end)
    }
    items_at, items_end = boxes[b"ilst"]
    for number, _, content, end in _boxes(file, start=items_at, stop=items_end):
        if number in numbers:
            for kind, _, value, value_end in _boxes(file, start=content, stop=end):
                # Type and language of the value, eight bytes, stay.
                if kind == b"data" and value_end - value > 8:
                    n_bytes = min(value_end - value - 8, _LARGEST_ITEM)
                    yield Blank(start=value + 8, instead=b" " * n_bytes)


def _speaks_of_place(file: BinaryIO, start: int, stop: int) -> bool:
    file.seek(start)
    key = file.read(min(stop - start, 256)).lower()
    return b"location" in key or b"gps" in key


# ------------------------------------------------------------------ checksums


def _with_checksums(file: BinaryIO, blanks: tuple[Blank, ...]) -> tuple[Blank, ...]:
    """Add the checksums of the OGG pages that change (RFC 3533, 6)."""
    out = list(blanks)
    for start, page in _pages(file):
        inside = [blank for blank in blanks if blank.start < start + len(page) and blank.stop > start]
        if not inside:
            continue
        changed = bytearray(page)
        for blank in inside:
            first, last = max(blank.start, start), min(blank.stop, start + len(page))
            changed[first - start : last - start] = blank.instead[first - blank.start : last - blank.start]
        changed[22:26] = bytes(4)
        out.append(Blank(start=start + 22, instead=struct.pack("<I", _ogg_checksum(changed))))
    return _apart(out)


def _pages(file: BinaryIO) -> Iterator[tuple[int, bytes]]:
    start = 0
    while True:
        file.seek(start)
        header = file.read(27)
        if len(header) < 27 or header[:4] != b"OggS":
            return
        lacing = file.read(header[26])
        body = file.read(sum(lacing))
        page = header + lacing + body
        yield start, page
        start += len(page)


def _ogg_checksum(page: bytes | bytearray) -> int:
    checksum = 0
    for byte in page:
        checksum ^= byte << 24
        for _ in range(8):
            checksum = checksum << 1 ^ (0x04C11DB7 if checksum & 0x8000_0000 else 0)
        checksum &= 0xFFFF_FFFF
    return checksum
