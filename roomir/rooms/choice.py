"""A room in the form that the formulas take, the formula that applies to it, and their uncertainty."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from roomir.bands.band import OCTAVES
from roomir.rooms.air import air_attenuation_db_per_m, energy_attenuation_per_m
from roomir.rooms.description import Room
from roomir.rooms.five_formulas import FORMULAS, Absorbing, axis_means, eyring_s
from roomir.rooms.materials import Octaves
from roomir.rooms.statistics import sound_speed_m_per_s

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
