r"""Five statistical formulas for the decay time of a room, side by side.

With :math:`A_\mathrm{air} = 4 m V` and one axis k for each pair of walls of a
box (S_k the area normal to it, a_k its mean coefficient):

.. math::
   T = \frac{24 \ln 10 \; V}{c\,(A + A_\mathrm{air})}

   A_\text{Sabine} = \sum S_i \alpha_i \qquad
   A_\text{Eyring} = -S \ln(1 - \bar\alpha) \qquad
   A_\text{Millington} = -\sum S_i \ln(1 - \alpha_i)

   T_\text{Fitzroy} = \sum_k \frac{S_k}{S} T_k \qquad
   T_\text{Arau} = \prod_k T_k^{S_k / S} \qquad
   T_k = T(-S \ln(1 - a_k))

Sources: ISO 354:2003 (Sabine's form with air); C. F. Eyring, J. Acoust. Soc.
Am. 1 (1930) 217-241; G. Millington, ibid. 4 (1932) 69-82, and W. J. Sette,
ibid. 4 (1933) 193-210; D. Fitzroy, ibid. 31 (1959) 893-897; H. Arau-Puchades,
Acustica 65 (1988) 163-180 (the last three from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomir.rooms.statistics import sabine_decay_time_s

Values = NDArray[np.float64]

_SIXTY_METRES = sabine_decay_time_s(volume_m3=1.0, absorption_area_m2=1.0, sound_speed=1.0)
"""24 ln 10."""

MOST_ALPHA = 0.99
"""Cap where a logarithm of 1 - alpha is taken: laboratories find values of 1 and more, at edges."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Absorbing:
    """A room as the formulas see it, for any number of bands (and of draws before them).

    Attributes
    ----------
    volume_m3 : float
        Volume. [m3]
    areas_m2 : array, shape (n,)
        Areas of the patches. [m2]
    facings : tuple of (str or None), n of them
        The axis each is normal to.
    alphas : array, shape (..., n, bands)
        Their coefficients.
    pieces_m2 : array, shape (pieces, bands)
        Absorption area of what stands in the room, without a surface of its own. [m2]
    air_m2 : array, shape (bands,)
        4 m V. [m2]
    sound_speed : float
        Speed of sound. [m/s]
    """

    volume_m3: float
    areas_m2: Values
    facings: tuple[str | None, ...]
    alphas: Values
    pieces_m2: Values
    air_m2: Values
    sound_speed: float

    @property
    def furnishings_m2(self) -> Values:
        """Absorption area of all that stands in the room, shape (bands,) [m2]."""
        return np.asarray(self.pieces_m2.sum(axis=0))

    @property
    def absorption_area_m2(self) -> Values:
        """Sum of area times coefficient, air left out, shape (..., bands) [m2]."""
        return np.asarray(np.einsum("n,...nb->...b", self.areas_m2, self.alphas) + self.furnishings_m2)

    def decay_time_s(self, area_m2: Values) -> Values:
        """Decay time of the room with this absorption area beside the air; infinite where nothing absorbs."""
        total = area_m2 + self.air_m2
        with np.errstate(divide="ignore"):
            return np.asarray(_SIXTY_METRES * self.volume_m3 / (self.sound_speed * total))

    def area_for(self, decay_time_s: Values | float) -> Values:
        """Absorption area, air left out, that gives this decay time. [m2]."""
        return np.asarray(
            _SIXTY_METRES * self.volume_m3 / (self.sound_speed * np.asarray(decay_time_s)) - self.air_m2
        )


def sabine_s(room: Absorbing) -> Values:
    """Decay time after Sabine, shape (..., bands). [s]."""
    return room.decay_time_s(room.absorption_area_m2)


def eyring_s(room: Absorbing) -> Values:
    """Decay time after Norris and Eyring, shape (..., bands). [s]."""
    return room.decay_time_s(_eyring_area(room.areas_m2.sum(), _mean(room, room.areas_m2)))


def millington_s(room: Absorbing) -> Values:
    """Decay time after Millington and Sette, shape (..., bands). [s]."""
    logs = -np.log1p(-np.minimum(room.alphas, MOST_ALPHA))
    return room.decay_time_s(np.einsum("n,...nb->...b", room.areas_m2, logs) + room.furnishings_m2)


def fitzroy_s(room: Absorbing) -> Values | None:
    """Decay time after Fitzroy, shape (..., bands); ``None`` unless every surface has its axis. [s]."""
    axes = _axes(room)
    if axes is None:
        return None
    return np.asarray(sum(share * time_s for share, time_s in axes))


def arau_puchades_s(room: Absorbing) -> Values | None:
    """Decay time after Arau-Puchades, shape (..., bands); ``None`` unless every surface has its axis. [s]."""
    axes = _axes(room)
    if axes is None:
        return None
    return np.asarray(np.prod([time_s**share for share, time_s in axes], axis=0))


def axis_means(room: Absorbing) -> dict[str, Values] | None:
    """Mean coefficient of the surfaces normal to each axis, or ``None`` unless all three are known."""
    if set(room.facings) != {"x", "y", "z"}:
        return None
    facing = np.array(room.facings)
    return {axis: _mean(room, np.where(facing == axis, room.areas_m2, 0.0)) for axis in "xyz"}


def _axes(room: Absorbing) -> list[tuple[float, Values]] | None:
    means = axis_means(room)
    if means is None:
        return None
    facing, total_m2 = np.array(room.facings), float(room.areas_m2.sum())
    return [
        (
            float(room.areas_m2[facing == axis].sum()) / total_m2,
            room.decay_time_s(_eyring_area(total_m2, mean)),
        )
        for axis, mean in means.items()
    ]


def _mean(room: Absorbing, areas_m2: Values) -> Values:
    """Mean over some patches; what stands in the room is spread evenly over all surfaces."""
    mean = np.einsum("n,...nb->...b", areas_m2, room.alphas) / areas_m2.sum()
    return np.asarray(mean + room.furnishings_m2 / room.areas_m2.sum())


def _eyring_area(total_m2: float, mean: Values) -> Values:
    return np.asarray(-total_m2 * np.log1p(-np.minimum(mean, MOST_ALPHA)))


FORMULAS = {
    "Sabine": sabine_s,
    "Norris-Eyring": eyring_s,
    "Millington-Sette": millington_s,
    "Fitzroy": fitzroy_s,
    "Arau-Puchades": arau_puchades_s,
}
"""Every formula under its name."""
