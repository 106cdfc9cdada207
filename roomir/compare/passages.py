"""Finding the same passage in two readings: two claps that differ in nothing but the room."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from roomir.audio.recording import Recording
from roomir.reading.reading import BandFigures, ClapReading, Reading, TakeReading

_LEAD_S = 0.05
_LONGER_THAN_DECAY = 1.3
_SHORTEST_S = 0.6
"""Longer than the block of 0.4 s that a loudness is measured in. [s]"""
_LONGEST_S = 8.0

ALIKE_DB = 6.0
"""Claps whose spectra differ by less (standard deviation over the octaves) are of one kind. [dB]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Passage:
    """Where a passage is.

    Attributes
    ----------
    take : int
        Place of the recording on its side.
    name : str
        What the recording is called.
    start_s : float
        From its beginning. [s]
    length_s : float
        How long it is. [s]
    """

    take: int
    name: str
    start_s: float
    length_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SamePassage:
    """The same passage on both sides; ``kind`` is ``"clap"`` or ``"chords"``."""

    kind: str
    before: Passage
    after: Passage


def find_same_clap(before: Reading, after: Reading) -> SamePassage | None:
    """Find the two claps that sound most alike apart from the room.

    Parameters
    ----------
    before, after : Reading
        Both sides.

    Returns
    -------
    SamePassage or None
        None where no two claps are of one kind, free of faults, and free of
        other sounds for long enough.
    """
    best: tuple[float, SamePassage] | None = None
    times_s = [f.decay_time_s for f in _figures(before, after) if f.decay_time_s is not None]
    wanted_s = min(max(_LONGER_THAN_DECAY * max(times_s, default=0.0), _SHORTEST_S), _LONGEST_S)
    for take_before, one in _fit_claps(before):
        for take_after, other in _fit_claps(after):
            apart_db = _spectra_apart_db(one, other)
            length_s = min(wanted_s, one.stop_s - one.onset_s, other.stop_s - other.onset_s)
            if apart_db > ALIKE_DB or length_s < _SHORTEST_S or (best is not None and best[0] <= apart_db):
                continue
            here, there = (
                Passage(
                    take=take,
                    name=side.takes[take].path,
                    start_s=max(clap.onset_s - _LEAD_S, 0.0),
                    length_s=length_s + _LEAD_S,
                )
                for side, take, clap in ((before, take_before, one), (after, take_after, other))
            )
            best = apart_db, SamePassage(kind="clap", before=here, after=there)
    return None if best is None else best[1]


def recording_of(take: TakeReading, recordings: Sequence[Recording]) -> Recording | None:
    """Find the recording that a take was read from: by its hash, or by its name where it has none."""
    for one in recordings:
        if take.sha256 is not None and one.source_sha256 == take.sha256:
            return one
    return next((one for one in recordings if one.source_name == take.path), None)


def _figures(*readings: Reading) -> list[BandFigures]:
    return [
        band.figures
        for reading in readings
        for band in reading.bands
        if band.figures.band.exact_hz > 200.0 and band.figures.verdict != "unusable"
    ]


def _fit_claps(reading: Reading) -> Iterator[tuple[int, ClapReading]]:
    for place, take in enumerate(reading.takes):
        for clap in take.claps:
            if clap.used and clap.bands and not clap.concerns and not take.concerns:
                yield place, clap


def _spectra_apart_db(one: ClapReading, other: ClapReading) -> float:
    """How far two claps' spectra are apart, loudness and room taken off; endless if unknown. [dB]."""
    differences = []
    for here, there in zip(one.bands, other.bands, strict=False):
        levels = [_source_db(figures) for figures in (here, there)]
        if here.band == there.band and levels[0] is not None and levels[1] is not None:
            differences.append(levels[1] - levels[0])
    return float(np.std(differences)) if len(differences) >= 3 else math.inf


def _source_db(figures: BandFigures) -> float | None:
    # Reverberation is louder where it lasts longer: taken off, what is left is the source.
    if figures.level_dbfs is None or not figures.decay_time_s or (figures.decay_range_db or 0.0) < 20.0:
        return None
    return figures.level_dbfs - 10.0 * math.log10(figures.decay_time_s)
