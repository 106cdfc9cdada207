"""Absorbers as curves, diffusers as drawings."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure

from roomir.bands.band import OCTAVES
from roomir.report.figures.key import Entry, key
from roomir.report.figures.sheet import (
    HEAD_PT,
    INK,
    MARGIN_IN,
    MIST,
    RUST,
    SMALL_PT,
    WIDTH_IN,
    Look,
    Place,
    Strip,
    drawable,
    label,
    make_sheet,
    name_axis,
    paragraph,
)
from roomir.report.wording import band_name
from roomir.rooms.absorbers.design import Design
from roomir.rooms.absorbers.diffuser import Diffuser

_RANDOM: Look = {"color": INK, "linestyle": "-", "linewidth": 2.2}
_NORMAL: Look = {"color": RUST, "linestyle": "--", "linewidth": 2.0}


def design_figure(design: Design) -> Figure:
    """Draw what an absorber absorbs against frequency; grey where the formulas do not hold."""
    return make_sheet(
        [
            paragraph(drawable(design.name), size_pt=HEAD_PT, weight="bold"),
            key(
                [Entry(words="in a diffuse field", look=_RANDOM), Entry(words="from the front", look=_NORMAL)]
            ),
            Strip(height_in=4.0, draw=lambda place: _curves(place, design)),
            paragraph("Dots: means over octaves. Grey: outside the range of the formulas.", size_pt=SMALL_PT),
        ]
    )


def _curves(place: Place, design: Design) -> None:
    axes = place.axes(left_in=0.98, right_in=MARGIN_IN, bottom_in=0.5)
    axes.set_label("absorption")
    axes.set_xscale("log")
    for band, ok in zip(OCTAVES, design.valid, strict=True):
        if not ok:
            axes.axvspan(band.low_hz, band.high_hz, color=MIST, linewidth=0.0)
    axes.plot(design.frequency_hz, design.curve_normal, gid="normal", **_NORMAL)
    axes.plot(design.frequency_hz, design.curve_random, gid="random", **_RANDOM)
    axes.plot([band.exact_hz for band in OCTAVES], design.random, "o", color=INK, markersize=6.0)
    axes.set_xlim(OCTAVES[0].low_hz, OCTAVES[-1].high_hz)
    axes.set_xticks([band.exact_hz for band in OCTAVES], [band_name(band.nominal_hz) for band in OCTAVES])
    axes.set_xticks([], minor=True)
    axes.set_ylim(0.0, 1.05)
    name_axis(axes.yaxis, "absorption coefficient")


def diffuser_figure(diffuser: Diffuser) -> Figure:
    """Draw a diffuser from above, to scale, with the depth of every well in mm."""
    scale = (WIDTH_IN - 2.0 * MARGIN_IN) / diffuser.width_m
    deepest_m = max(diffuser.depths_m)
    return make_sheet(
        [
            paragraph(
                f"{diffuser.n_wells} wells, {diffuser.design_hz:g} Hz: seen from above",
                size_pt=HEAD_PT,
                weight="bold",
            ),
            Strip(height_in=(deepest_m + 0.02) * scale + 0.5, draw=lambda place: _wells(place, diffuser)),
            paragraph(
                f"Depths in mm from the front. Wells {1000 * diffuser.well_m:g} mm wide, fins"
                f" {1000 * diffuser.fin_m:g} mm, {1000 * diffuser.width_m:.0f} mm over all;"
                f" {1000 * diffuser.height_m:.0f} mm high.",
                size_pt=SMALL_PT,
            ),
        ]
    )


def _wells(place: Place, diffuser: Diffuser) -> None:
    axes = place.axes(left_in=MARGIN_IN, right_in=MARGIN_IN)
    axes.set_label("diffuser")
    axes.set_axis_off()
    deepest_m = max(diffuser.depths_m)
    depths = np.tile(diffuser.depths_m, diffuser.periods)
    pitch_m = diffuser.well_m + diffuser.fin_m
    for i, depth_m in enumerate(depths):
        left_m = diffuser.fin_m + i * pitch_m
        axes.fill_between(
            [left_m, left_m + diffuser.well_m], -deepest_m - 0.02, -depth_m, color=MIST, linewidth=0.0
        )
        axes.plot([left_m, left_m + diffuser.well_m], [-depth_m, -depth_m], color=INK, linewidth=1.6)
        label(
            axes,
            f"{1000 * depth_m:.0f}",
            at=(left_m + diffuser.well_m / 2.0, 0.012),
            align="center",
            size_pt=SMALL_PT if depths.size <= 14 else 8.0,
        )
    for i in range(depths.size + 1):
        axes.fill_between(
            [i * pitch_m, i * pitch_m + diffuser.fin_m], -deepest_m - 0.02, 0.0, color=INK, linewidth=0.0
        )
    axes.set_xlim(0.0, diffuser.width_m)
    axes.set_ylim(-deepest_m - 0.02, 0.03)
