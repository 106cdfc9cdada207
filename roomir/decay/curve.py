r"""Backward integration and the quantities that ISO 3382 reads off the curve.

:math:`E(t) = \int_t^{t_1} (p^2 - N)\,dt + C` with the background's mean square
subtracted (Chu, JASA 63 (1978) 1444), truncation at the crosspoint :math:`t_1` of
decay and background, and the energy :math:`C` of the decay beyond it put back
(ISO 3382-1:2009, 5.3.3; Lundeby et al., Acustica 81 (1995) 344): of the
treatments compared by Guski and Vorlaender (Acta Acustica 100 (2014)) the one
with the least bias. The crosspoint comes from the maximum-likelihood fit.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from roomir.decay.energy import EnergyTrace, Floats
from roomir.decay.model import DecayModel

LEAD_BT = 2.5
"""Integration begins this many 1/B before the onset, where the filter's smear begins."""

EDT_DB = (0.0, -10.0)
T20_DB = (-5.0, -25.0)
T30_DB = (-5.0, -35.0)

EDT_NEEDS_DB = 25.0
"""Range for early quantities (EDT, clarity, centre time): common practice, no source."""
T20_NEEDS_DB = 35.0
"""ISO 3382-1:2009, 5.3.2: the stretch ends 10 dB above the background."""
T30_NEEDS_DB = 45.0
"""ISO 3382-1:2009, 5.3.2."""

