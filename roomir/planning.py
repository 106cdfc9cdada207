"""The planner's front door: where room files, tables, arithmetic and reports meet."""

from __future__ import annotations

import os
import secrets
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from roomir.errors import ParameterError, RoomirError

if TYPE_CHECKING:  # they need numpy, which `roomir --help` does not
    from matplotlib.figure import Figure

    from roomir.plan.propose import Proposal, Window
    from roomir.rooms.absorbers.design import Design
    from roomir.rooms.absorbers.diffuser import Cut, Diffuser
    from roomir.rooms.absorbers.resonators import Helmholtz
    from roomir.rooms.description import Room
    from roomir.rooms.materials import Material, Materials
    from roomir.rooms.prediction import Prediction

FilePath = str | os.PathLike[str]


def load_room(room: FilePath, *, materials: FilePath | None = None) -> tuple[Room, Materials]:
    """Load the room that somebody names.

    Parameters
    ----------
    room : path
        A room file; its name ends in ``.toml``.
    materials : path, optional
        A table of materials of the user's own.

    Returns
    -------
    Room
        As described, with remarks on gaps and overlaps.
    Materials
        The table that its names come from.

    Raises
    ------
    RoomirError
        If a file is missing or wrong; every fault names its key.
    """
    from roomir.rooms.room_file import load_room as load

    path = Path(room)
    if path.suffix.lower() != ".toml":
        raise ParameterError(
            f"{path} is no room file",
            code="no-such-room",
            remedy="name a file that ends in .toml; `roomir room new` writes one",
        )
    return load(path, materials=None if materials is None else Path(materials))


def predict(room: FilePath, *, materials: FilePath | None = None, with_air: bool = True) -> Prediction:
    """Predict what a described room will read.

    Parameters
    ----------
    room, materials : path
        As for :func:`load_room`.
    with_air : bool, default True
        Whether the air absorbs as well.

    Returns
    -------
    Prediction
        Five formulas per band, the one that applies, and its interval.
    """
    from roomir.rooms.prediction import predict as work_out

    described, _ = load_room(room, materials=materials)
    return work_out(described, with_air=with_air)


def load_materials(path: FilePath | None = None) -> Materials:
    """Load the table of materials, with the user's own over it."""
    from roomir.rooms.materials import load_materials as load

    return load(None if path is None else Path(path))


def find_materials(words: Sequence[str], *, materials: FilePath | None = None) -> list[Material]:
    """Find materials whose name, mounting or source has every word.

    Examples
    --------
    >>> [one.name for one in find_materials(["parquet"])]
    ['parquet on concrete']
    """
    wanted = [word.casefold() for word in words]
    return [
        row
        for row in load_materials(materials)
        if all(word in f"{row.name} {row.mounting} {row.source}".casefold() for word in wanted)
    ]


def write_new_room(
    path: FilePath,
    *,
    name: str,
    dimensions_m: tuple[float, float, float],
    floor: str,
    ceiling: str,
    walls: str,
    door_m2: float = 0.0,
    window_m2: float = 0.0,
    materials: Materials,
) -> None:
    """Write a room file for a box.

    Parameters
    ----------
    path : path
        Where it goes; its name ends in ``.toml``.
    name : str
        What the room is called.
    dimensions_m : (float, float, float)
        Length, width, height. [m]
    floor, ceiling, walls : str
        Materials.
    door_m2, window_m2 : float, default 0
        Areas cut out of the walls. [m2]
    materials : Materials
        Where the names are looked up.

    Raises
    ------
    RoomirError
        If a material is unknown, an opening does not fit, or the file cannot be written.
    """
    from roomir.rooms.new_room import Answers, room_text
    from roomir.rooms.room_file import parse_room

    target = Path(path)
    if target.suffix.lower() != ".toml":
        raise ParameterError(
            f"{target} is no name for a room file", code="no-such-room", remedy="let it end in .toml"
        )
    answers = Answers(
        name=name,
        dimensions_m=dimensions_m,
        floor=floor,
        ceiling=ceiling,
        walls=walls,
        door_m2=door_m2,
        window_m2=window_m2,
    )
    text = room_text(answers, materials=materials)
    parse_room(text, name=target.name, materials=materials)  # an opening larger than its wall is told now
    write_whole(target, text.encode("utf-8"))


