"""An absorber worked out: coefficients per octave, where they hold, and a row for a table of materials."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomir.bands.band import OCTAVES
from roomir.errors import ParameterError
from roomir.remarks import Remark
from roomir.rooms.absorbers.layers import (
    SOUND_SPEED,
    VALID,
    AirGap,
    Layer,
    Porous,
    absorption,
    octave_values,
    random_absorption,
)
from roomir.rooms.absorbers.resonators import Membrane, Perforated, Slotted

Sheet = Perforated | Slotted | Membrane

_CURVE_HZ = np.geomspace(OCTAVES[0].low_hz, OCTAVES[-1].high_hz, 145)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Design:
    """An absorber from first principles.

    Attributes
    ----------
    name, kind : str
        What to call it, and how it works.
    normal, random : array, shape (8,)
        Mean coefficient over each octave from 63 Hz to 8 kHz, for sound from
        the front and in a diffuse field.
    valid : array of bool, shape (8,)
        Where the formulas hold.
    thickness_m : float
        From the wall to the front. [m]
    resonance_hz : float or None
        Of a sheet on its cavity, taken as empty. [Hz]
    frequency_hz, curve_normal, curve_random : array
        The same at single frequencies.
    mounting, source : str
        For a table of materials.
    remarks : tuple of Remark
        What to know about it.
    """

    name: str
    kind: str
    normal: NDArray[np.float64]
    random: NDArray[np.float64]
    valid: NDArray[np.bool_]
    thickness_m: float
    resonance_hz: float | None
    frequency_hz: NDArray[np.float64]
    curve_normal: NDArray[np.float64]
    curve_random: NDArray[np.float64]
    mounting: str
    source: str
    remarks: tuple[Remark, ...]


def porous_design(
    *, thickness_m: float, flow_resistivity: float, gap_m: float = 0.0, model: str = "miki", name: str = ""
) -> Design:
    """Work out a porous layer on a hard wall, with or without an air gap.

    Parameters
    ----------
    thickness_m, gap_m : float
        Of the layer; of the air behind it. [m]
    flow_resistivity : float
        Sigma. [N s/m4]
    model : str
        ``"miki"`` or ``"delany-bazley"``.
    name : str
        Made of the figures where empty.

    Examples
    --------
    >>> design = porous_design(thickness_m=0.05, flow_resistivity=10_000)
    >>> design.name
    'porous 50 mm, 10000 N s/m4'
    """
    layer = Porous(thickness_m=thickness_m, flow_resistivity=flow_resistivity, model=model)
    layers: list[Layer] = [AirGap(thickness_m=gap_m)] if gap_m > 0.0 else []
    words = f"porous {1000 * thickness_m:g} mm, {flow_resistivity:g} N s/m4"
    words += f", {1000 * gap_m:g} mm off the wall" if gap_m > 0.0 else ""
    return _design(
        [*layers, layer],
        name=name or words,
        kind="porous",
        thickness_m=thickness_m + gap_m,
        valid=layer.valid(np.array([band.exact_hz for band in OCTAVES])),
        withheld=model == "delany-bazley",
        source=f"worked out after {'Miki' if model == 'miki' else 'Delany and Bazley'}, diffuse field",
    )


def sheet_design(
    sheet: Sheet,
    *,
    depth_m: float,
    fill_m: float = 0.0,
    flow_resistivity: float | None = None,
    name: str = "",
) -> Design:
    """Work out a sheet in front of a cavity, which may be filled from the sheet backwards.

    Parameters
    ----------
    sheet : Perforated, Slotted or Membrane
        In front.
    depth_m : float
        Of the cavity. [m]
    fill_m : float, default 0
        Thickness of porous material in it. [m]
    flow_resistivity : float, optional
        Of that material. [N s/m4]
    name : str
        Made of the figures where empty.

    Raises
    ------
    ParameterError
        If the filling does not fit or has no flow resistivity.
    """
    if fill_m > depth_m:
        raise ParameterError(
            f"{1000 * fill_m:g} mm of filling do not fit into {1000 * depth_m:g} mm",
            code="bad-filling",
            remedy="make the cavity deeper or the filling thinner",
        )
    if fill_m > 0.0 and flow_resistivity is None:
        raise ParameterError(
            "the filling has no flow resistivity",
            code="bad-filling",
            remedy="give it in N s/m4; its sheet has it (common: 5000 to 30000)",
        )
    layers: list[Layer] = [AirGap(thickness_m=depth_m - fill_m)] if depth_m - fill_m > 1e-9 else []
    if fill_m > 0.0 and flow_resistivity is not None:
        layers.append(Porous(thickness_m=fill_m, flow_resistivity=flow_resistivity))
    resonance_hz = sheet.resonance_hz(depth_m)
    # Above, the cavity is deeper than a quarter wave, holes stand wider apart than half of one, or a board
    # bends by itself; below, nothing of this sort absorbs and what is left is the tail of the resonance.
    highest_hz = min(SOUND_SPEED / (4.0 * depth_m), _spacing_limit_hz(sheet), 4.0 * resonance_hz)
    exact_hz = np.array([band.exact_hz for band in OCTAVES])
    kind = {Perforated: "perforated", Slotted: "slotted", Membrane: "membrane"}[type(sheet)]
    filled = f", {1000 * fill_m:g} mm filled" if fill_m > 0.0 else ", empty"
    return _design(
        [*layers, sheet],
        name=name or f"{kind} panel, cavity {1000 * depth_m:g} mm{filled}, {resonance_hz:.0f} Hz",
        kind=kind,
        thickness_m=depth_m + getattr(sheet, "thickness_m", 0.005),
        valid=(exact_hz >= resonance_hz / 4.0) & (exact_hz <= max(highest_hz, resonance_hz)),
        withheld=False,
        source="worked out as mass and losses on a cavity (Cox and D'Antonio's formulas from memory)",
        resonance_hz=resonance_hz,
    )


def _spacing_limit_hz(sheet: Sheet) -> float:
    return float("inf") if isinstance(sheet, Membrane) else SOUND_SPEED / (2.0 * sheet.spacing_m)


def _design(
    layers: Sequence[Layer],
    *,
    name: str,
    kind: str,
    thickness_m: float,
    valid: NDArray[np.bool_],
    withheld: bool,
    source: str,
    resonance_hz: float | None = None,
) -> Design:
    normal, random = (octave_values(layers, random=diffuse) for diffuse in (False, True))
    curves = [absorption(layers, _CURVE_HZ), random_absorption(layers, _CURVE_HZ)]
    if withheld:
        # Outside its range this model may even give less than nothing, which no surface absorbs.
        outside = ~np.array([layer.valid(_CURVE_HZ) for layer in layers if isinstance(layer, Porous)]).all(
            axis=0
        )
        normal, random = (np.where(valid, one, np.nan) for one in (normal, random))
        curves = [np.where(outside, np.nan, curve) for curve in curves]
    return Design(
        name=name,
        kind=kind,
        normal=normal,
        random=random,
        valid=valid,
        thickness_m=thickness_m,
        resonance_hz=resonance_hz,
        frequency_hz=_CURVE_HZ,
        curve_normal=curves[0],
        curve_random=curves[1],
        mounting=f"hard wall behind, {1000 * thickness_m:.0f} mm in all",
        source=source,
        remarks=_remarks(kind, valid=valid, withheld=withheld),
    )


def _remarks(kind: str, *, valid: NDArray[np.bool_], withheld: bool) -> tuple[Remark, ...]:
    remarks = []
    if not valid.all():
        names = ", ".join(
            f"{band.nominal_hz:g} Hz" for band, ok in zip(OCTAVES, valid, strict=True) if not ok
        )
        why = (
            f"the model was fitted for f/sigma from {VALID[0]:g} to {VALID[1]:g}"
            if kind == "porous"
            else "the sheet no longer acts as one mass on a spring"
        )
        remarks.append(
            Remark(
                code="outside-validity",
                says=f"{names}: {why}; the figures there are {'withheld' if withheld else 'a guess'}",
                remedy="take measured figures there, or another model",
            )
        )
    remarks.append(
        Remark(
            code="infinite-panel",
            says="the figures are for a large flat area; laboratories find more with small samples",
            remedy="read the room before and after the first panels",
        )
    )
    if kind in {"membrane", "perforated", "slotted"}:
        remarks.append(
            Remark(
                code="tune-by-trial",
                says="filling and leaks shift a resonance well off the formula",
                remedy="build one, read the room with and without it, then the others",
            )
        )
    return tuple(remarks)


def material_row(
    design: Design, *, panel_m2: float, weight_kg_per_m2: float, price_per_m2: float | None = None
) -> str:
    """Write the row for a table of materials of one's own.

    Parameters
    ----------
    design : Design
        What was worked out.
    panel_m2, weight_kg_per_m2 : float
        Area of one panel, and what it weighs. [m2, kg/m2]
    price_per_m2 : float, optional
        What it costs.

    Returns
    -------
    str
        TOML.

    Raises
    ------
    ParameterError
        If figures from 125 Hz to 4 kHz are withheld.
    """
    six = design.random[1:7]
    if not np.isfinite(six).all():
        raise ParameterError(
            "a row needs figures from 125 Hz to 4 kHz, and some are withheld",
            code="figures-withheld",
            remedy="take --model miki, whose figures go on outside the range, marked as a guess",
        )
    values = ", ".join(f"{min(max(value, 0.0), 1.0):.3f}" for value in six)
    lines = [
        "[[materials]]",
        f"name = {json.dumps(design.name)}",
        f"alpha = [{values}]",
        f"mounting = {json.dumps(design.mounting)}",
        f"source = {json.dumps(design.source)}",
        f'kind = "{design.kind}"',
        f"thickness_mm = {1000 * design.thickness_m:.4g}",
        f"weight_kg_per_m2 = {weight_kg_per_m2:g}",
        f"panel_m2 = {panel_m2:g}",
    ]
    if price_per_m2 is not None:
        lines.append(f"price_per_m2 = {price_per_m2:g}")
    return "\n".join(lines) + "\n"
