"""The values of a comparison: what changed, in plain frozen objects.

What cannot be said is ``None``; it is never NaN and never zero.
"""

from __future__ import annotations

from dataclasses import dataclass

from roomir.bands.band import Band
from roomir.compare.verdicts import MoreSpots
from roomir.reading.reading import BandFigures, Interval, Reading
from roomir.remarks import Remark


@dataclass(frozen=True, slots=True, kw_only=True)
class Climate:
    """Air of a room while it was recorded; ``None`` where nobody wrote it down."""

    temperature_c: float | None = None
    humidity_percent: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BandChange:
    """One band, before against after.

    Attributes
    ----------
    band : Band
        The frequency band.
    before, after : BandFigures
        Every quantity of both sides as they were read.
    before_s, after_s : float or None
        Decay times set against each other: the room's, or the means over the
        matched positions where pairs were compared. [s]
    change_s : float or None
        After less before. [s]
    change_ci95_s : (float, float) or None
        Its 95 % interval; it holds zero if and only if that of the percentage does. [s]
    change_percent : float or None
        Change over ``before_s``. [%]
    change_ci95_percent : (float, float) or None
        Its 95 % interval; the one that the verdict is from. [%]
    p_value : float or None
        How often chance alone would show as much, two-sided.
    added_absorption_m2 : float or None
        Equivalent absorption area that was added; ``None`` where the volume is not known. [m2]
    added_absorption_ci95_m2 : (float, float) or None
        Its 95 % interval. [m2]
    verdict : str
        ``"shorter"``, ``"longer"``, ``"within 5 percent"`` or ``"cannot tell"``.
    more_spots : MoreSpots or None
        What would settle it, where both sides have a decay time and nothing can be told.
    positions : int or None
        Positions compared pair by pair; ``None`` where spots were not paired.
    """

    band: Band
    before: BandFigures
    after: BandFigures
    before_s: float | None = None
    after_s: float | None = None
    change_s: float | None = None
    change_ci95_s: Interval | None = None
    change_percent: float | None = None
    change_ci95_percent: Interval | None = None
    p_value: float | None = None
    added_absorption_m2: float | None = None
    added_absorption_ci95_m2: Interval | None = None
    verdict: str = "cannot tell"
    more_spots: MoreSpots | None = None
    positions: int | None = None

    @property
    def usable(self) -> bool:
        """Whether both sides have a decay time that may be used at all."""
        return self.p_value is not None and "unusable" not in (self.before.verdict, self.after.verdict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Headline:
    """All bands together.

    Attributes
    ----------
    verdict : str
        ``"changed"``, ``"no change found"`` or ``"cannot tell"``.
    changed : tuple of Band
        Bands whose change stands although several were asked (Holm).
    """

    verdict: str
    changed: tuple[Band, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """One state of a room against another.

    Attributes
    ----------
    before, after : Reading
        Both readings.
    volume_m3 : float or None
        Volume of the room. [m3]
    climates : (Climate, Climate)
        Air before and after, as told.
    headline : Headline
        The answer over all bands.
    bands : tuple of BandChange
        Low to high; empty where the readings have no band in common.
    guards : tuple of Remark
        What limits the comparison.
    """

    before: Reading
    after: Reading
    volume_m3: float | None
    climates: tuple[Climate, Climate]
    headline: Headline
    bands: tuple[BandChange, ...]
    guards: tuple[Remark, ...]
