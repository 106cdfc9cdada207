"""What a reading and its background say about the next take: how far each band is, and what is in the way."""

from __future__ import annotations

import math
import statistics
from dataclasses import dataclass

from roomir.background.noise import Background, BandNoise
from roomir.bands.band import Band
from roomir.decay.more_spots import spots_needed
from roomir.reading.reading import BandFigures, Reading, RoomBand
from roomir.reading.trust import (
    INDICATIVE_RANGE_DB,
    RELIABLE_HALF_WIDTH,
    RELIABLE_RANGE_DB,
    STRAIGHT_RANGE_DB,
)

TARGET_HALF_WIDTH = 0.05
"""Half-width of the mid-frequency interval to aim at, over the decay time."""

HANDS_MORE_DB = 10.0
"""Between an ordinary clap and the hardest one; common practice, no source. [dB]"""

HANDS_MORE_BASS_DB = 5.0
"""The same from `HANDS_DOWN_TO_HZ` down; common practice, no source. [dB]"""

BALLOON_MORE_DB = 20.0
"""What a balloon has over hands in the bass, roughly; common practice, no source. [dB]"""

HANDS_DOWN_TO_HZ = 250.0
"""Hands hold little energy in this octave and below (see README, "What a clap cannot do"). [Hz]"""

TOO_HOT_DBFS = -1.0
TOO_COLD_DBFS = -40.0

_WANT_MORE = frozenset({"bend-suspected", "two-slopes-little-range"})
_DEFAULT_SETTLE_S = 2.0
_DEEP_DB = 60.0
_BELOW_DB = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BandOutlook:
    """How far one band is from being trusted, and what would take it there.

    Attributes
    ----------
    band : Band
        The band.
    verdict : str
        As in the reading.
    seen_db : float or None
        Decay range; ``None`` where no decay stands out of the background. [dB]
    wants_db : float
        Range for full trust: 35, or 45 where a bend has to be ruled out. [dB]
    cut_off : bool
        Whether the next sound or the recording's end came before the decay had sunk into the background.
    noise : BandNoise or None
        The background between claps; ``None`` where none could be heard.
    spots : SpotsOutlook or None
        Where all that is wrong is the width of the interval: how many spots would do for full trust.
    """

    band: Band
    verdict: str
    seen_db: float | None
    wants_db: float
    cut_off: bool
    noise: BandNoise | None
    spots: SpotsOutlook | None

    def missing_db(self, wanted_db: float | None = None) -> float | None:
        """Range missing to ``wanted_db``, or to `wants_db`; 0 where it is there. [dB]"""
        if self.seen_db is None:
            return None
        return max((self.wants_db if wanted_db is None else wanted_db) - self.seen_db, 0.0)

    @property
    def hum_gain_db(self) -> float:
        """What switching the mains hum off would bring. [dB]"""
        return 0.0 if self.noise is None else self.noise.without_hum_db

    @property
    def reach(self) -> str:
        """What would do: the least of these that is likely to.

        ``"there"``, ``"more time"`` (after each clap), ``"hum off"``,
        ``"harder clap"``, ``"balloon"``, or ``"quiet and balloon"`` where a
        louder source alone will not do.
        """
        missing_db = self.missing_db()
        if self.cut_off:
            return "more time"
        if missing_db == 0.0:
            return "there"
        if missing_db is None:
            return "quiet and balloon"
        if missing_db <= self.hum_gain_db:
            return "hum off"
        low = self.band.nominal_hz <= HANDS_DOWN_TO_HZ
        if missing_db <= (HANDS_MORE_BASS_DB if low else HANDS_MORE_DB):
            return "harder clap"
        return "balloon" if missing_db <= BALLOON_MORE_DB else "quiet and balloon"


@dataclass(frozen=True, slots=True, kw_only=True)
class SpotsOutlook:
    """How well a time is known, and how many spots it would take.

    Attributes
    ----------
    used : int
        Spots so far; at mid frequencies the fewer of 500 Hz and 1 kHz.
    half_width : float
        Half of the interval over the decay time.
    interval_from : str
        ``"scatter"`` or ``"prior"``.
    target : float
        Half-width to aim at, over the decay time.
    needed : int or None
        Spots in all for it; ``None`` where no number anybody claps in would do.
    """

    used: int
    half_width: float
    interval_from: str
    target: float
    needed: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """Everything the next take can learn from the last ones.

    Attributes
    ----------
    bands : tuple of BandOutlook
        Low to high; empty where no clap could be read.
    spots : SpotsOutlook or None
        ``None`` without a mid-frequency interval.
    claps_per_spot : float or None
        Claps read in each spot, on average.
    peak_dbfs : float or None
        The loudest event, of the claps used where there are any. [dB]
    free_s, needed_s : float or None
        Time a clap had for itself (median), and what the slowest band needs. [s]
    crowded : int
        Claps set aside because another sound was too close.
    background : Background or None
        Between the claps; ``None`` where there was no time to hear it.
    """

    bands: tuple[BandOutlook, ...]
    spots: SpotsOutlook | None
    claps_per_spot: float | None
    peak_dbfs: float | None
    free_s: float | None
    needed_s: float | None
    crowded: int
    background: Background | None


