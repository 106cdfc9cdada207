"""The values of a reading: what was measured, in plain frozen objects.

A figure that the sound cannot support is ``None`` and the reasons say what
was missing; it is never NaN and never zero.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING

from roomir.bands.band import Band
from roomir.findings.findings import RoomFindings
from roomir.remarks import Remark

if TYPE_CHECKING:  # they need numpy, which `roomir --help` does not
    import pandas as pd

    from roomir.reading.evidence import DecayEvidence

Interval = tuple[float, float]
"""Lower and upper end of an interval."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BandFigures:
    """Every quantity of one band, of one clap or of the whole reading.

    Attributes
    ----------
    band : Band
        The frequency band.
    edt_s, t20_s, t30_s : float or None
        Decay times of ISO 3382-1:2009 extrapolated to 60 dB. [s]
    decay_time_s : float or None
        Maximum-likelihood decay time: the T30 of the average over endless
        realisations of the fitted decay. [s]
    spot_ci95_s : (float, float) or None
        95 % interval of ``decay_time_s`` for the spot that was heard. [s]
    ci95_s : (float, float) or None
        95 % interval of ``decay_time_s`` for the room. [s]
    decay_range_db : float or None
        Fitted reverberant level at time zero over the background. [dB]
    fitted_range_db : float or None
        The part of the decay that the fit has seen. [dB]
    level_dbfs : float or None
        Fitted reverberant level of the band at time zero, uncalibrated. [dB re full scale]
    nonlinearity_permille : float or None
        ISO 3382-2:2008 Annex B, of the T30 stretch (T20 where T30 is missing). [permille]
    curvature_percent : float or None
        ISO 3382-2:2008 Annex B, ``100 (T30/T20 - 1)``. [%]
    c50_db, c80_db : float or None
        Early-to-late energy ratio at 50 and 80 ms (ISO 3382-1:2009, A.2.3). [dB]
    d50 : float or None
        Early energy fraction at 50 ms (ISO 3382-1:2009, A.2.3).
    ts_s : float or None
        Centre time (ISO 3382-1:2009, A.2.4). [s]
    bt : float or None
        Bandwidth times decay time.
    slopes : int or None
        1, or 2 where the information criterion demands a second slope.
    verdict : str
        ``"reliable"``, ``"indicative"`` or ``"unusable"``.
    reasons : tuple of Remark
        Why the verdict is not better, and which figures are withheld.
    """

    band: Band
    edt_s: float | None = None
    t20_s: float | None = None
    t30_s: float | None = None
    decay_time_s: float | None = None
    spot_ci95_s: Interval | None = None
    ci95_s: Interval | None = None
    decay_range_db: float | None = None
    fitted_range_db: float | None = None
    level_dbfs: float | None = None
    nonlinearity_permille: float | None = None
    curvature_percent: float | None = None
    c50_db: float | None = None
    c80_db: float | None = None
    d50: float | None = None
    ts_s: float | None = None
    bt: float | None = None
    slopes: int | None = None
    verdict: str = "unusable"
    reasons: tuple[Remark, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SpotTime:
    """What one spot says of one band on its own.

    Attributes
    ----------
    decay_time_s : float
        Decay time of this spot alone. [s]
    u_relative : float
        Its relative standard uncertainty by theory.
    weight : float
        Its share in the value for the room.
    takes : tuple of int
        Places in the reading's ``takes`` of the recordings made in it.
    """

    decay_time_s: float
    u_relative: float
    weight: float
    takes: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomBand:
    """One band of the whole reading: the figures over all claps, and what they rest on.

    Attributes
    ----------
    figures : BandFigures
        Values over all claps used in this band.
    claps_used : int
        Claps whose decay was read in this band.
    effective_claps : float or None
        How many unrelated claps they are worth.
    spots : int
        Independent spots among them.
    interval_from : str or None
        ``"scatter"`` where the scatter between spots gave ``ci95_s``,
        ``"prior"`` where theory times the prior factor did.
    u_relative : float or None
        Relative standard uncertainty of ``decay_time_s`` for the room; its degrees of
        freedom are the spots less one where it is from scatter, endless otherwise.
    u_theory_relative : float or None
        What theory alone says of the same spots; ``ci95_s`` is never narrower.
    spot_times : tuple of SpotTime
        Every spot that says something on its own; empty where the decay time is withheld.
    """

    figures: BandFigures
    claps_used: int
    effective_claps: float | None
    spots: int
    interval_from: str | None
    u_relative: float | None = None
    u_theory_relative: float | None = None
    spot_times: tuple[SpotTime, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ClapReading:
    """One event of a take with its bands; ``bands`` is empty where it was set aside."""

    onset_s: float
    stop_s: float
    peak_dbfs: float
    set_aside_because: Remark | None
    concerns: tuple[Remark, ...] = ()
    bands: tuple[BandFigures, ...] = ()

    @property
    def used(self) -> bool:
        """Whether the decay was read."""
        return self.set_aside_because is None


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeReading:
    """One recording with its claps."""

    path: str
    sha256: str | None
    recorded_at: datetime | None
    recorded_at_from: str | None
    sample_rate_hz: int
    duration_s: float
    channels: int
    concerns: tuple[Remark, ...]
    notes: tuple[Remark, ...]
    claps: tuple[ClapReading, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Failure:
    """A file that gave no reading, with the reason and the remedy."""

    path: str
    code: str
    says: str
    remedy: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MidFigures:
    """Mean of the 500 Hz and 1 kHz octaves (ISO 3382-1:2009, T_mid); None where a member is missing."""

    decay_time_s: float | None = None
    ci95_s: Interval | None = None
    t20_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What one room said in one state: takes, bands and single figures.

    Attributes
    ----------
    roomir_version : str
        Version of the analysis.
    band_set : str
        ``"octave"``.
    takes : tuple of TakeReading
        Every file that could be opened, in the order given.
    failures : tuple of Failure
        Every file that could not.
    bands : tuple of RoomBand
        Values for the room, low to high; empty where no clap was found.
    mid : MidFigures
        Mid-frequency mean.
    bass_ratio : float or None
        (T125 + T250) / (T500 + T1000).
    findings : RoomFindings
        What the decay shows besides its time: flutter, echoes, two slopes, modes.
    evidence : tuple of DecayEvidence
        What pictures of the decays need; empty unless it was asked for.
    """

    roomir_version: str
    band_set: str
    takes: tuple[TakeReading, ...]
    failures: tuple[Failure, ...]
    bands: tuple[RoomBand, ...]
    mid: MidFigures
    bass_ratio: float | None
    findings: RoomFindings = field(default_factory=RoomFindings)
    evidence: tuple[DecayEvidence, ...] = field(default=(), repr=False, compare=False)

    def to_frame(self) -> pd.DataFrame:
        """Make a data frame of the bands, one row each.

        Returns
        -------
        pandas.DataFrame
            Named by the nominal midband frequency in hertz, with the columns
            of the CSV. A withheld figure is NaN, as pandas has it.

        Raises
        ------
        RoomirError
            If pandas is not installed (extra ``notebook``).
        """
        frame: pd.DataFrame = _shown_by().as_frame(self)
        return frame

    def _repr_html_(self) -> str:
        """Show the answer and the table where a notebook shows a reading."""
        html: str = _shown_by().as_html(self)
        return html


def _shown_by() -> ModuleType:
    # Words and digits are the report's business, which stands above this layer: it is looked up by name
    # when somebody asks, so that what was measured depends on nothing that shows it.
    return import_module("roomir.report.notebook")
