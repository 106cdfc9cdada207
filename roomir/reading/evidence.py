"""What a picture of a decay needs: the sound's own levels beside the model laid over them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomir.bands.band import Band
from roomir.decay.curve import DecayCurve
from roomir.decay.energy import EnergyTrace
from roomir.decay.model import DecayModel

Floats = NDArray[np.float64]

_N_LEVELS = 400
_TAIL = 1.4
_LEAD_BT = 1.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DecayEvidence:
    """One clap in one band, levels in decibels re the fitted reverberant level at time zero.

    Attributes
    ----------
    take, clap : int
        Places of recording and event in the reading.
    band : Band
        The band.
    time_s, level_db : array, shape (n,)
        Short-time level of the band after the onset.
    curve_time_s, curve_db : array, shape (m,)
        Backward-integrated decay, 0 dB at its own beginning; empty where there is none.
    model : DecayModel
        The fitted decay, levels in full scale squared.
    start_s : float
        Where the fit starts. [s]
    crosspoint_s : float
        Where the decay sinks into the background, or is cut off. [s]
    cut_off : bool
        Whether it is cut off there.
    """

    take: int
    clap: int
    band: Band
    time_s: Floats
    level_db: Floats
    curve_time_s: Floats
    curve_db: Floats
    model: DecayModel
    start_s: float
    crosspoint_s: float
    cut_off: bool

    @property
    def noise_db(self) -> float:
        """Background under the reverberant level at time zero. [dB]"""
        return float(10.0 * np.log10(max(self.model.noise, 1e-300) / self.model.decaying(0.0)))

    def model_db(self, time_s: Floats) -> Floats:
        """Level of the fitted decay and background together at ``time_s``. [dB]"""
        power = sum(
            level * np.exp(-rate * time_s)
            for level, rate in zip(self.model.levels, self.model.rates, strict=True)
        )
        return np.asarray(10.0 * np.log10((power + self.model.noise) / self.model.decaying(0.0)))


def keep_evidence(
    trace: EnergyTrace,
    *,
    take: int,
    clap: int,
    band: Band,
    model: DecayModel,
    curve: DecayCurve | None,
    start_s: float,
) -> DecayEvidence:
    """Draw what a picture needs out of one trace."""
    crosspoint_s = model.crosspoint_s(trace.end_s)
    first_s = -_LEAD_BT / band.width_hz
    last_s = min(trace.end_s, _TAIL * crosspoint_s + 0.1)
    width_s = max(1.0 / band.width_hz, (last_s - first_s) / _N_LEVELS)
    edges_s = np.arange(first_s, last_s, width_s)
    power = np.maximum(trace.mean_between(edges_s), 1e-30)
    empty = np.empty(0)
    every = 1 if curve is None else max(1, curve.time_s.size // _N_LEVELS)
    return DecayEvidence(
        take=take,
        clap=clap,
        band=band,
        time_s=0.5 * (edges_s[1:] + edges_s[:-1]),
        level_db=10.0 * np.log10(power / model.decaying(0.0)),
        curve_time_s=empty if curve is None else curve.time_s[::every],
        curve_db=empty if curve is None else curve.level_db[::every],
        model=model,
        start_s=start_s,
        crosspoint_s=crosspoint_s,
        cut_off=model.is_cut_off(trace.end_s),
    )
