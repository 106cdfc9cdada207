"""From a room file (TOML) to a room, with every fault named by its key.

The form stands in README under "Describing a room".
"""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

from roomir.errors import ParameterError, RoomirError
from roomir.remarks import Remark
from roomir.rooms.description import FACINGS, Furnishing, Patch, Room, Surface, area_remarks
from roomir.rooms.materials import (
    BadFileError,
    Material,
    Materials,
    is_number,
    load_materials,
    log_spread,
    parse_toml,
    read_text,
    six_values,
)
from roomir.units import parse_area_m2, parse_dimensions_m, parse_length_m, parse_volume_m3

_ROOM_KEYS = {
    *("name", "dimensions_m", "dimensions", "volume_m3", "volume"),
    *("temperature_c", "temperature_f", "humidity_percent", "materials", "logbook_stage", "note"),
}
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
}
_SURFACE_KEYS = _PART_KEYS | {
    *("facing", "parts", "keep_live", "free_area_m2", "free_area"),
    *("max_thickness_mm", "max_weight_kg_per_m2"),
}
_FURNISHING_KEYS = {"name", "material", "count", "area_each_m2", "spread_percent", "note"}
_ON_HAND_KEYS = {"material", "count", "note"}
_TABLES = {"room", "surfaces", "furnishings", "on_hand"}

_Table = dict[str, Any]
_Value = TypeVar("_Value")
_Result = TypeVar("_Result")


def load_room(path: Path, *, materials: Path | None = None) -> tuple[Room, Materials]:
    """Load a room file.

    Parameters
    ----------
    path : Path
        The file.
    materials : Path, optional
        A table of the user's own; else the one that the room file names, beside it.

    Returns
    -------
    Room
        With its remarks.
    Materials
        The table its names come from.

    Raises
    ------
    BadFileError
        With every fault of the file.
    RoomirError
        If a file cannot be read.
    """
    text = read_text(path)
    if materials is None:
        named = parse_toml(text, name=path.name).get("room", {})
        named = named.get("materials") if isinstance(named, dict) else None
        materials = path.parent / named if isinstance(named, str) else None
    table = load_materials(materials)
    return parse_room(text, name=path.name, materials=table), table


def parse_room(text: str, *, name: str, materials: Materials) -> Room:
    r"""Make a room of the text of its file.

    Parameters
    ----------
    text : str
        TOML.
    name : str
        What the file is called.
    materials : Materials
        Where names are looked up.

    Raises
    ------
    BadFileError
        With every fault, each naming its key.

    Examples
    --------
    >>> from roomir.rooms.materials import standard_materials
    >>> room = parse_room(
    ...     '[room]\nname = "box"\nvolume_m3 = 20\n[[surfaces]]\nname = "all"\narea_m2 = 45\n'
    ...     'alpha = [0.1, 0.1, 0.1, 0.1, 0.1, 0.1]',
    ...     name="box.toml", materials=standard_materials())
    >>> room.volume_m3, room.surface_m2
    (20.0, 45.0)
    """
    return _Reader(parse_toml(text, name=name), name=name, materials=materials).room()


