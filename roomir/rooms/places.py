"""Where in a rectangular room to put the phone and to stand."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

from roomir.errors import ParameterError

FROM_SURFACES_M = 1.0
"""Microphone to the nearest surface: a quarter wavelength (ISO 3382-2:2008, 4.3). [m]"""

_GRID_M = 0.25
_LEAST_SHARE = 0.3
_OFF_CENTRE_M = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """Places on the floor, measured from one corner.

    Attributes
    ----------
    at_m : tuple of (float, float)
        Along the long wall and along the short one. [m]
    apart_m : float
        Shortest distance between two of them. [m]
    from_walls_m : float
        Shortest distance from any of them to a wall. [m]
    """

    at_m: tuple[tuple[float, float], ...]
    apart_m: float
    from_walls_m: float


def places(dimensions_m: tuple[float, float, float], *, n: int = 4) -> Places:
    """Spread places over a floor: as far apart as can be, off the walls and off the middle lines.

    Parameters
    ----------
    dimensions_m : (float, float, float)
        Length, width and height. [m]
    n : int, default 4
        How many.

    Returns
    -------
    Places
        One metre from the walls where the room allows it, otherwise three
        tenths of a side. On a middle line half of the modes cannot be heard,
        so places keep a quarter of a metre off where that leaves any.

    Raises
    ------
    ParameterError
        If a dimension is not a positive number.

    Notes
    -----
    Each place is the one farthest from those before it, on a grid of a
    quarter of a metre, beginning in the corner nearest to the origin.

    Examples
    --------
    >>> places((5.0, 4.0, 2.4)).at_m
    ((1.0, 1.0), (4.0, 3.0), (1.75, 3.0), (3.25, 1.0))
    """
    for side_m in dimensions_m:
        if not (math.isfinite(side_m) and side_m > 0.0):
            raise ParameterError(
                f"{side_m:g} is no size for a room",
                code="bad-room-size",
                remedy="give metres or feet above zero",
            )
    long_m, short_m = sorted(dimensions_m[:2], reverse=True)
    xs, ys = _lines_m(long_m), _lines_m(short_m)
    grid = list(itertools.product(xs, ys))
    chosen = [grid[0]]
    while len(chosen) < n:
        chosen.append(max(grid, key=lambda at: min(math.dist(at, other) for other in chosen)))
    return Places(
        at_m=tuple(chosen),
        apart_m=min(math.dist(a, b) for a, b in itertools.combinations(chosen, 2)),
        from_walls_m=min(*(min(x, long_m - x) for x, _ in chosen), *(min(y, short_m - y) for _, y in chosen)),
    )


def _lines_m(side_m: float) -> list[float]:
    margin_m = min(FROM_SURFACES_M, _LEAST_SHARE * side_m)
    free_m = side_m - 2.0 * margin_m
    n_steps = max(1, round(free_m / _GRID_M))
    lines_m = [margin_m + free_m * i / n_steps for i in range(n_steps + 1)]
    off = [x for x in lines_m if abs(x - 0.5 * side_m) >= _OFF_CENTRE_M]
    return off or lines_m