def write_whole(target: Path, content: bytes) -> None:
    """Write a file whole or not at all.

    Raises
    ------
    RoomirError
        If it cannot be written.
    """
    unfinished = target.with_name(f".roomir-{secrets.token_hex(8)}")
    try:
        try:
            with unfinished.open("xb") as file:
                file.write(content)
            unfinished.replace(target)
        finally:
            unfinished.unlink(missing_ok=True)
    except (OSError, ValueError) as error:  # a ValueError is a name that no file can have
        raise RoomirError(
            f"{target} cannot be written: {getattr(error, 'strerror', None) or error}",
            code="cannot-write",
            remedy="name a file in a folder you may write to",
        ) from error


def treat(
    room: FilePath,
    *,
    target: str,
    turned_target: str | None = None,
    least: str = "area",
    absorbers: Sequence[str] = (),
    keep: Sequence[str] = (),
    prices: Mapping[str, float] | None = None,
    materials: FilePath | None = None,
) -> Proposal:
    """Propose what to hang so that a room meets a target.

    Parameters
    ----------
    room, materials : path
        As for :func:`load_room`.
    target : str
        A name that ``roomir targets`` lists, seconds as in ``0.2-0.3``, or a TOML file.
    turned_target : str, optional
        A second one, to be met by the same panels turned round.
    least : str, default "area"
        ``"area"``, ``"cost"`` or ``"count"``.
    absorbers : sequence of str
        Materials to choose from; every panel in the table where empty.
    keep : sequence of str
        Surfaces to leave alone.
    prices : mapping of str to float, optional
        Prices per m2 by material.

    Returns
    -------
    Proposal
        The least that meets the target, or the nearest.

    Raises
    ------
    RoomirError
        If the room, a material or the target is wrong.
    """
    from roomir.plan.propose import Wishes, propose
    from roomir.plan.treatment import absorbers_of

    described, table = load_room(room, materials=materials)
    _check_surfaces(described, keep)
    wishes = Wishes(
        absorbers=tuple(
            _panels(absorbers_of(table, absorbers), two_sided=turned_target is not None, table=table)
        ),
        measure=least,
        keep=tuple(keep),
        prices=prices,
    )
    return propose(
        described,
        window_of(target, described),
        wishes,
        materials=table,
        turned_window=None if turned_target is None else window_of(turned_target, described),
    )


def _panels(chosen: list[Material], *, two_sided: bool, table: Materials) -> list[Material]:
    for one in chosen:
        if one.panel is None:
            raise ParameterError(
                f'"{one.name}" is no panel',
                code="no-panel",
                remedy="give it panel_m2, kind, thickness_mm and weight_kg_per_m2 in a table of your own",
            )
    if two_sided and not any(one.panel and one.panel.reverse for one in chosen):
        chosen += [row for row in table if row.panel is not None and row.panel.reverse]
    return chosen


def _check_surfaces(room: Room, names: Sequence[str]) -> None:
    known = {surface.name.casefold() for surface in room.surfaces}
    for name in names:
        if name.casefold() not in known:
            raise ParameterError(
                f'the room has no surface called "{name}"',
                code="no-such-surface",
                remedy=f"it has {', '.join(surface.name for surface in room.surfaces)}",
            )


def window_of(target: str, room: Room) -> Window:
    """Find a target and what it asks of each octave in a room of this volume.

    Raises
    ------
    ParameterError
        If there is no such target.
    """
    import numpy as np

    from roomir.bands.band import OCTAVES
    from roomir.plan.propose import SIX, Window
    from roomir.rooms.targets import find_target

    found = find_target(target)
    limits = [found.limits(OCTAVES[i], volume_m3=room.volume_m3) for i in SIX]
    return Window(
        name=found.name,
        low_s=np.array([0.0 if one is None or one.least_s is None else one.least_s for one in limits]),
        high_s=np.array([np.inf if one is None or one.most_s is None else one.most_s for one in limits]),
    )


def proposal_figure(proposal: Proposal) -> Figure:
    """Draw a proposal."""
    from roomir.report.figures.proposal import proposal_figure as draw

    return draw(proposal)


# ------------------------------------------------------------------ absorbers and diffusers


def porous_absorber(
    *, thickness_m: float, flow_resistivity: float, gap_m: float = 0.0, model: str = "miki", name: str = ""
) -> Design:
    """Work out a porous layer; see :func:`roomir.rooms.absorbers.design.porous_design`."""
    from roomir.rooms.absorbers.design import porous_design

    return porous_design(
        thickness_m=thickness_m, flow_resistivity=flow_resistivity, gap_m=gap_m, model=model, name=name
    )


