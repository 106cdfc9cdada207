"""A room as it is described: size, climate, surfaces with what they are made of, and what stands in it."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field

from roomir.remarks import Remark
from roomir.rooms.materials import Octaves

FACINGS = ("x", "y", "z")
"""Axes that a surface of a box can be normal to: length, width, height."""

AREA_TOLERANCE = 0.02
"""Areas that differ by less are taken to agree: nobody measures a wall better."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Patch:
    """A part of a surface made of one material.

    Attributes
    ----------
    area_m2 : float
        Its area. [m2]
    material : str
        What it is called; patches of one name err together.
    alpha : Octaves
        Absorption coefficients.
    log_spread : Octaves
        Standard deviation of ln(alpha).
    """

    area_m2: float
    material: str
    alpha: Octaves
    log_spread: Octaves


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface:
    """A wall, floor or ceiling.

    Attributes
    ----------
    name : str
        The room file's name for it.
    area_m2 : float
        Area of all its patches. [m2]
    facing : str or None
        The axis it is normal to.
    patches : tuple of Patch
        What it is made of; the first is the ground of which others are cut.
    free_area_m2 : float or None
        What panels may cover; the ground's area where ``None``. [m2]
    max_thickness_mm, max_weight_kg_per_m2 : float or None
        Limits for panels.
    keep_live : bool
        Whether it is to stay as it is.
    """

    name: str
    area_m2: float
    facing: str | None
    patches: tuple[Patch, ...]
    free_area_m2: float | None = None
    max_thickness_mm: float | None = None
    max_weight_kg_per_m2: float | None = None
    keep_live: bool = False

    @property
    def ground(self) -> Patch:
        """What panels are hung on."""
        return self.patches[0]

    @property
    def hangable_m2(self) -> float:
        """Area that panels may cover. [m2]."""
        if self.keep_live:
            return 0.0
        most = self.ground.area_m2
        return most if self.free_area_m2 is None else min(self.free_area_m2, most)


@dataclass(frozen=True, slots=True, kw_only=True)
class Furnishing:
    """Things and people in a room, by their absorption area.

    Attributes
    ----------
    name, material : str
        What they are, and the row the values come from.
    count : float
        How many pieces.
    area_each_m2 : Octaves
        Absorption area of one. [m2]
    log_spread : Octaves
        Standard deviation of its logarithm.
    """

    name: str
    material: str
    count: float
    area_each_m2: Octaves
    log_spread: Octaves


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """A room as described.

    Attributes
    ----------
    name : str
        What it is called.
    volume_m3 : float
        Volume. [m3]
    dimensions_m : (float, float, float) or None
        Length, width and height of a box. [m]
    temperature_c, humidity_percent : float
        Climate. [degC, %]
    surfaces : tuple of Surface
        At least one.
    furnishings : tuple of Furnishing
        What stands in it.
    on_hand : tuple of (str, int)
        Panels that are there already, by material, and how many.
    remarks : tuple of Remark
        Gaps and overlaps of the areas, and what was assumed.
    stage : str
        The state it is in, where its file tells several.
    earlier : tuple of Room
        The same room in the stages before, in their order.
    """

    name: str
    volume_m3: float
    dimensions_m: tuple[float, float, float] | None
    temperature_c: float = 20.0
    humidity_percent: float = 50.0
    surfaces: tuple[Surface, ...] = ()
    furnishings: tuple[Furnishing, ...] = ()
    on_hand: tuple[tuple[str, int], ...] = ()
    remarks: tuple[Remark, ...] = field(default=())
    stage: str = ""
    earlier: tuple[Room, ...] = ()

    @property
    def surface_m2(self) -> float:
        """Area of all surfaces. [m2]."""
        return sum(surface.area_m2 for surface in self.surfaces)

    @property
    def patches(self) -> tuple[tuple[str | None, Patch], ...]:
        """Every patch with the axis its surface is normal to."""
        return tuple((surface.facing, patch) for surface in self.surfaces for patch in surface.patches)


def area_remarks(
    surfaces: Iterable[Surface], *, volume_m3: float, dimensions_m: tuple[float, float, float] | None
) -> list[Remark]:
    """Name gaps and overlaps between the areas of a room and its size.

    Parameters
    ----------
    surfaces : iterable of Surface
        As described.
    volume_m3 : float
        Volume. [m3]
    dimensions_m : (float, float, float) or None
        Of a box; then each axis is checked where every surface says what it faces.

    Returns
    -------
    list of Remark
        Codes ``areas-leave-a-gap`` and ``areas-overlap``.
    """
    surfaces = list(surfaces)
    total_m2 = sum(surface.area_m2 for surface in surfaces)
    if dimensions_m is None:
        # No closed shape of this volume has less surface than a ball.
        least_m2 = (36.0 * math.pi) ** (1.0 / 3.0) * volume_m3 ** (2.0 / 3.0)
        if total_m2 < least_m2 * (1.0 - AREA_TOLERANCE):
            return [_gap("the surfaces", given_m2=total_m2, true_m2=least_m2, at_least=True)]
        return []
    length_m, width_m, height_m = dimensions_m
    pairs_m2 = {
        "x": ("the two walls facing x", 2.0 * width_m * height_m),
        "y": ("the two walls facing y", 2.0 * length_m * height_m),
        "z": ("floor and ceiling, facing z", 2.0 * length_m * width_m),
    }
    if any(surface.facing is None for surface in surfaces):
        return _compared("the surfaces", given_m2=total_m2, true_m2=sum(m2 for _, m2 in pairs_m2.values()))
    remarks: list[Remark] = []
    for axis, (words, true_m2) in pairs_m2.items():
        given_m2 = sum(surface.area_m2 for surface in surfaces if surface.facing == axis)
        remarks += _compared(words, given_m2=given_m2, true_m2=true_m2)
    return remarks


def _compared(words: str, *, given_m2: float, true_m2: float) -> list[Remark]:
    if given_m2 < true_m2 * (1.0 - AREA_TOLERANCE):
        return [_gap(words, given_m2=given_m2, true_m2=true_m2)]
    if given_m2 > true_m2 * (1.0 + AREA_TOLERANCE):
        return [
            Remark(
                code="areas-overlap",
                says=(
                    f"{words} add up to {given_m2:.2f} m2, but a box of this size has {true_m2:.2f} m2:"
                    f" {given_m2 - true_m2:.2f} m2 too much"
                ),
                remedy="check their areas; doors and windows belong under parts of their wall, not beside it",
            )
        ]
    return []


def _gap(words: str, *, given_m2: float, true_m2: float, at_least: bool = False) -> Remark:
    shape = "a room of this volume has at least" if at_least else "a box of this size has"
    return Remark(
        code="areas-leave-a-gap",
        says=(
            f"{words} add up to {given_m2:.2f} m2, but {shape} {true_m2:.2f} m2:"
            f" {true_m2 - given_m2:.2f} m2 are missing"
        ),
        remedy="describe every surface; what is left out neither absorbs nor reflects",
    )
