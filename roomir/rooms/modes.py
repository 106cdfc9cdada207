"""The modes of a box with hard walls: where a small room rings on single tones."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from roomir.errors import ParameterError

_KINDS = ("axial", "tangential", "oblique")


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxMode:
    """One mode of a box.

    Attributes
    ----------
    orders : (int, int, int)
        Half waves along length, width and height.
    frequency_hz : float
        Its frequency. [Hz]
    """

    orders: tuple[int, int, int]
    frequency_hz: float

    @property
    def kind(self) -> str:
        """``"axial"`` (between two walls), ``"tangential"`` (four) or ``"oblique"`` (all six)."""
        return _KINDS[sum(order > 0 for order in self.orders) - 1]


def box_modes(
    dimensions_m: tuple[float, float, float], *, sound_speed: float, highest_hz: float
) -> tuple[BoxMode, ...]:
    r"""List the modes of a box up to a frequency.

    Parameters
    ----------
    dimensions_m : (float, float, float)
        Length, width and height. [m]
    sound_speed : float
        Speed of sound c. [m/s]
    highest_hz : float
        Where to stop. [Hz]

    Returns
    -------
    tuple of BoxMode
        Low to high, by :math:`f = \frac{c}{2} \sqrt{(n_x/L_x)^2 + (n_y/L_y)^2 + (n_z/L_z)^2}`
        (Kuttruff, "Room Acoustics", 6th ed., chapter 3).

    Raises
    ------
    ParameterError
        If a figure is not positive, or there are more modes than anybody could tell apart.

    Examples
    --------
    >>> [(mode.orders, round(mode.frequency_hz, 1), mode.kind)
    ...  for mode in box_modes((5.0, 4.0, 3.0), sound_speed=343.0, highest_hz=56.0)]
    [((1, 0, 0), 34.3, 'axial'), ((0, 1, 0), 42.9, 'axial'), ((1, 1, 0), 54.9, 'tangential')]
    """
    for figure in (*dimensions_m, sound_speed, highest_hz):
        if not (math.isfinite(figure) and figure > 0.0):
            raise ParameterError(f"{figure:g} is no size, speed or frequency", code="not-positive")
    most = [int(2.0 * highest_hz * side / sound_speed) for side in dimensions_m]
    if math.prod(n + 1 for n in most) > _MOST_COMBINATIONS:
        raise ParameterError(
            f"a room of this size has too many modes below {highest_hz:g} Hz to list",
            code="too-many-modes",
            remedy="ask for a lower frequency",
        )
    modes = []
    for x in range(most[0] + 1):
        for y in range(most[1] + 1):
            for z in range(most[2] + 1):
                orders = (x, y, z)
                halves = [n / side for n, side in zip(orders, dimensions_m, strict=True)]
                hz = 0.5 * sound_speed * math.hypot(*halves)
                if 0.0 < hz <= highest_hz:
                    modes.append(BoxMode(orders=orders, frequency_hz=hz))
    return tuple(sorted(modes, key=lambda mode: (mode.frequency_hz, mode.orders)))


_MOST_COMBINATIONS = 200_000


def mode_width_hz(*, decay_time_s: float) -> float:
    r"""Half-power width of a mode that decays in a given time.

    Parameters
    ----------
    decay_time_s : float
        Decay time T. [s]

    Returns
    -------
    float
        :math:`\Delta f = 3 \ln(10) / (\pi T) = 2.2 / T` (Kuttruff, "Room Acoustics", chapter 3): modes
        that lie closer are one peak. [Hz]

    Examples
    --------
    >>> round(mode_width_hz(decay_time_s=0.5), 2)
    4.4
    """
    if not (math.isfinite(decay_time_s) and decay_time_s > 0.0):
        raise ParameterError(f"{decay_time_s:g} s is no decay time", code="not-positive")
    return 3.0 * math.log(10.0) / (math.pi * decay_time_s)


def merged(modes: Sequence[BoxMode], *, width_hz: float) -> tuple[tuple[BoxMode, ...], ...]:
    """Put modes together that follow one another more closely than a width.

    Parameters
    ----------
    modes : sequence of BoxMode
        Low to high.
    width_hz : float
        See `mode_width_hz`. [Hz]

    Returns
    -------
    tuple of tuple of BoxMode
        Groups, low to high.
    """
    groups: list[list[BoxMode]] = []
    for mode in modes:
        if groups and mode.frequency_hz - groups[-1][-1].frequency_hz < width_hz:
            groups[-1].append(mode)
        else:
            groups.append([mode])
    return tuple(tuple(group) for group in groups)
