"""What a room will read before anybody claps: five formulas, the one that applies, and an honest spread."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomir.bands.band import OCTAVES, Band
from roomir.remarks import Remark
from roomir.rooms.choice import (
    absorbing,
    best_s,
    choose_method,
    known_octaves,
    spread_of_formula,
    spread_of_materials,
)
from roomir.rooms.description import Room
from roomir.rooms.five_formulas import FORMULAS, Absorbing
from roomir.rooms.statistics import (
    reverberation_distance_m,
    schroeder_frequency_hz,
    sound_speed_m_per_s,
)

Values = NDArray[np.float64]

_Z95 = 1.959964


@dataclass(frozen=True, slots=True, kw_only=True)
class PredictedBand:
    """One octave of a prediction.

    Attributes
    ----------
    band : Band
        The octave.
    sabine_s, eyring_s, millington_s, fitzroy_s, arau_puchades_s : float or None
        Decay time after each formula; ``None`` where it does not apply. [s]
    best_s : float or None
        After the formula that applies to the room. [s]
    log_spread : float
        Standard deviation of ln(best_s).
    ci95_s : (float, float) or None
        95 % interval. [s]
    absorption_area_m2 : float
        Of surfaces and furnishings, without air. [m2]
    air_area_m2 : float
        4 m V. [m2]
    """

    band: Band
    sabine_s: float | None
    eyring_s: float | None
    millington_s: float | None
    fitzroy_s: float | None
    arau_puchades_s: float | None
    best_s: float | None
    log_spread: float
    ci95_s: tuple[float, float] | None
    absorption_area_m2: float
    air_area_m2: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Prediction:
    """What a room will read.

    Attributes
    ----------
    room : Room
        As described.
    method : str
        The formula taken for all bands.
    because : str
        Why this one applies.
    bands : tuple of PredictedBand
        125 Hz to 4 kHz, and 63 Hz and 8 kHz where every material gives them.
    schroeder_hz : float or None
        Above it statistics hold. [Hz]
    reverberation_distance_m : float or None
        For a source that radiates alike in all directions, at 500 Hz and 1 kHz. [m]
    remarks : tuple of Remark
        What to know about it.
    learnt_from : tuple of str
        Readings that corrected the description, in their order.
    """

    room: Room
    method: str
    because: str
    bands: tuple[PredictedBand, ...]
    schroeder_hz: float | None
    reverberation_distance_m: float | None
    remarks: tuple[Remark, ...]
    learnt_from: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Corrected:
    """What readings made of a room's description.

    Attributes
    ----------
    octaves : tuple of int
        Indices of the octaves.
    body : Absorbing
        The room with corrected coefficients.
    best_s, log_spread : array, shape (bands,)
        Decay time and the standard deviation of its logarithm. [s, 1]
    method, because : str
        What is named in place of a formula, and why.
    learnt_from : tuple of str
        Names of the readings, in their order.
    """

    octaves: tuple[int, ...]
    body: Absorbing
    best_s: Values
    log_spread: Values
    method: str
    because: str
    learnt_from: tuple[str, ...]


def predict(room: Room, *, with_air: bool = True, corrected: Corrected | None = None) -> Prediction:
    """Predict the decay times of a room from its description.

    Parameters
    ----------
    room : Room
        As described.
    with_air : bool, default True
        Whether the air absorbs as well.
    corrected : Corrected, optional
        What readings made of the description; with air.

    Returns
    -------
    Prediction
        With remarks on gaps, modes, unknown directions and missing octaves.
    """
    found = _uncorrected(room, with_air=with_air) if corrected is None else corrected
    octaves, body, best, spread = found.octaves, found.body, found.best_s, found.log_spread
    schroeder_hz = _schroeder(room, octaves, best)
    with np.errstate(divide="ignore", invalid="ignore"):
        times = {name: formula(body) for name, formula in FORMULAS.items()}
    bands = []
    for k, i in enumerate(octaves):
        value_s, sd = _finite(best[k]), float(spread[k])
        bands.append(
            PredictedBand(
                band=OCTAVES[i],
                sabine_s=_of(times["Sabine"], k),
                eyring_s=_of(times["Norris-Eyring"], k),
                millington_s=_of(times["Millington-Sette"], k),
                fitzroy_s=_of(times["Fitzroy"], k),
                arau_puchades_s=_of(times["Arau-Puchades"], k),
                best_s=value_s,
                log_spread=sd if math.isfinite(sd) else 0.0,
                ci95_s=None
                if value_s is None or not math.isfinite(sd)
                else (value_s * math.exp(-_Z95 * sd), value_s * math.exp(_Z95 * sd)),
                absorption_area_m2=float(body.absorption_area_m2[k]),
                air_area_m2=float(body.air_m2[k]),
            )
        )
    return Prediction(
        room=room,
        method=found.method,
        because=found.because,
        bands=tuple(bands),
        schroeder_hz=schroeder_hz,
        reverberation_distance_m=_reverberation_distance(room, octaves, best),
        remarks=(*room.remarks, *_remarks(room, octaves, schroeder_hz=schroeder_hz, best=best)),
        learnt_from=found.learnt_from,
    )


def _uncorrected(room: Room, *, with_air: bool) -> Corrected:
    octaves = known_octaves(room)
    body = absorbing(room, octaves, with_air=with_air)
    method, because = choose_method(body)
    with np.errstate(divide="ignore", invalid="ignore"):
        best = best_s(body, method)
        if np.isfinite(best).all():
            spread = np.hypot(
                spread_of_materials(room, body, octaves, method=method),
                spread_of_formula(body, octaves, schroeder_hz=_schroeder(room, octaves, best)),
            )
        else:
            spread = np.full(len(octaves), np.nan)
    return Corrected(
        octaves=octaves,
        body=body,
        best_s=best,
        log_spread=spread,
        method=method,
        because=because,
        learnt_from=(),
    )


def _remarks(room: Room, octaves: Sequence[int], *, schroeder_hz: float | None, best: Values) -> list[Remark]:
    remarks = []
    if any(facing is None for facing, _ in room.patches):
        remarks.append(
            Remark(
                code="facing-unknown",
                says=(
                    "not every surface says which axis it is normal to,"
                    " so Fitzroy and Arau-Puchades are left out"
                ),
                remedy='write facing = "x", "y" or "z" for each surface of a box',
            )
        )
    if schroeder_hz is not None and (
        low := [OCTAVES[i] for i in octaves if OCTAVES[i].exact_hz < schroeder_hz]
    ):
        names = ", ".join(f"{band.nominal_hz:g} Hz" for band in low)
        remarks.append(
            Remark(
                code="modes-rule-prediction",
                says=(
                    f"{names}: below the Schroeder frequency of {schroeder_hz:.0f} Hz,"
                    " where single modes rule"
                ),
                remedy="take the prediction there as a hunch; read the room in many spots, corners included",
            )
        )
    if not np.isfinite(best).all():
        remarks.append(
            Remark(
                code="nothing-absorbs",
                says="in some bands nothing absorbs, so no decay time can be given",
                remedy="no real surface absorbs nothing: look its material up",
            )
        )
    return remarks


def _schroeder(room: Room, octaves: Sequence[int], best: Values) -> float | None:
    mid = _mid(octaves, best)
    return None if mid is None else schroeder_frequency_hz(volume_m3=room.volume_m3, decay_time_s=mid)


def _reverberation_distance(room: Room, octaves: Sequence[int], best: Values) -> float | None:
    mid = _mid(octaves, best)
    if mid is None:
        return None
    return reverberation_distance_m(
        volume_m3=room.volume_m3,
        decay_time_s=mid,
        sound_speed=sound_speed_m_per_s(temperature_c=room.temperature_c),
        directivity=1.0,
    )


def _mid(octaves: Sequence[int], best: Values) -> float | None:
    """Mean of 500 Hz and 1 kHz. [s]."""
    mids = [_finite(best[k]) for k, i in enumerate(octaves) if OCTAVES[i].nominal_hz in (500, 1000)]
    known = [one for one in mids if one is not None]
    return sum(known) / len(known) if known else None


def _of(values: Values | None, k: int) -> float | None:
    return None if values is None else _finite(values[k])


def _finite(value: float) -> float | None:
    return float(value) if math.isfinite(value) and value > 0.0 else None