EDT_NEEDS_BT = 16.0
"""Below this the filter's own smear shapes the first 10 dB."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DecayCurve:
    """A backward-integrated decay.

    Attributes
    ----------
    time_s : array, shape (n,)
        After the onset. [s]
    level_db : array, shape (n,)
        Energy still to come over all energy. [dB]
    """

    time_s: Floats
    level_db: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class LineFit:
    """A straight line over one stretch of a decay curve.

    Attributes
    ----------
    decay_time_s : float
        Its slope extended to a fall of 60 dB. [s]
    nonlinearity_permille : float
        ISO 3382-2:2008, B.2: ``1000 (1 - r^2)``. [permille]
    """

    decay_time_s: float
    nonlinearity_permille: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CurveQuantities:
    """What ISO 3382-1 defines on one decay; ``None`` where the range or the curve does not reach."""

    edt_s: float | None = None
    t20_s: float | None = None
    t30_s: float | None = None
    nonlinearity_permille: float | None = None
    curvature_percent: float | None = None
    c50_db: float | None = None
    c80_db: float | None = None
    d50: float | None = None
    ts_s: float | None = None


def fit_line(curve: DecayCurve, *, stretch_db: tuple[float, float]) -> LineFit | None:
    """Fit a least-squares line to the part of ``curve`` between two levels.

    Parameters
    ----------
    curve : DecayCurve
        The curve.
    stretch_db : (float, float)
        Upper and lower end. [dB]

    Returns
    -------
    LineFit or None
        None where the curve has fewer than three points there, never gets down
        to the lower end, or does not fall.

    Notes
    -----
    ISO 3382-1:2009, 5.3.2 and 5.3.3; ISO 3382-2:2008, 6 and B.2.
    """
    upper_db, lower_db = stretch_db
    # The first point below either end; a curve that never gets there has none.
    stop = int((curve.level_db < lower_db).argmax())
    start = int((curve.level_db[:stop] <= upper_db).argmax()) if stop else 0
    if stop - start < 3 or not curve.level_db[start] <= upper_db:
        return None
    time_s = curve.time_s[start:stop]
    level_db = curve.level_db[start:stop]
    time_off = time_s - time_s.sum() / time_s.size
    level_off = level_db - level_db.sum() / level_db.size
    along = float(time_off @ level_off)
    spread = float(time_off @ time_off)
    if along >= 0.0:
        return None
    r_squared = along**2 / (spread * float(level_off @ level_off))
    return LineFit(
        decay_time_s=-60.0 * spread / along, nonlinearity_permille=max(0.0, 1000.0 * (1.0 - r_squared))
    )


def integrate_backwards(trace: EnergyTrace, *, model: DecayModel, width_hz: float) -> DecayCurve | None:
    """Backward-integrate one trace, its background subtracted, its lost tail put back.

    Parameters
    ----------
    trace : EnergyTrace
        Energy of one clap in one band.
    model : DecayModel
        Its fitted decay and background.
    width_hz : float
        Bandwidth, which sets where integration starts. [Hz]

    Returns
    -------
    DecayCurve or None
        From ``LEAD_BT / width_hz`` before the onset to the crosspoint; None
        where nothing is left above the background.
    """
    stop_s = model.crosspoint_s(trace.end_s)
    edges_s = np.asarray(trace.start_s + trace.step_s * np.arange(trace.cumulative.size), dtype=np.float64)
    first = int(np.searchsorted(edges_s, -LEAD_BT / width_hz))
    last = int(np.searchsorted(edges_s, stop_s))
    if last - first < 8:
        return None
    gone = trace.cumulative[first:last] - model.noise * edges_s[first:last]
    left = gone[-1] - gone + model.energy_after(float(edges_s[last - 1]))
    if left[0] <= 0.0:
        return None
    level_db = 10.0 * np.log10(np.maximum(left / left[0], 1e-30))
    return DecayCurve(time_s=edges_s[first:last], level_db=level_db)


def read_curve(
    curve: DecayCurve, *, trace: EnergyTrace, model: DecayModel, width_hz: float, decay_range_db: float
) -> CurveQuantities:
    """Read every quantity that the range supports off one decay."""
    t20 = fit_line(curve, stretch_db=T20_DB) if decay_range_db >= T20_NEEDS_DB else None
    t30 = fit_line(curve, stretch_db=T30_DB) if decay_range_db >= T30_NEEDS_DB else None
    straight = t30 or t20
    early = _early(curve, trace=trace, model=model) if decay_range_db >= EDT_NEEDS_DB else {}
    onset = int(np.searchsorted(curve.time_s, 0.0))
    edt = (
        fit_line(DecayCurve(time_s=curve.time_s[onset:], level_db=curve.level_db[onset:]), stretch_db=EDT_DB)
        if decay_range_db >= EDT_NEEDS_DB
        else None
    )
    if edt is not None and edt.decay_time_s * width_hz < EDT_NEEDS_BT:
        edt = None
    return CurveQuantities(
        edt_s=edt.decay_time_s if edt else None,
        t20_s=t20.decay_time_s if t20 else None,
        t30_s=t30.decay_time_s if t30 else None,
        nonlinearity_permille=straight.nonlinearity_permille if straight else None,
        curvature_percent=100.0 * (t30.decay_time_s / t20.decay_time_s - 1.0) if t20 and t30 else None,
        **early,
    )


def _early(curve: DecayCurve, *, trace: EnergyTrace, model: DecayModel) -> dict[str, float | None]:
    """Clarity, definition and centre time (ISO 3382-1:2009, A.2.3 and A.2.4)."""
    share = 10.0 ** (curve.level_db / 10.0)
    late = {}
    for limit_s in (0.05, 0.08):
        inside = limit_s < curve.time_s[-1]
        late[limit_s] = float(np.interp(limit_s, curve.time_s, share)) if inside else 0.0
    c50, c80 = (10.0 * np.log10((1.0 - part) / part) if 0.0 < part < 1.0 else None for part in late.values())
    # Centre time is the area under the curve of the energy to come, from the onset on; what
    # lies before the onset belongs to it with a negative sign.
    step_s = np.diff(curve.time_s)
    middle = 0.5 * (share[1:] + share[:-1])
    area = float(middle @ step_s) + float(curve.time_s[0])
    total = trace.until(curve.time_s[-1:])[0] - trace.until(curve.time_s[:1])[0]
    total -= model.noise * float(curve.time_s[-1] - curve.time_s[0])
    total += model.energy_after(float(curve.time_s[-1]))
    beyond = model.moment_after(float(curve.time_s[-1])) / total
    return {
        "c50_db": c50,
        "c80_db": c80,
        "d50": 1.0 - late[0.05] if late[0.05] > 0.0 else None,
        "ts_s": area + beyond,
    }
