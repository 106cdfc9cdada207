"""What a room will read before anybody claps: five formulas, the one that applies, and an honest spread."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from roomir.bands.band import OCTAVES, Band
from roomir.remarks import Remark
from roomir.rooms.air import air_attenuation_db_per_m, energy_attenuation_per_m
from roomir.rooms.description import Room
from roomir.rooms.five_formulas import FORMULAS, Absorbing, axis_means, eyring_s
from roomir.rooms.materials import Octaves
from roomir.rooms.statistics import (
    reverberation_distance_m,
    schroeder_frequency_hz,
    sound_speed_m_per_s,
)

Values = NDArray[np.float64]

FORMULA_SPREAD = 0.05
"""Standard deviation of ln T that a formula adds above the Schroeder frequency.

With calibrated absorption Sabine and Eyring reach about 10 % (K. Prawda, S. J.
Schlecht and V. Vaelimaeki, J. Acoust. Soc. Am. 152 (2022) 1158, abstract);
taken as two standard deviations.
"""

MODAL_SPREAD = 0.08
"""The same below the Schroeder frequency, where single modes rule: own choice, no source."""

UNKNOWN_AXES_SPREAD = 0.08
"""Added where nobody says which way the surfaces face: own choice, no source."""

MOST_MEAN_FOR_SABINE = 0.2
"""Above this mean coefficient no diffuse field should be expected ("Sound System Design Reference Manual",
chapter on room acoustics), and Sabine's formula parts from Eyring's by more than a tenth."""

UNEVEN = 0.10
"""ln(Arau-Puchades / Eyring) from which a room counts as unevenly lined: own choice, twice the formulas' own
standard deviation."""

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


def known_octaves(room: Room) -> tuple[int, ...]:
    """Indices of the octaves that everything in the room has a value for."""
    values = [patch.alpha for _, patch in room.patches] + [one.area_each_m2 for one in room.furnishings]
    return tuple(i for i in range(len(OCTAVES)) if all(row[i] is not None for row in values))


def air_areas_m2(room: Room, octaves: Sequence[int]) -> Values:
    """4 m V of the room's air (ISO 9613-1 at the exact midbands), shape (bands,) [m2]."""
    return np.array(
        [
            4.0
            * room.volume_m3
            * energy_attenuation_per_m(
                air_attenuation_db_per_m(
                    OCTAVES[i].exact_hz,
                    temperature_c=room.temperature_c,
                    humidity_percent=room.humidity_percent,
                )
            )
            for i in octaves
        ]
    )


def absorbing(room: Room, octaves: Sequence[int], *, with_air: bool = True) -> Absorbing:
    """Put a room into the form that the formulas take."""
    pieces = [one.count * picked(one.area_each_m2, octaves) for one in room.furnishings]
    return Absorbing(
        volume_m3=room.volume_m3,
        areas_m2=np.array([patch.area_m2 for _, patch in room.patches]),
        facings=tuple(facing for facing, _ in room.patches),
        alphas=np.array([picked(patch.alpha, octaves) for _, patch in room.patches]),
        pieces_m2=np.array(pieces).reshape(len(pieces), len(octaves)),
        air_m2=air_areas_m2(room, octaves) if with_air else np.zeros(len(octaves)),
        sound_speed=sound_speed_m_per_s(temperature_c=room.temperature_c),
    )


def picked(values: Octaves, octaves: Sequence[int]) -> Values:
    """Take some octaves, all known, as an array."""
    return np.array([values[i] for i in octaves], dtype=np.float64)


def choose_method(body: Absorbing) -> tuple[str, str]:
    """Choose one formula for all bands.

    Parameters
    ----------
    body : Absorbing
        The room.

    Returns
    -------
    str
        ``"Sabine"``, ``"Norris-Eyring"`` or ``"Arau-Puchades"``.
    str
        Why, in words.

    Notes
    -----
    Millington-Sette is never taken, since one surface with a coefficient near
    one would silence the whole room, and Fitzroy is not, since it overstates
    what one hard pair of walls does; both are shown for comparison.
    """
    mean = float(np.max(body.absorption_area_m2) / body.areas_m2.sum())
    if axis_means(body) is not None:
        ratio = _ratio_of_arau_to_eyring(body)
        if np.isfinite(ratio).all() and float(np.max(np.abs(ratio))) > UNEVEN:
            return "Arau-Puchades", "the absorption lies unevenly on the three pairs of walls"
    where = "" if axis_means(body) is not None else ", and nothing is known about which way surfaces face"
    if mean > MOST_MEAN_FOR_SABINE:
        return "Norris-Eyring", f"the mean absorption reaches {mean:.2f}{where}"
    return "Sabine", f"the mean absorption stays at or below {MOST_MEAN_FOR_SABINE:g} ({mean:.2f}){where}"


def _ratio_of_arau_to_eyring(body: Absorbing) -> Values:
    arau_s = FORMULAS["Arau-Puchades"](body)
    assert arau_s is not None
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(np.log(arau_s / eyring_s(body)))


def best_s(body: Absorbing, method: str) -> Values:
    """Decay time after one formula. [s]."""
    time_s = FORMULAS[method](body)
    assert time_s is not None
    return time_s


def spread_of_materials(room: Room, body: Absorbing, octaves: Sequence[int], *, method: str) -> Values:
    """Standard deviation of ln T that the materials' spread makes, shape (bands,).

    First order: the slope of ln T against ln(alpha) of each material, times
    its spread; patches of one name err together, different materials apart.
    """
    step = 1e-4
    base = np.log(best_s(body, method))
    variance = np.zeros(len(octaves))
    groups = sorted({patch.material for _, patch in room.patches})
    for name in groups:
        ours = np.array([patch.material == name for _, patch in room.patches])
        spread = next(
            picked(patch.log_spread, octaves) for _, patch in room.patches if patch.material == name
        )
        nudged = replace(body, alphas=body.alphas * np.where(ours, 1.0 + step, 1.0)[:, np.newaxis])
        variance += ((np.log(best_s(nudged, method)) - base) / step * spread) ** 2
    for row, one in enumerate(room.furnishings):
        nudge = np.ones((len(room.furnishings), 1))
        nudge[row] += step
        nudged = replace(body, pieces_m2=body.pieces_m2 * nudge)
        spread = picked(one.log_spread, octaves)
        variance += ((np.log(best_s(nudged, method)) - base) / step * spread) ** 2
    return np.asarray(np.sqrt(variance))


def spread_of_formula(body: Absorbing, octaves: Sequence[int], *, schroeder_hz: float | None) -> Values:
    """Standard deviation of ln T that no formula avoids, shape (bands,).

    Half of what Arau-Puchades and Eyring differ by is added where the room is
    uneven, and a fixed figure where nobody knows whether it is.
    """
    modal = [schroeder_hz is not None and OCTAVES[i].exact_hz < schroeder_hz for i in octaves]
    own = np.where(modal, MODAL_SPREAD, FORMULA_SPREAD)
    if axis_means(body) is None:
        return np.asarray(np.hypot(own, UNKNOWN_AXES_SPREAD))
    return np.asarray(np.hypot(own, 0.5 * np.abs(_ratio_of_arau_to_eyring(body))))


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
