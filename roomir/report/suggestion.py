"""One thing to do for a better take, and how much it is worth."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from roomir.report.advice import BAND_WEIGHTS
from roomir.report.next_take import BALLOON_MORE_DB, BandOutlook
from roomir.report.wording import band_name, joined


@dataclass(frozen=True, slots=True, kw_only=True)
class Suggestion:
    """One thing to do.

    Attributes
    ----------
    code : str
        Its name, for programs.
    do : str
        What to do.
    why : str
        What was found that calls for it; empty where ``do`` says it all.
    buys : str
        What it can bring; empty where nobody can tell beforehand.
    bands_hz : tuple of float
        Nominal frequencies of the bands that gain; empty: all. [Hz]
    worth : float
        What puts it before others: bands it may lift, mid bands and unusable ones twice.
    """

    code: str
    do: str
    why: str = ""
    buys: str = ""
    bands_hz: tuple[float, ...] = ()
    worth: float


def weight(band: BandOutlook) -> float:
    """Weigh a band: mid bands and unusable ones count twice, the outermost half."""
    return BAND_WEIGHTS.get(band.band.nominal_hz, 1.0) * (2.0 if band.verdict == "unusable" else 1.0)


def lifted(bands: Iterable[BandOutlook], *, gain_db: float) -> float:
    """Weight of the bands, each as far as the gain takes it to full trust."""
    worth = 0.0
    for band in bands:
        missing_db = band.missing_db()
        if missing_db != 0.0:
            worth += weight(band) * min(1.0, gain_db / (missing_db or 2.0 * BALLOON_MORE_DB))
    return worth


def band_names(bands: Sequence[BandOutlook]) -> str:
    """Name bands inside a sentence."""
    return joined(band_name(band.band.nominal_hz) for band in bands)


def nominal_hz(bands: Sequence[BandOutlook]) -> tuple[float, ...]:
    """Nominal frequencies of the bands. [Hz]"""
    return tuple(band.band.nominal_hz for band in bands)


def missing_range(bands: Sequence[BandOutlook]) -> str:
    """Say how much range each band lacks."""
    parts = []
    for band in bands:
        missing_db = band.missing_db()
        much = "all of it" if missing_db is None else f"{upwards(missing_db)} dB"
        parts.append(f"{much} at {band_name(band.band.nominal_hz)}")
    return joined(parts)


def upwards(missing_db: float) -> str:
    """Round what is missing so that nobody is promised too much."""
    return f"{math.ceil(missing_db - 1e-9)}"
