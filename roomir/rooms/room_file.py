"""From a room file (TOML) to a room, with every fault named by its key.

The form stands in README under "Describing a room".
"""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

from roomir.errors import ParameterError
from roomir.remarks import Remark
from roomir.rooms.description import Room, area_remarks
from roomir.rooms.file_rows import Table
from roomir.rooms.materials import (
    BadFileError,
    Materials,
    is_number,
    load_materials,
    parse_toml,
    read_text,
)
from roomir.rooms.room_parts import RoomParts
from roomir.rooms.room_stages import REMEDY, stage_names
from roomir.units import parse_dimensions_m, parse_length_m, parse_volume_m3

_ROOM_KEYS = {
    *("name", "dimensions_m", "dimensions", "volume_m3", "volume"),
    *("temperature_c", "temperature_f", "humidity_percent", "materials", "stages", "note"),
}
_TABLES = {"room", "surfaces", "furnishings", "on_hand"}


def load_room(
    path: Path, *, materials: Path | None = None, stage: str | None = None
) -> tuple[Room, Materials]:
    """Load a room file.

    Parameters
    ----------
    path : Path
        The file.
    materials : Path, optional
        A table of the user's own; else the one that the room file names, beside it.
    stage : str, optional
        A stage that the file names; the last one if left out.

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
    return parse_room(text, name=path.name, materials=table, stage=stage), table


def parse_room(text: str, *, name: str, materials: Materials, stage: str | None = None) -> Room:
    r"""Make a room of the text of its file.

    Parameters
    ----------
    text : str
        TOML.
    name : str
        What the file is called.
    materials : Materials
        Where names are looked up.
    stage : str, optional
        A stage that the file names; the last one if left out.

    Raises
    ------
    BadFileError
        With every fault, each naming its key.
    ParameterError
        ``stage-not-described`` if the file does not name the stage.

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
    return _Reader(parse_toml(text, name=name), name=name, materials=materials).room(stage)


class _Reader(RoomParts):
    """Goes through a file once for each stage."""

    def room(self, stage: str | None) -> Room:
        head = self._document.get("room")
        if not isinstance(head, dict):
            head = {}
            self._fault("room", "is missing", "begin the file with [room] and its dimensions_m or volume_m3")
        self._know(self._document, _TABLES, where="")
        self._know(head, _ROOM_KEYS, where="room.")
        if not isinstance(head.get("materials", ""), str):
            self._fault("room.materials", "is no text", 'name a file: materials = "my-materials.toml"')
        stages = stage_names(head)
        if stages is None:
            self._fault("room.stages", "is no list of names, each other than the rest", REMEDY)
        self._stages = stages or ()
        # The last stage first: what is wrong everywhere is told once.
        rooms: list[Room] = []
        for at in reversed(range(max(len(self._stages), 1))):
            self._at = at
            rooms.insert(0, self._in_stage(head))
        found = self._place(stage)
        return replace(rooms[found], earlier=tuple(rooms[:found]))

    def _place(self, stage: str | None) -> int:
        if stage is None:
            return max(len(self._stages) - 1, 0)
        for i, name in enumerate(self._stages):
            if name.casefold() == stage.casefold():
                return i
        raise ParameterError(
            f"{self._name} names no stage {stage}",
            code="stage-not-described",
            remedy=f"it names {', '.join(self._stages)}" if self._stages else REMEDY,
        )

    def _in_stage(self, head: Table) -> Room:
        dimensions_m = self._dimensions(head)
        volume_m3 = self._volume(head, dimensions_m=dimensions_m)
        temperature_c = self._temperature(head)
        humidity = self._number(head, "humidity_percent", where="room.", low=1.0, high=100.0, default=50.0)
        surfaces = self._surfaces()
        furnishings = [
            one
            for i, row in enumerate(self._rows("furnishings"), start=1)
            if (one := self._furnishing(row, where=f"furnishings[{i}].")) and self._there(row)
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
            stage=self._stages[self._at] if self._stages else "",
        )

    # -------------------------------------------------------------- size and climate

    def _dimensions(self, head: Table) -> tuple[float, float, float] | None:
        key = self._one_of(head, "dimensions_m", "dimensions", where="room.")
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
            if not 0.1 <= length_m <= 100.0:
                self._fault(f"room.{key}", f"holds {length_m:g} m, which no room is", "check the unit")
                return None
            lengths.append(length_m)
        return (lengths[0], lengths[1], lengths[2])

    def _volume(self, head: Table, *, dimensions_m: tuple[float, float, float] | None) -> float | None:
        key = self._one_of(head, "volume_m3", "volume", where="room.")
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

    def _temperature(self, head: Table) -> float:
        if self._one_of(head, "temperature_f", "temperature_c", where="room.") == "temperature_f":
            fahrenheit = self._number(head, "temperature_f", where="room.", low=0.0, high=120.0, default=68.0)
            return (fahrenheit - 32.0) / 1.8
        return self._number(head, "temperature_c", where="room.", low=-20.0, high=50.0, default=20.0)


def _assumptions(head: Table) -> list[Remark]:
    if {"temperature_c", "temperature_f"} & set(head) and "humidity_percent" in head:
        return []
    return [
        Remark(
            code="climate-assumed",
            says="temperature or humidity is not given; 20 degC and 50 % are taken",
            remedy="measure both and write temperature_c and humidity_percent: it matters from 2 kHz up",
        )
    ]