class _Reader:
    """Goes through a file once and gathers faults on the way, so that all are told together."""

    def __init__(self, document: _Table, *, name: str, materials: Materials) -> None:
        self._document = document
        self._name = name
        self._materials = materials
        self._problems: list[RoomirError] = []

    def room(self) -> Room:
        head = self._document.get("room")
        if not isinstance(head, dict):
            head = {}
            self._fault("room", "is missing", "begin the file with [room] and its dimensions_m or volume_m3")
        self._know(self._document, _TABLES, where="")
        self._know(head, _ROOM_KEYS, where="room.")
        dimensions_m = self._dimensions(head)
        volume_m3 = self._volume(head, dimensions_m=dimensions_m)
        temperature_c = self._temperature(head)
        humidity = self._number(head, "humidity_percent", where="room.", low=1.0, high=100.0, default=50.0)
        surfaces = self._surfaces()
        furnishings = [
            one
            for i, row in enumerate(self._rows("furnishings"), start=1)
            if (one := self._furnishing(row, where=f"furnishings[{i}]."))
        ]
        on_hand = [
            panels
            for i, row in enumerate(self._rows("on_hand"), start=1)
            if (panels := self._on_hand(row, where=f"on_hand[{i}]."))
        ]
        if self._problems:
            raise BadFileError(self._problems, name=self._name)
        assert volume_m3 is not None
        return Room(
            name=str(head.get("name", Path(self._name).stem)),
            volume_m3=volume_m3,
            dimensions_m=dimensions_m,
            temperature_c=temperature_c,
            humidity_percent=humidity,
            surfaces=tuple(surfaces),
            furnishings=tuple(furnishings),
            on_hand=tuple(on_hand),
            remarks=(
                *_assumptions(head),
                *area_remarks(surfaces, volume_m3=volume_m3, dimensions_m=dimensions_m),
            ),
        )

    # -------------------------------------------------------------- size and climate

    def _dimensions(self, head: _Table) -> tuple[float, float, float] | None:
        key = "dimensions_m" if "dimensions_m" in head else "dimensions"
        value = head.get(key)
        if value is None:
            return None
        remedy = 'write dimensions_m = [3.2, 2.6, 2.5] or dimensions = ["12 ft 6 in", "10 ft", "8 ft"]'
        if isinstance(value, str):
            return self._parsed(parse_dimensions_m, value, key=f"room.{key}")
        if not isinstance(value, list) or len(value) != 3:
            self._fault(f"room.{key}", "is not three lengths", remedy)
            return None
        lengths = []
        for one in value:
            text = one if isinstance(one, str) else repr(one)
            if not isinstance(one, str) and not is_number(one):
                self._fault(f"room.{key}", f"holds {one!r}, which is no length", remedy)
                return None
            length_m = self._parsed(parse_length_m, text, key=f"room.{key}")
            if length_m is None:
                return None
            if not 0.5 <= length_m <= 100.0:
                self._fault(f"room.{key}", f"holds {length_m:g} m, which no room is", "check the unit")
                return None
            lengths.append(length_m)
        return (lengths[0], lengths[1], lengths[2])

    def _volume(self, head: _Table, *, dimensions_m: tuple[float, float, float] | None) -> float | None:
        key = "volume_m3" if "volume_m3" in head else "volume"
        value = head.get(key)
        of_box = None if dimensions_m is None else math.prod(dimensions_m)
        if value is None:
            if of_box is None and not any(k in head for k in ("dimensions_m", "dimensions")):
                self._fault("room.dimensions_m", "is missing", "give dimensions_m or volume_m3")
            return of_box
        given = self._parsed(
            parse_volume_m3, value if isinstance(value, str) else repr(value), key=f"room.{key}"
        )
        if given is not None and of_box is not None and abs(given / of_box - 1.0) > 0.02:
            self._fault(
                f"room.{key}",
                f"is {given:g} m3, but the dimensions make {of_box:g} m3",
                "leave one of them out",
            )
        return given if of_box is None else of_box

    def _temperature(self, head: _Table) -> float:
        if "temperature_f" in head:
            fahrenheit = self._number(head, "temperature_f", where="room.", low=0.0, high=120.0, default=68.0)
            return (fahrenheit - 32.0) / 1.8
        return self._number(head, "temperature_c", where="room.", low=-20.0, high=50.0, default=20.0)

    # -------------------------------------------------------------- surfaces

    def _surfaces(self) -> list[Surface]:
        rows = self._rows("surfaces")
        if not rows and "surfaces" not in self._document:
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

    def _surface(self, row: _Table, *, number: int) -> Surface | None:
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
            if (part := self._patch(one, where=f"{where}parts[{k}]."))
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
        patches = list(parts) if no_ground and parts else None
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
            keep_live=bool(row.get("keep_live", False)),
        )

    def _patch(self, row: _Table, *, where: str) -> Patch | None:
        self._know(row, _PART_KEYS, where=where)
        area_m2 = self._area(row, "area", where=where)
        return None if area_m2 is None else self._absorbs(row, area_m2=area_m2, where=where)

    def _absorbs(self, row: _Table, *, area_m2: float, where: str) -> Patch | None:
        spread = self._optional(row, "spread_percent", where=where)
        if "alpha" in row:
            if "material" in row:
                self._fault(f"{where}alpha", "stands beside a material", "give material or alpha, not both")
            six = self._parsed(lambda v: six_values(v, key=f"{where}alpha"), row["alpha"], key="")
            if six is None:
                return None
            outer = [self._optional(row, key, where=where) for key in ("alpha_63hz", "alpha_8khz")]
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

    def _material(self, row: _Table, *, where: str) -> Material | None:
        name = row.get("material")
        if not isinstance(name, str):
            what = "is missing" if name is None else "is no text"
            self._fault(f"{where}material", what, 'give material = "..." or alpha = [six values]')
            return None
        return self._parsed(self._materials.get, name, key=f"{where}material")

    # -------------------------------------------------------------- things and panels

    def _furnishing(self, row: _Table, *, where: str) -> Furnishing | None:
        self._know(row, _FURNISHING_KEYS, where=where)
        count = self._number(row, "count", where=where, low=0.0, high=10_000.0, default=1.0)
        spread = self._optional(row, "spread_percent", where=where)
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

    def _on_hand(self, row: _Table, *, where: str) -> tuple[str, int] | None:
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

    # -------------------------------------------------------------- single values

    def _rows(self, key: str, *, of: _Table | None = None, where: str = "") -> list[_Table]:
        rows = (self._document if of is None else of).get(key, [])
        if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
            self._fault(f"{where}{key}", "is no list of tables", f"begin each with [[{key}]]")
            return []
        return rows

    def _area(self, row: _Table, stem: str, *, where: str, needed: bool = True) -> float | None:
        key = f"{stem}_m2" if f"{stem}_m2" in row else stem
        value = row.get(key)
        if value is None:
            if needed:
                self._fault(
                    f"{where}{stem}_m2", "is missing", f'write {stem}_m2 = 8.3 or {stem} = "90 sq ft"'
                )
            return None
        if isinstance(value, bool) or not isinstance(value, str | int | float):
            self._fault(
                f"{where}{key}", f"is {value!r}, no area", f'write {stem}_m2 = 8.3 or {stem} = "90 sq ft"'
            )
            return None
        return self._parsed(
            parse_area_m2, value if isinstance(value, str) else repr(value), key=f"{where}{key}"
        )

    def _optional(self, row: _Table, key: str, *, where: str) -> float | None:
        if key not in row:
            return None
        return self._number(row, key, where=where, low=0.0, high=1e6, default=0.0)

    def _number(self, row: _Table, key: str, *, where: str, low: float, high: float, default: float) -> float:
        value = row.get(key, default)
        if not is_number(value) or not low <= value <= high:
            self._fault(f"{where}{key}", f"is {value!r}", f"write a number from {low:g} to {high:g}")
            return default
        return float(value)

    def _parsed(self, parse: Callable[[_Value], _Result], value: _Value, *, key: str) -> _Result | None:
        try:
            return parse(value)
        except ParameterError as error:
            says = f"{key}: {error.says}" if key else error.says
            self._problems.append(RoomirError(says, code=error.code, remedy=error.remedy))
            return None

    def _know(self, row: _Table, keys: set[str], *, where: str) -> None:
        for key in sorted(set(row) - keys):
            self._fault(f"{where}{key}", "is not known here", f"the keys are {', '.join(sorted(keys))}")

    def _fault(self, key: str, what: str, remedy: str) -> None:
        self._problems.append(RoomirError(f"{key} {what}", code="bad-room", remedy=remedy))


def _assumptions(head: _Table) -> list[Remark]:
    if {"temperature_c", "temperature_f"} & set(head) and "humidity_percent" in head:
        return []
    return [
        Remark(
            code="climate-assumed",
            says="temperature or humidity is not given; 20 degC and 50 % are taken",
            remedy="measure both and write temperature_c and humidity_percent: it matters from 2 kHz up",
        )
    ]
