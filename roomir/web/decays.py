"""The decays of a room's latest stage as a picture: read again from the kept recordings, drawn by the report.

A logbook keeps figures and sound, not the curves between them, so a picture of
these needs a new reading. ``python -m roomir.web.decays LOGBOOK ROOM`` makes it and
writes it to standard output; the page runs that as a process with limits.
"""

from __future__ import annotations

import hashlib
import sys
from dataclasses import dataclass
from pathlib import Path

from roomir import __version__, api

_MOST_TAKES = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawable:
    """What there is to draw.

    Attributes
    ----------
    stage : str
        The latest stage with takes.
    paths : tuple of Path
        Its newest recordings that can be read together, oldest first.
    channel : int or None
        The channel that they are read from.
    band_set : str
        The bands that they are read in.
    key : str
        Alike where the picture would be.
    """

    stage: str
    paths: tuple[Path, ...]
    channel: int | None
    band_set: str
    key: str


def drawable(logbook: Path, room: str) -> Drawable | None:
    """Look what there is to draw of a room; None where no take of the latest stage gave a reading.

    Raises
    ------
    LogbookError
        ``no-logbook``, ``no-such-room``.
    """
    with api.open_logbook(logbook) as book:
        with_takes = [
            (stage, takes) for stage in book.stages(book.room(room)) if (takes := book.takes(of=stage))
        ]
        if not with_takes:
            return None
        stage, takes = with_takes[-1]
        read = [take for take in takes if take.failure is None]
        if not read:
            return None
        newest = max(read, key=lambda take: take.id)
        together = [
            take for take in read if (take.channel, take.band_set) == (newest.channel, newest.band_set)
        ][-_MOST_TAKES:]
        told = "\n".join(
            [__version__, str(newest.channel), newest.band_set, *(take.sha256 for take in together)]
        )
        return Drawable(
            stage=stage.name,
            paths=tuple(book.recording(take) for take in together),
            channel=newest.channel,
            band_set=newest.band_set,
            key=hashlib.sha256(told.encode()).hexdigest()[:32],
        )


def draw(what: Drawable) -> str:
    """Read the recordings and return the picture as SVG."""
    from roomir.report.figures.decays import decay_strips
    from roomir.report.figures.inline import inline_svg

    reading = api.read(what.paths, channel=what.channel, bands=what.band_set, with_evidence=True)
    return inline_svg(decay_strips(reading), salt="decays")


if __name__ == "__main__":
    _what = drawable(Path(sys.argv[1]), sys.argv[2])
    if _what is None:
        sys.exit(1)
    sys.stdout.write(draw(_what))
