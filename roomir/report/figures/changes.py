"""Before against after as a picture: the headline, both decay times, and the change in every band."""

from __future__ import annotations

import math

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from roomir.compare.change import BandChange, Comparison
from roomir.compare.verdicts import JUST_NOTICEABLE
from roomir.report.changes import ComparisonView, change_extent_percent, comparison_view
from roomir.report.figures.decay_times import decay_time_strips
from roomir.report.figures.key import Entry, key
from roomir.report.figures.sheet import (
    HEAD_PT,
    INK,
    MARGIN_IN,
    MIST,
    SLATE,
    SMALL_PT,
    Look,
    Place,
    Strip,
    drawable,
    gap,
    label,
    make_sheet,
    name_axis,
    paragraph,
)
from roomir.report.unit_system import METRIC, UnitSystem
from roomir.report.wording import band_name

VERDICT_LOOKS: dict[str, Look] = {
    "shorter": {"marker": "v", "fillstyle": "full", "markersize": 9.5},
    "longer": {"marker": "^", "fillstyle": "full", "markersize": 9.5},
    "within 5 percent": {"marker": "s", "fillstyle": "full", "markersize": 7.5},
    "cannot tell": {"marker": "o", "fillstyle": "none", "markersize": 8.0, "markeredgewidth": 1.8},
}
"""A verdict by shape and filling, so that it needs no colour."""

_LEFT_IN = 0.98
_PLOT_IN = 3.0
_BELOW_IN = 0.46
_MOST_NAMES = 10


def comparison_figure(comparison: Comparison, *, units: UnitSystem = METRIC) -> Figure:
    """Draw a comparison.

    Parameters
    ----------
    comparison : Comparison
        With bands, or with none in common.
    units : UnitSystem
        For sizes in words.

    Returns
    -------
    matplotlib.figure.Figure
        As wide as a phone's screen; not shown and not saved.
    """
    return make_sheet(comparison_strips(comparison, view=comparison_view(comparison, units=units)))


def comparison_strips(comparison: Comparison, *, view: ComparisonView) -> list[Strip]:
    """Make the parts of a sheet that show a comparison."""
    strips = [paragraph(view.says, size_pt=HEAD_PT, weight="bold")]
    strips += [paragraph(drawable(line)) for line in view.failures]
    sides = {"before": comparison.before, "after": comparison.after}
    strips += [gap(0.2), *decay_time_strips(sides), gap(0.3), *change_strips(comparison)]
    small = [*view.settle, *(drawable(guard) for guard in view.guards)]
    return [*strips, *(paragraph(one, size_pt=SMALL_PT, after_in=0.06) for one in small)]


def change_strips(comparison: Comparison) -> list[Strip]:
    """Make the parts of a sheet that show the change in every band."""
    shown = [one for one in comparison.bands if one.usable]
    if not shown:
        return [paragraph("In no band do both sides have a decay time that may be used.")]
    verdicts = [verdict for verdict in VERDICT_LOOKS if any(one.verdict == verdict for one in shown)]
    return [
        paragraph("Change of the decay time, with its 95 % interval", size_pt=HEAD_PT, weight="bold"),
        key([Entry(words=verdict, look={"color": INK, **VERDICT_LOOKS[verdict]}) for verdict in verdicts]),
        Strip(
            height_in=_PLOT_IN + _BELOW_IN,
            draw=lambda place: _draw(place, shown, extent=change_extent_percent(comparison)),
        ),
        paragraph(
            "Grey: a change within 5 % goes unnoticed (just noticeable difference, ISO 3382-1).",
            size_pt=SMALL_PT,
        ),
    ]


def _draw(place: Place, bands: list[BandChange], *, extent: tuple[float, float]) -> None:
    axes = place.axes(left_in=_LEFT_IN, right_in=MARGIN_IN, bottom_in=_BELOW_IN)
    axes.set_label("changes")
    axes.set_xscale("log")
    axes.axhspan(-100.0 * JUST_NOTICEABLE, 100.0 * JUST_NOTICEABLE, color=MIST, linewidth=0.0)
    axes.axhline(0.0, color=SLATE, linewidth=1.0)
    for one in bands:
        _draw_change(axes, one, extent=extent)
    axes.set_xlim(bands[0].band.exact_hz / 1.4, bands[-1].band.exact_hz * 1.4)
    every = math.ceil(len(bands) / _MOST_NAMES)
    named = bands[::every]
    axes.set_xticks([one.band.exact_hz for one in named], [band_name(one.band.nominal_hz) for one in named])
    axes.set_xticks([], minor=True)
    axes.set_ylim(*extent)
    name_axis(axes.yaxis, "change [%]")


def _draw_change(axes: Axes, one: BandChange, *, extent: tuple[float, float]) -> None:
    assert one.change_percent is not None
    assert one.change_ci95_percent is not None
    low, high = one.change_ci95_percent
    axes.errorbar(
        [one.band.exact_hz],
        [one.change_percent],
        yerr=[[one.change_percent - low], [high - one.change_percent]],
        color=INK,
        capsize=4.0,
        elinewidth=1.4,
        linestyle="none",
        **VERDICT_LOOKS[one.verdict],
    )
    # Away from the line of no change, where there is room for it.
    away = 0.02 * (extent[1] - extent[0])
    above = high + 4.0 * away < extent[1] and (one.change_percent >= 0.0 or low - 4.0 * away < extent[0])
    label(
        axes,
        f"{one.change_percent:+.0f}",
        at=(one.band.exact_hz, high + away if above else low - away),
        align="center",
        valign="bottom" if above else "top",
    )
