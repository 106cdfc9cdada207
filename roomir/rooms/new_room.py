"""Writing a room file from a few answers."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field

from roomir.rooms.materials import Materials


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """What somebody knows about a box room.

    Attributes
    ----------
    name : str
        What it is called.
    dimensions_m : (float, float, float)
        Length, width, height. [m]
    floor, ceiling, walls : str
        Materials.
    of_wall : mapping of str to str
        Materials of walls that differ from the others, by their names in `WALLS`.
    door_m2, window_m2 : float
        Area of the door in the first wall and of the windows in the second. [m2]
    door, window : str
        Their materials.
    temperature_c, humidity_percent : float
        Climate. [degC, %]
    """

    name: str
    dimensions_m: tuple[float, float, float]
    floor: str
    ceiling: str
    walls: str
    door_m2: float = 0.0
    window_m2: float = 0.0
    door: str = "solid wooden door"
    window: str = "window glass, ordinary"
    temperature_c: float = 20.0
    humidity_percent: float = 50.0
    of_wall: Mapping[str, str] = field(default_factory=dict)


WALLS = (("west wall", "x"), ("east wall", "x"), ("south wall", "y"), ("north wall", "y"))
"""The walls of a box: west and east end the length, south and north the width."""


def room_text(answers: Answers, *, materials: Materials) -> str:
    """Write the text of a room file.

    Parameters
    ----------
    answers : Answers
        A box.
    materials : Materials
        Where the names are looked up.

    Returns
    -------
    str
        TOML that :func:`roomir.rooms.room_file.parse_room` reads.

    Raises
    ------
    ParameterError
        If a material is unknown.
    """
    length_m, width_m, height_m = answers.dimensions_m
    name_of = {word: materials.get(word).name for word in (answers.floor, answers.ceiling, answers.walls)}
    wall_m2 = {"x": width_m * height_m, "y": length_m * height_m}
    lines = [
        "# Written by `roomir room new`; edit it freely. README, Describing a room, has every key.",
        "[room]",
        f"name = {_quoted(answers.name)}",
        f"dimensions_m = [{', '.join(f'{m:.6g}' for m in answers.dimensions_m)}]  # length, width, height",
        f"temperature_c = {answers.temperature_c:g}",
        f"humidity_percent = {answers.humidity_percent:g}",
    ]
    for name, axis in WALLS:
        material = answers.of_wall.get(name)
        own = name_of[answers.walls] if material is None else materials.get(material).name
        lines += _surface(name, wall_m2[axis], axis, own)
        if name == "west wall" and answers.door_m2 > 0.0:
            lines += _part("door", answers.door_m2, materials.get(answers.door).name)
        if name == "south wall" and answers.window_m2 > 0.0:
            lines += _part("window", answers.window_m2, materials.get(answers.window).name)
    lines += _surface("floor", length_m * width_m, "z", name_of[answers.floor])
    lines += _surface("ceiling", length_m * width_m, "z", name_of[answers.ceiling])
    return "\n".join(lines) + "\n"


def _surface(name: str, area_m2: float, facing: str, material: str) -> list[str]:
    return [
        "",
        "[[surfaces]]",
        f"name = {_quoted(name)}",
        f"area_m2 = {area_m2:.6g}",
        f'facing = "{facing}"',
        f"material = {_quoted(material)}",
    ]


def _part(name: str, area_m2: float, material: str) -> list[str]:
    return [
        "[[surfaces.parts]]",
        f"name = {_quoted(name)}",
        f"area_m2 = {area_m2:.6g}",
        f"material = {_quoted(material)}",
    ]


def _quoted(text: str) -> str:
    # JSON's way of writing a text is one of TOML's.
    return json.dumps(text, ensure_ascii=False)