def settle_s(reading: Reading) -> float:
    """Time after an event until it has died away: the longest decay time of the reading. [s]"""
    return max((figures.decay_time_s or 0.0 for figures in _timed(reading)), default=_DEFAULT_SETTLE_S)


def look_ahead(reading: Reading, *, background: Background | None) -> Outlook:
    """Work out how far a reading is from a good one.

    Parameters
    ----------
    reading : Reading
        With or without bands.
    background : Background, optional
        What was heard between its claps.

    Returns
    -------
    Outlook
        Numbers only; :mod:`roomir.report.suggestions` makes steps of them.
    """
    noise = {} if background is None else {one.band.nominal_hz: one for one in background.bands}
    claps = [clap for take in reading.takes for clap in take.claps]
    used = [clap for clap in claps if clap.used]
    spots = max((one.spots for one in reading.bands), default=0)
    crowded = [
        clap
        for clap in claps
        if clap.set_aside_because is not None
        and clap.set_aside_because.code in {"second-event-in-decay", "follows-another-sound"}
    ]
    return Outlook(
        bands=tuple(_band(one, noise=noise.get(one.figures.band.nominal_hz)) for one in reading.bands),
        spots=_spots(reading),
        claps_per_spot=len(used) / spots if spots else None,
        peak_dbfs=max((clap.peak_dbfs for clap in used or claps), default=None),
        free_s=statistics.median(clap.stop_s - clap.onset_s for clap in used) if used else None,
        needed_s=_needed_s(reading),
        crowded=len(crowded),
        background=background,
    )


def _needed_s(reading: Reading) -> float | None:
    """Time until the slowest band has sunk into the background, and half as long to hear that. [s]"""
    needed = [1.5 * (figures.decay_time_s or 0.0) * _falls_db(figures) / 60.0 for figures in _timed(reading)]
    return float(max(math.ceil(max(needed)), 2)) if needed else None


def _falls_db(figures: BandFigures) -> float:
    # How deep a decay goes that was cut off, nobody knows.
    return (
        _DEEP_DB
        if _is_cut_off(figures) or figures.decay_range_db is None
        else figures.decay_range_db + _BELOW_DB
    )


def _is_cut_off(figures: BandFigures) -> bool:
    return any(remark.code == "decay-cut-off" for remark in figures.reasons)


def _timed(reading: Reading) -> list[BandFigures]:
    """Bands with a decay time; those nobody should use only where there are no others."""
    timed = [one.figures for one in reading.bands if one.figures.decay_time_s is not None]
    return [figures for figures in timed if figures.verdict != "unusable"] or timed


def _band(room_band: RoomBand, *, noise: BandNoise | None) -> BandOutlook:
    figures = room_band.figures
    # First things first: with less than 35 dB a bend is not the trouble.
    enough = figures.decay_range_db is not None and figures.decay_range_db >= RELIABLE_RANGE_DB
    bent = any(remark.code in _WANT_MORE for remark in figures.reasons)
    return BandOutlook(
        band=figures.band,
        verdict=figures.verdict,
        seen_db=figures.decay_range_db,
        wants_db=STRAIGHT_RANGE_DB if bent and enough else RELIABLE_RANGE_DB,
        cut_off=_is_cut_off(figures),
        noise=noise,
        spots=_band_spots(room_band),
    )


def _spots(reading: Reading) -> SpotsOutlook | None:
    """Spots for the mid-frequency mean."""
    mid = reading.mid
    members = [one for one in reading.bands if one.figures.band.nominal_hz in (500.0, 1000.0) and one.spots]
    if mid.ci95_s is None or mid.decay_time_s is None or not members:
        return None
    return _outlook(
        used=min(one.spots for one in members),
        half_width=0.5 * (mid.ci95_s[1] - mid.ci95_s[0]) / mid.decay_time_s,
        seen=all(one.interval_from == "scatter" for one in members),
        target=TARGET_HALF_WIDTH,
    )


def _band_spots(room_band: RoomBand) -> SpotsOutlook | None:
    """Spots for one band whose interval is too wide for any other reason than a short range."""
    figures = room_band.figures
    wide = any(remark.code == "interval-too-wide" for remark in figures.reasons)
    if not wide or figures.ci95_s is None or figures.decay_time_s is None:
        return None
    if (figures.decay_range_db or 0.0) < INDICATIVE_RANGE_DB:
        return None
    return _outlook(
        used=room_band.spots,
        half_width=0.5 * (figures.ci95_s[1] - figures.ci95_s[0]) / figures.decay_time_s,
        seen=room_band.interval_from == "scatter",
        target=RELIABLE_HALF_WIDTH,
    )


def _outlook(*, used: int, half_width: float, seen: bool, target: float) -> SpotsOutlook:
    interval_from = "scatter" if seen else "prior"
    needed = spots_needed(half_width, n_spots=used, interval_from=interval_from, target=target)
    return SpotsOutlook(
        used=used, half_width=half_width, interval_from=interval_from, target=target, needed=needed
    )
