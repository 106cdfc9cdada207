"""Absorbers and diffusers as text and as documents."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from roomir.bands.band import OCTAVES
from roomir.report.planning.tables import (
    Document,
    dumped,
    number,
    remark_documents,
    remark_lines,
    table_lines,
)
from roomir.report.rounding import MISSING, significant
from roomir.report.text import wrapped
from roomir.report.wording import band_name, counted, printable
from roomir.rooms.absorbers.design import Design
from roomir.rooms.absorbers.diffuser import Cut, Diffuser
from roomir.rooms.absorbers.resonators import Helmholtz


def design_json(design: Design) -> str:
    """Write an absorber as the document ``roomir/absorber/1``."""
    bands: list[Document] = [
        {
            "centre_hz": band.nominal_hz,
            "alpha_normal": number(float(design.normal[i])),
            "alpha_random": number(float(design.random[i])),
            "valid": bool(design.valid[i]),
        }
        for i, band in enumerate(OCTAVES)
    ]
    return dumped(
        {
            "schema": "roomir/absorber/1",
            "name": design.name,
            "kind": design.kind,
            "thickness_m": number(design.thickness_m),
            "resonance_hz": number(design.resonance_hz),
            "bands": bands,
            "source": design.source,
            "remarks": remark_documents(design.remarks),
        }
    )


def design_text(design: Design) -> str:
    """Lay an absorber out for a terminal."""
    return "\n".join(_design_lines(design)) + "\n"


def _design_lines(design: Design) -> Iterator[str]:
    yield from wrapped(f"{printable(design.name)}: {design.mounting}; {design.source}.")
    if design.resonance_hz is not None:
        yield f"Resonance on an empty cavity: {significant(design.resonance_hz, digits=3)} Hz."
    yield ""
    rows = [
        (band_name(band.nominal_hz), _alpha(design.random[i]), _alpha(design.normal[i]), _valid(design, i))
        for i, band in enumerate(OCTAVES)
    ]
    yield from table_lines(("Band", "Diffuse field", "From the front", "Valid"), rows)
    yield ""
    yield from remark_lines(design.remarks)


def _alpha(value: float) -> str:
    return f"{value:.2f}" if math.isfinite(value) else MISSING


def _valid(design: Design, i: int) -> str:
    return "yes" if design.valid[i] else "NO"


def helmholtz_json(bottle: Helmholtz) -> str:
    """Write a resonator as the document ``roomir/helmholtz/1``."""
    return dumped({"schema": "roomir/helmholtz/1", **_helmholtz(bottle)})


def _helmholtz(bottle: Helmholtz) -> Document:
    return {
        "resonance_hz": number(bottle.resonance_hz()),
        "resonance_without_ends_hz": number(bottle.resonance_hz(with_ends=False)),
        "largest_area_m2": number(bottle.largest_area_m2()),
    }


def helmholtz_text(bottle: Helmholtz) -> str:
    """Lay a resonator out for a terminal."""
    sentences = (
        f"Resonance {significant(bottle.resonance_hz(), digits=3)} Hz"
        f" ({significant(bottle.resonance_hz(with_ends=False), digits=3)} Hz without the air outside its"
        " neck)."
        f" One absorbs at most {significant(bottle.largest_area_m2(), digits=2)} m2, at its resonance and"
        " only if its losses match; a little wool in the neck brings it there. Tune by trial: walls that"
        " give, leaks and wool shift it."
    )
    return "\n".join(wrapped(sentences)) + "\n"


def diffuser_json(diffuser: Diffuser, cuts: Sequence[Cut]) -> str:
    """Write a diffuser as the document ``roomir/diffuser/1``."""
    return dumped(
        {
            "schema": "roomir/diffuser/1",
            "wells": diffuser.n_wells,
            "sequence": list(diffuser.sequence),
            "design_hz": number(diffuser.design_hz),
            "depths_m": [number(one) for one in diffuser.depths_m],
            "lowest_hz": number(diffuser.lowest_hz),
            "highest_hz": number(diffuser.highest_hz),
            "nearest_m": number(diffuser.nearest_m),
            "width_m": number(diffuser.width_m),
            "height_m": number(diffuser.height_m),
            "cutting_list": [
                {
                    "part": cut.part,
                    "count": cut.count,
                    "length_mm": number(cut.length_mm),
                    "width_mm": number(cut.width_mm),
                    "thickness_mm": number(cut.thickness_mm),
                }
                for cut in cuts
            ],
        }
    )


def diffuser_text(diffuser: Diffuser, cuts: Sequence[Cut]) -> str:
    """Lay a diffuser out for a terminal, with its cutting list."""
    return "\n".join(_diffuser_lines(diffuser, cuts)) + "\n"


def _diffuser_lines(diffuser: Diffuser, cuts: Sequence[Cut]) -> Iterator[str]:
    depths = "  ".join(f"{1000 * one:.1f}" for one in diffuser.depths_m)
    yield from wrapped(
        f"{diffuser.n_wells} wells a period, designed for {diffuser.design_hz:g} Hz,"
        f" {counted(diffuser.periods, 'period')}:"
        f" {1000 * diffuser.width_m:.0f} mm wide, {1000 * diffuser.height_m:.0f} mm high."
    )
    yield from wrapped(f"Depths in mm: {depths}")
    yield from wrapped(
        f"Works from {significant(diffuser.lowest_hz, digits=2)} to"
        f" {significant(diffuser.highest_hz, digits=2)} Hz;"
        f" sit no nearer than {significant(diffuser.nearest_m, digits=2)} m (common practice, no source)."
    )
    yield ""
    rows = [
        (cut.part, str(cut.count), *(f"{mm:.1f}" for mm in (cut.length_mm, cut.width_mm, cut.thickness_mm)))
        for cut in cuts
    ]
    yield from table_lines(("Cut", "Pieces", "Length mm", "Width mm", "Thick mm"), rows)
