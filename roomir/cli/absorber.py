"""``roomir absorber`` and ``roomir diffuser``: what to build, worked out from first principles."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from roomir import api, planning
from roomir.cli import show
from roomir.cli.options import DebugOption
from roomir.errors import ParameterError
from roomir.units import parse_area_m2, parse_length_m

if TYPE_CHECKING:
    from roomir.rooms.absorbers.design import Design

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None)

Json = Annotated[bool, typer.Option("--json", help="Print it as JSON and nothing else.")]
Figure = Annotated[
    Path | None,
    typer.Option("--figure", metavar="FILE", help="Also draw it; FILE ends in .png, .svg or .pdf."),
]
Name = Annotated[str, typer.Option("--name", help="What to call it; made of its figures if left out.")]
Save = Annotated[
    Path | None,
    typer.Option("--save", metavar="FILE", help="Add it to this table of your own materials (TOML)."),
]
Panel = Annotated[str, typer.Option("--panel", metavar="AREA", help="Area of one panel, for --save.")]
Weight = Annotated[
    float | None, typer.Option("--weight", metavar="KG", help="Weight per m2, for --save. [kg/m2]")
]
Resistivity = Annotated[
    float | None, typer.Option("--flow-resistivity", metavar="SIGMA", help="Of the wool or foam. [N s/m4]")
]
Depth = Annotated[str, typer.Option("--depth", metavar="LENGTH", help="Depth of the cavity: 100 mm or 4 in.")]
Fill = Annotated[
    str | None, typer.Option("--fill", metavar="LENGTH", help="Thickness of the wool in the cavity.")
]


@app.callback()
def _absorber() -> None:
    """Work out an absorber from first principles: how much, at which frequencies, and where that holds."""


@app.command("porous")
def porous(
    *,
    thickness: Annotated[str, typer.Option(metavar="LENGTH", help="Thickness: 50 mm or 2 in.")],
    flow_resistivity: Annotated[
        float, typer.Option("--flow-resistivity", metavar="SIGMA", help="Flow resistivity. [N s/m4]")
    ],
    gap: Annotated[str | None, typer.Option(metavar="LENGTH", help="Air between it and the wall.")] = None,
    model: Annotated[str, typer.Option(help="miki or delany-bazley.")] = "miki",
    name: Name = "",
    save: Save = None,
    panel: Panel = "0.72",
    weight: Weight = None,
    as_json: Json = False,
    figure: Figure = None,
    debug: DebugOption = False,
) -> None:
    """Wool or foam on a wall, with or without air behind it."""
    del debug  # main() looks for it where every error ends up.
    design = planning.porous_absorber(
        thickness_m=parse_length_m(thickness),
        flow_resistivity=flow_resistivity,
        gap_m=0.0 if gap is None else parse_length_m(gap),
        model=model,
        name=name,
    )
    _finish(design, as_json=as_json, figure=figure, save=save, panel=panel, weight=weight)


@app.command("perforated")
def perforated(
    *,
    sheet: Annotated[str, typer.Option(metavar="LENGTH", help="Thickness of the sheet: 12 mm.")],
    hole: Annotated[str, typer.Option(metavar="LENGTH", help="Diameter of a hole: 8 mm.")],
    spacing: Annotated[str, typer.Option(metavar="LENGTH", help="From centre to centre: 25 mm.")],
    depth: Depth,
    staggered: Annotated[bool, typer.Option("--staggered", help="Holes in triangles, not squares.")] = False,
    fill: Fill = None,
    flow_resistivity: Resistivity = None,
    name: Name = "",
    save: Save = None,
    panel: Panel = "0.72",
    weight: Weight = None,
    as_json: Json = False,
    figure: Figure = None,
    debug: DebugOption = False,
) -> None:
    """A hard sheet with round holes before a cavity."""
    del debug  # main() looks for it where every error ends up.
    design = planning.perforated_absorber(
        thickness_m=parse_length_m(sheet),
        hole_m=parse_length_m(hole),
        spacing_m=parse_length_m(spacing),
        staggered=staggered,
        depth_m=parse_length_m(depth),
        fill_m=0.0 if fill is None else parse_length_m(fill),
        flow_resistivity=flow_resistivity,
        name=name,
    )
    _finish(design, as_json=as_json, figure=figure, save=save, panel=panel, weight=weight)


@app.command("slotted")
def slotted(
    *,
    sheet: Annotated[str, typer.Option(metavar="LENGTH", help="Thickness of the slats: 20 mm.")],
    slot: Annotated[str, typer.Option(metavar="LENGTH", help="Width of a slot: 5 mm.")],
    spacing: Annotated[str, typer.Option(metavar="LENGTH", help="From slot to slot: 75 mm.")],
    depth: Depth,
    fill: Fill = None,
    flow_resistivity: Resistivity = None,
    name: Name = "",
    save: Save = None,
    panel: Panel = "0.72",
    weight: Weight = None,
    as_json: Json = False,
    figure: Figure = None,
    debug: DebugOption = False,
) -> None:
    """Slats with gaps before a cavity."""
    del debug  # main() looks for it where every error ends up.
    design = planning.slotted_absorber(
        thickness_m=parse_length_m(sheet),
        slot_m=parse_length_m(slot),
        spacing_m=parse_length_m(spacing),
        depth_m=parse_length_m(depth),
        fill_m=0.0 if fill is None else parse_length_m(fill),
        flow_resistivity=flow_resistivity,
        name=name,
    )
    _finish(design, as_json=as_json, figure=figure, save=save, panel=panel, weight=weight)


@app.command("membrane")
def membrane(
    *,
    mass: Annotated[float, typer.Option(metavar="KG", help="Mass of the board or sheet per m2. [kg/m2]")],
    depth: Depth,
    fill: Fill = None,
    flow_resistivity: Resistivity = None,
    name: Name = "",
    save: Save = None,
    panel: Panel = "0.72",
    weight: Weight = None,
    as_json: Json = False,
    figure: Figure = None,
    debug: DebugOption = False,
) -> None:
    """A thin board or limp sheet on battens: bass."""
    del debug  # main() looks for it where every error ends up.
    design = planning.membrane_absorber(
        mass_kg_per_m2=mass,
        depth_m=parse_length_m(depth),
        fill_m=0.0 if fill is None else parse_length_m(fill),
        flow_resistivity=flow_resistivity,
        name=name,
    )
    _finish(design, as_json=as_json, figure=figure, save=save, panel=panel, weight=weight)


@app.command("helmholtz")
def helmholtz(
    *,
    neck_area: Annotated[str, typer.Option(metavar="AREA", help="Area of the neck: 0.001 (m2).")],
    neck_length: Annotated[str, typer.Option(metavar="LENGTH", help="Length of the neck: 50 mm.")],
    volume: Annotated[float, typer.Option(metavar="LITRES", help="Volume behind it. [l]")],
    front: Annotated[
        str | None,
        typer.Option(metavar="AREA", help="Front of each box, many side by side: 0.1 (m2). For a panel."),
    ] = None,
    fill: Fill = None,
    flow_resistivity: Resistivity = None,
    name: Name = "",
    save: Save = None,
    panel: Panel = "0.72",
    weight: Weight = None,
    as_json: Json = False,
    figure: Figure = None,
    debug: DebugOption = False,
) -> None:
    """A bottle: a neck before a volume, for one frequency; with --front, boxes of them side by side."""
    del debug  # main() looks for it where every error ends up.
    from roomir.report.planning.absorbers import helmholtz_json, helmholtz_text

    bottle = planning.helmholtz_absorber(
        neck_m2=parse_area_m2(neck_area), neck_m=parse_length_m(neck_length), volume_m3=volume / 1000.0
    )
    if front is not None:
        boxes = planning.helmholtz_boxes(
            bottle,
            front_m2=parse_area_m2(front),
            fill_m=0.0 if fill is None else parse_length_m(fill),
            flow_resistivity=flow_resistivity,
            name=name,
        )
        _finish(boxes, as_json=as_json, figure=figure, save=save, panel=panel, weight=weight)
        return
    if save is not None or figure is not None:
        raise ParameterError(
            "one resonator has an area and no coefficient that a curve or a table could hold",
            code="no-front",
            remedy="give --front, the front of each of many boxes side by side",
        )
    show.out(helmholtz_json(bottle) + "\n" if as_json else helmholtz_text(bottle))


def diffuser(
    *,
    wells: Annotated[int, typer.Option(metavar="N", help="Wells a period: 7, 11, 13 or 17.")],
    design_hz: Annotated[float, typer.Option("--design-hz", metavar="HZ", help="Frequency it is built for.")],
    well: Annotated[str, typer.Option("--well", metavar="LENGTH", help="Clear width of a well: 50 mm.")],
    fin: Annotated[str, typer.Option("--fin", metavar="LENGTH", help="Thickness of the fins.")] = "4 mm",
    height: Annotated[str, typer.Option("--height", metavar="LENGTH", help="Length of wells.")] = "600 mm",
    board: Annotated[
        str, typer.Option("--board", metavar="LENGTH", help="Thickness of the board.")
    ] = "12 mm",
    periods: Annotated[int, typer.Option(min=1, max=50, help="Periods side by side.")] = 1,
    as_json: Json = False,
    figure: Figure = None,
    debug: DebugOption = False,
) -> None:
    """Work out a quadratic-residue diffuser: depths, limits, a cutting list and a drawing."""
    del debug  # main() looks for it where every error ends up.
    from roomir.report.planning.absorbers import diffuser_json, diffuser_text

    if figure is not None:
        api.figure_format(figure)
    made, cuts = planning.diffuser(
        n_wells=wells,
        design_hz=design_hz,
        well_m=parse_length_m(well),
        fin_m=parse_length_m(fin),
        height_m=parse_length_m(height),
        board_m=parse_length_m(board),
        periods=periods,
    )
    show.out(diffuser_json(made, cuts) + "\n" if as_json else diffuser_text(made, cuts))
    if figure is not None:
        show.silence_matplotlib()
        api.save_figure(planning.diffuser_figure(made), figure)


def _finish(
    design: Design,
    *,
    as_json: bool,
    figure: Path | None,
    save: Path | None,
    panel: str,
    weight: float | None,
) -> None:
    from roomir.report.planning.absorbers import design_json, design_text

    if figure is not None:
        api.figure_format(figure)
    if save is not None:
        if weight is None:
            raise ParameterError(
                "a panel in a table needs its weight", code="no-weight", remedy="give --weight in kg/m2"
            )
        planning.save_absorber(design, save, panel_m2=parse_area_m2(panel), weight_kg_per_m2=weight)
    show.out(design_json(design) + "\n" if as_json else design_text(design))
    if figure is not None:
        show.silence_matplotlib()
        api.save_figure(planning.design_figure(design), figure)
