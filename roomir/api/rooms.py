"""What a size of a room is, given one way or the other."""

from __future__ import annotations

import math

from roomir.errors import ParameterError


def checked_dimensions(
    dimensions_m: tuple[float, float, float] | None,
) -> tuple[float, float, float] | None:
    """Return the dimensions, refusing what is no length."""
    for side_m in dimensions_m or ():
        if not (math.isfinite(side_m) and side_m > 0.0):
            raise ParameterError(
                f"{side_m:g} is no size for a room",
                code="bad-room-size",
                remedy="give metres above zero",
            )
    return dimensions_m


def volume_of_m3(*, volume_m3: float | None, dimensions_m: tuple[float, float, float] | None) -> float:
    """Return the volume, given one way and not the other. [m3]."""
    if dimensions_m is not None and volume_m3 is None:
        return math.prod(dimensions_m)
    if dimensions_m is not None or volume_m3 is None:
        raise ParameterError(
            "a room has one size: its volume or its dimensions",
            code="bad-room-size",
            remedy="give one of the two",
        )
    return volume_m3
