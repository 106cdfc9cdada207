"""Panels on surfaces: what may hang where, and the room once it hangs."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from roomir.rooms.description import Patch, Room, Surface
from roomir.rooms.materials import Material, Materials

MOST_THICKNESS_MM = 200.0
"""Thickest panel where the room file says nothing: own choice; deeper ones take the room away."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One kind of panel on one surface.

    Attributes
    ----------
    absorber : Material
        With its panel.
    surface : Surface
        Where it would hang, in place of its ground.
    most : int
        How many fit at most.
    """

    absorber: Material
    surface: Surface
    most: int

    @property
    def panel_m2(self) -> float:
        """Area of one. [m2]."""
        assert self.absorber.panel is not None
        return self.absorber.panel.area_m2


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """So many panels of one kind on one surface."""

    absorber: Material
    surface: str
    count: int

    @property
    def area_m2(self) -> float:
        """Area of all of them. [m2]."""
        assert self.absorber.panel is not None
        return self.count * self.absorber.panel.area_m2


def absorbers_of(materials: Materials, names: Sequence[str] = ()) -> list[Material]:
    """Choose the panels that may be proposed.

    Parameters
    ----------
    materials : Materials
        The table.
    names : sequence of str
        Only these; all panels but two-sided ones where empty.

    Raises
    ------
    ParameterError
        If a name is unknown.
    """
    if names:
        return [materials.get(name) for name in names]
    return [row for row in materials if row.panel is not None and row.panel.reverse is None]


def hangs_on(absorber: Material, surface: Surface) -> bool:
    """Whether a panel may hang there: carpets lie on floors, nothing else does; curtains hang on walls."""
    assert absorber.panel is not None
    floor = is_floor(surface)
    if absorber.panel.kind == "carpet":
        return floor
    if floor or (absorber.panel.kind == "curtain" and surface.facing == "z"):
        return False
    limit_mm = MOST_THICKNESS_MM if surface.max_thickness_mm is None else surface.max_thickness_mm
    too_thick = absorber.panel.thickness_mm > limit_mm
    too_heavy = (
        surface.max_weight_kg_per_m2 is not None
        and absorber.panel.weight_kg_per_m2 > surface.max_weight_kg_per_m2
    )
    return not (too_thick or too_heavy)


def is_floor(surface: Surface) -> bool:
    """Whether one walks on it, by its name: nothing else in a room file tells."""
    return surface.facing in (None, "z") and "floor" in surface.name.casefold()


def is_overhead(surface: Surface) -> bool:
    """Whether it hangs over heads."""
    return surface.facing == "z" and not is_floor(surface)


def places(room: Room, absorbers: Iterable[Material], *, keep: Sequence[str] = ()) -> list[Place]:
    """List which panels could hang where, and how many of them.

    Parameters
    ----------
    room : Room
        Before treatment.
    absorbers : iterable of Material
        With panels.
    keep : sequence of str
        Names of surfaces to leave alone, beside those the room file keeps live.
    """
    kept = {name.casefold() for name in keep}
    found = []
    for absorber in absorbers:
        assert absorber.panel is not None
        for surface in room.surfaces:
            if surface.name.casefold() in kept or not hangs_on(absorber, surface):
                continue
            # A hair of tolerance, or ten panels of 0.72 m2 would not fit on 7.2 m2.
            most = int(surface.hangable_m2 / absorber.panel.area_m2 + 1e-9)
            if most > 0:
                found.append(Place(absorber=absorber, surface=surface, most=most))
    return found


def patch_of(material: Material, *, area_m2: float) -> Patch:
    """Make a patch of a material."""
    return Patch(
        area_m2=area_m2, material=material.name, alpha=material.alpha, log_spread=material.log_spread
    )


def treated(room: Room, items: Iterable[Item]) -> Room:
    """Hang panels: each takes its area from the ground of its surface.

    Parameters
    ----------
    room : Room
        Before.
    items : iterable of Item
        What hangs where.

    Returns
    -------
    Room
        After; areas of surfaces stay the same.
    """
    listed = [item for item in items if item.count > 0]
    surfaces = []
    for surface in room.surfaces:
        here = [item for item in listed if item.surface == surface.name]
        left_m2 = max(surface.ground.area_m2 - sum(item.area_m2 for item in here), 0.0)
        ground = replace(surface.ground, area_m2=left_m2)
        panels = [patch_of(item.absorber, area_m2=item.area_m2) for item in here]
        surfaces.append(replace(surface, patches=(ground, *surface.patches[1:], *panels)))
    return replace(room, surfaces=tuple(surfaces))


def turned(items: Iterable[Item], materials: Materials) -> list[Item]:
    """Turn every two-sided panel round."""
    return [
        replace(item, absorber=replace(materials.get(item.absorber.panel.reverse), panel=item.absorber.panel))
        if item.absorber.panel is not None and item.absorber.panel.reverse
        else item
        for item in items
    ]
