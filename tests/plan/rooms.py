"""Rooms to plan in, made by hand. All invented."""

from __future__ import annotations

import numpy as np

from roomir.plan.propose import SIX, Window
from roomir.rooms.description import Room
from roomir.rooms.materials import standard_materials
from roomir.rooms.room_file import parse_room

TABLE = standard_materials()


def box_text(
    size_m=(5.0, 4.0, 2.8),
    *,
    walls="lime-cement plaster on masonry",
    floor="parquet on concrete",
    ceiling="lime-cement plaster on masonry",
    more="",
) -> str:
    """A box with one row per wall."""
    length, width, height = size_m
    surfaces = (
        ("west wall", "x", width * height, walls),
        ("east wall", "x", width * height, walls),
        ("south wall", "y", length * height, walls),
        ("north wall", "y", length * height, walls),
        ("floor", "z", length * width, floor),
        ("ceiling", "z", length * width, ceiling),
    )
    text = (
        f'[room]\nname = "room"\ndimensions_m = {list(size_m)}\ntemperature_c = 20\nhumidity_percent = 50\n'
    )
    for name, axis, area, material in surfaces:
        text += f'[[surfaces]]\nname = "{name}"\nfacing = "{axis}"\narea_m2 = {area}\n'
        text += (
            f"alpha = {list(material)}\n" if not isinstance(material, str) else f'material = "{material}"\n'
        )
    return text + more


def box(*args, **kwargs) -> Room:
    """The same, read."""
    return parse_room(box_text(*args, **kwargs), name="room.toml", materials=TABLE)


def window(low_s, high_s, *, name="test") -> Window:
    """The same limits in all six octaves, or one pair each."""
    low, high = (np.broadcast_to(np.asarray(one, dtype=float), (len(SIX),)).copy() for one in (low_s, high_s))
    return Window(name=name, low_s=low, high_s=high)