def perforated_absorber(
    *,
    thickness_m: float,
    hole_m: float,
    spacing_m: float,
    depth_m: float,
    staggered: bool = False,
    fill_m: float = 0.0,
    flow_resistivity: float | None = None,
    name: str = "",
) -> Design:
    """Work out a sheet with round holes before a cavity."""
    from roomir.rooms.absorbers.design import sheet_design
    from roomir.rooms.absorbers.resonators import Perforated

    sheet = Perforated(thickness_m=thickness_m, hole_m=hole_m, spacing_m=spacing_m, staggered=staggered)
    return sheet_design(sheet, depth_m=depth_m, fill_m=fill_m, flow_resistivity=flow_resistivity, name=name)


def slotted_absorber(
    *,
    thickness_m: float,
    slot_m: float,
    spacing_m: float,
    depth_m: float,
    fill_m: float = 0.0,
    flow_resistivity: float | None = None,
    name: str = "",
) -> Design:
    """Work out slats with gaps before a cavity."""
    from roomir.rooms.absorbers.design import sheet_design
    from roomir.rooms.absorbers.resonators import Slotted

    sheet = Slotted(thickness_m=thickness_m, slot_m=slot_m, spacing_m=spacing_m)
    return sheet_design(sheet, depth_m=depth_m, fill_m=fill_m, flow_resistivity=flow_resistivity, name=name)


def membrane_absorber(
    *,
    mass_kg_per_m2: float,
    depth_m: float,
    fill_m: float = 0.0,
    flow_resistivity: float | None = None,
    name: str = "",
) -> Design:
    """Work out a thin board or limp sheet before a cavity."""
    from roomir.rooms.absorbers.design import sheet_design
    from roomir.rooms.absorbers.resonators import Membrane

    sheet = Membrane(mass_kg_per_m2=mass_kg_per_m2)
    return sheet_design(sheet, depth_m=depth_m, fill_m=fill_m, flow_resistivity=flow_resistivity, name=name)


def helmholtz_absorber(*, neck_m2: float, neck_m: float, volume_m3: float) -> Helmholtz:
    """Work out a single resonator."""
    from roomir.rooms.absorbers.resonators import Helmholtz

    return Helmholtz(neck_m2=neck_m2, neck_m=neck_m, volume_m3=volume_m3)


def save_absorber(design: Design, path: FilePath, *, panel_m2: float, weight_kg_per_m2: float) -> None:
    """Add an absorber to a table of materials of one's own, which is made where there is none.

    Raises
    ------
    RoomirError
        If the table has that name already, is wrong, or cannot be written.
    """
    from roomir.rooms.absorbers.design import material_row
    from roomir.rooms.materials import parse_materials, read_text

    target = Path(path)
    before = read_text(target) if target.exists() else ""
    row = material_row(design, panel_m2=panel_m2, weight_kg_per_m2=weight_kg_per_m2)
    known = parse_materials(before, name=target.name, own=True) if before.strip() else []
    if any(one.name.casefold() == design.name.casefold() for one in known):
        raise ParameterError(
            f'{target} has a material called "{design.name}" already',
            code="name-taken",
            remedy="give another --name",
        )
    text = f"{before.rstrip()}\n\n{row}" if before.strip() else row
    parse_materials(text, name=target.name, own=True)
    write_whole(target, text.encode("utf-8"))


def diffuser(
    *,
    n_wells: int,
    design_hz: float,
    well_m: float,
    fin_m: float = 0.004,
    height_m: float = 0.6,
    board_m: float = 0.012,
    periods: int = 1,
) -> tuple[Diffuser, tuple[Cut, ...]]:
    """Work out a quadratic-residue diffuser and its cutting list."""
    from roomir.rooms.absorbers.diffuser import Diffuser, cutting_list

    made = Diffuser(
        n_wells=n_wells,
        design_hz=design_hz,
        well_m=well_m,
        fin_m=fin_m,
        height_m=height_m,
        periods=periods,
    )
    return made, cutting_list(made, board_m=board_m)


def design_figure(design: Design) -> Figure:
    """Draw an absorber's coefficients against frequency."""
    from roomir.report.figures.absorbers import design_figure as draw

    return draw(design)


def diffuser_figure(made: Diffuser) -> Figure:
    """Draw a diffuser from above."""
    from roomir.report.figures.absorbers import diffuser_figure as draw

    return draw(made)
