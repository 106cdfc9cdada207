"""Absorbers and diffusers from first principles."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from roomir.errors import ParameterError
from roomir.report.saving import FilePath, write_whole

if TYPE_CHECKING:  # they need numpy, which `roomir --help` does not
    from matplotlib.figure import Figure

    from roomir.rooms.absorbers.design import Design
    from roomir.rooms.absorbers.diffuser import Cut, Diffuser
    from roomir.rooms.absorbers.resonators import Helmholtz


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


def helmholtz_boxes(
    bottle: Helmholtz,
    *,
    front_m2: float,
    fill_m: float = 0.0,
    flow_resistivity: float | None = None,
    name: str = "",
) -> Design:
    """Work out a wall of resonators in boxes side by side, each with a front of so much."""
    from roomir.rooms.absorbers.design import sheet_design

    sheet, depth_m = bottle.side_by_side(front_m2=front_m2)
    return sheet_design(
        sheet,
        depth_m=depth_m,
        fill_m=fill_m,
        flow_resistivity=flow_resistivity,
        name=name or f"Helmholtz boxes {1000 * depth_m:.0f} mm deep, {bottle.resonance_hz():.0f} Hz",
    )


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
