"""What a room file says of surfaces, of what stands in the room, and of panels that are at hand."""

from __future__ import annotations

from roomir.rooms.description import FACINGS, Furnishing, Patch, Surface
from roomir.rooms.file_rows import FileRows, Table
from roomir.rooms.materials import Material, Materials, log_spread, six_values
from roomir.rooms.room_stages import KEYS, REMEDY, is_there, unknown_stages

_PART_KEYS = {
    "name",
    "area_m2",
    "area",
    "material",
    "alpha",
    "alpha_63hz",
    "alpha_8khz",
    "spread_percent",
    "note",
    *KEYS,
}
_SURFACE_KEYS = _PART_KEYS - KEYS | {
    *("facing", "parts", "keep_live", "free_area_m2", "free_area"),
    *("max_thickness_mm", "max_weight_kg_per_m2"),
}
_FURNISHING_KEYS = {"name", "material", "count", "area_each_m2", "spread_percent", "note", *KEYS}
_ON_HAND_KEYS = {"material", "count", "note"}
_MOST_SPREAD_PERCENT = 300.0
"""Beyond that nothing is known: e to the third above and below."""


class RoomParts(FileRows):
    """Reads the rows that make up a room.

    Parameters
    ----------
    document : dict
        The file, parsed.
    name : str
        What it is called.
    materials : Materials
        Where names are looked up.
    """

    def __init__(self, document: Table, *, name: str, materials: Materials) -> None:
        super().__init__(document, name=name)
        self._materials = materials
        self._stages: tuple[str, ...] = ()
        self._at = 0

    def _surfaces(self) -> list[Surface]:
        rows = self._rows("surfaces")
        if not rows and self._document.get("surfaces", []) == []:
            self._fault("surfaces", "are missing", "describe each wall, floor and ceiling under [[surfaces]]")
        surfaces: list[Surface] = []
        for i, row in enumerate(rows, start=1):
            surface = self._surface(row, number=i)
            if surface is None:
                continue
            if any(one.name == surface.name for one in surfaces):
                self._fault(
                    f"surfaces[{i}].name", f'"{surface.name}" is used twice', "call each by its own name"
                )
            surfaces.append(surface)
        return surfaces

    def _surface(self, row: Table, *, number: int) -> Surface | None:
        name = row.get("name", f"surface {number}")
        where = f"surfaces[{number}]."
        if not isinstance(name, str) or not name:
            self._fault(f"{where}name", "is no text", 'write it in "quotes"')
            name = f"surface {number}"
        where = f'surfaces[{number}] ("{name}").'
        self._know(row, _SURFACE_KEYS, where=where)
        area_m2 = self._area(row, "area", where=where)
        facing = row.get("facing")
        if facing is not None and facing not in FACINGS:
            self._fault(
                f"{where}facing",
                f"is {facing!r}",
                'write "x" for walls across the length, "y" across the width, "z" for floor and ceiling',
            )
            facing = None
        parts = [
            part
            for k, one in enumerate(self._rows("parts", of=row, where=where), start=1)
            if (part := self._patch(one, where=f"{where}parts[{k}].")) and self._there(one)
        ]
        cut_m2 = sum(part.area_m2 for part in parts)
        if area_m2 is None:
            return None
        if cut_m2 > area_m2 * 1.0001:
            self._fault(
                f"{where}parts",
                f"cover {cut_m2:g} m2 of {area_m2:g} m2, so they overlap",
                "check their areas",
            )
            return None
        ground_m2 = max(area_m2 - cut_m2, 0.0)
        no_ground = ground_m2 <= 1e-6 * area_m2 and not ({"material", "alpha"} & set(row))
        # Where parts are all there is, panels hang on the largest: on the wall, not on its door.
        patches = sorted(parts, key=lambda part: -part.area_m2) if no_ground and parts else None
        if patches is None:
            ground = self._absorbs(row, area_m2=ground_m2, where=where)
            if ground is None:
                return None
            patches = [ground, *parts]
        return Surface(
            name=name,
            area_m2=area_m2,
            facing=facing,
            patches=tuple(patches),
            free_area_m2=self._area(row, "free_area", where=where, needed=False),
            max_thickness_mm=self._optional(row, "max_thickness_mm", where=where),
            max_weight_kg_per_m2=self._optional(row, "max_weight_kg_per_m2", where=where),
            keep_live=self._flag(row, "keep_live", where=where),
        )

    def _there(self, row: Table) -> bool:
        return is_there(row, self._stages, self._at)

    def _know_stages(self, row: Table, *, where: str) -> None:
        for key in unknown_stages(row, self._stages):
            self._fault(f"{where}{key}", f"is {row[key]!r}, which is no stage of this file", REMEDY)

    def _patch(self, row: Table, *, where: str) -> Patch | None:
        self._know(row, _PART_KEYS, where=where)
        self._know_stages(row, where=where)
        area_m2 = self._area(row, "area", where=where)
        return None if area_m2 is None else self._absorbs(row, area_m2=area_m2, where=where)

    def _absorbs(self, row: Table, *, area_m2: float, where: str) -> Patch | None:
        spread = self._optional(row, "spread_percent", where=where, high=_MOST_SPREAD_PERCENT)
        if "alpha" in row:
            if "material" in row:
                self._fault(f"{where}alpha", "stands beside a material", "give material or alpha, not both")
            six = self._parsed(lambda v: six_values(v, key=f"{where}alpha"), row["alpha"], key="")
            if six is None:
                return None
            outer = [self._optional(row, key, where=where, high=1.2) for key in ("alpha_63hz", "alpha_8khz")]
            alpha = (outer[0], *six, outer[1])
            label = f"{where}{row.get('name', '')} {six}"
            spreads = tuple(None if a is None else log_spread(a) for a in alpha)
        else:
            material = self._material(row, where=where)
            if material is None:
                return None
            if material.each:
                self._fault(
                    f"{where}material",
                    f'"{material.name}" has values per piece',
                    "put it under [[furnishings]] with a count",
                )
                return None
            alpha, label, spreads = material.alpha, material.name, material.log_spread
        if spread is not None:
            spreads = tuple(None if a is None else spread / 100.0 for a in alpha)
        return Patch(area_m2=area_m2, material=label, alpha=alpha, log_spread=spreads)

    def _material(self, row: Table, *, where: str) -> Material | None:
        name = row.get("material")
        if not isinstance(name, str):
            what = "is missing" if name is None else "is no text"
            self._fault(f"{where}material", what, 'give material = "..." or alpha = [six values]')
            return None
        return self._parsed(self._materials.get, name, key=f"{where}material")

    # -------------------------------------------------------------- things and panels

    def _furnishing(self, row: Table, *, where: str) -> Furnishing | None:
        self._know(row, _FURNISHING_KEYS, where=where)
        self._know_stages(row, where=where)
        count = self._number(row, "count", where=where, low=0.0, high=10_000.0, default=1.0)
        spread = self._optional(row, "spread_percent", where=where, high=_MOST_SPREAD_PERCENT)
        if "area_each_m2" in row:
            six = self._parsed(
                lambda v: six_values(v, key=f"{where}area_each_m2", most=50.0), row["area_each_m2"], key=""
            )
            if six is None:
                return None
            each, label = (None, *six, None), str(row.get("name", where))
            spreads = tuple(None if a is None else log_spread(a) for a in each)
        else:
            material = self._material(row, where=where)
            if material is None:
                return None
            if not material.each:
                self._fault(
                    f"{where}material",
                    f'"{material.name}" has values per m2',
                    "put it under parts of a surface",
                )
                return None
            each, label, spreads = material.alpha, material.name, material.log_spread
        if spread is not None:
            spreads = tuple(None if a is None else spread / 100.0 for a in each)
        name = str(row.get("name", label))
        return Furnishing(name=name, material=label, count=count, area_each_m2=each, log_spread=spreads)

    def _on_hand(self, row: Table, *, where: str) -> tuple[str, int] | None:
        self._know(row, _ON_HAND_KEYS, where=where)
        material = self._material(row, where=where)
        count = row.get("count")
        if not isinstance(count, int) or isinstance(count, bool) or count < 0:
            self._fault(f"{where}count", "is no whole number from 0 up", "write how many panels there are")
            return None
        if material is None:
            return None
        if material.panel is None:
            self._fault(
                f"{where}material", f'"{material.name}" is no panel', "give it panel_m2 in your own table"
            )
            return None
        return (material.name, count)
