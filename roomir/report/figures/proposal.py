"""A proposal as a picture: now, then, thin foam everywhere, and the target behind them."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from roomir.bands.band import OCTAVES
from roomir.plan.propose import FOAM, Outcome, Proposal, Window
from roomir.report.figures.key import Entry, key
from roomir.report.figures.sheet import (
    HEAD_PT,
    INK,
    MARGIN_IN,
    MIST,
    RUST,
    SLATE,
    SMALL_PT,
    Look,
    Place,
    Strip,
    drawable,
    make_sheet,
    name_axis,
    paragraph,
)
from roomir.report.planning.reasons import says
from roomir.report.unit_system import METRIC, UnitSystem
from roomir.report.wording import band_name

_PLOT_IN = 3.6
_TICKS_IN = 0.5

_THEN: Look = {"color": INK, "linestyle": "-", "linewidth": 2.2, "marker": "o", "markersize": 6.0}
_NOW: Look = {"color": SLATE, "linestyle": ":", "linewidth": 2.0, "marker": "s", "markersize": 5.0}
_FOAM: Look = {"color": RUST, "linestyle": "--", "linewidth": 2.0, "marker": "^", "markersize": 6.0}


def proposal_figure(proposal: Proposal) -> Figure:
    """Draw what a proposal does.

    Parameters
    ----------
    proposal : Proposal
        With or without a comparison to thin foam.

    Returns
    -------
    matplotlib.figure.Figure
        Not shown and not saved.
    """
    return make_sheet(
        [
            paragraph(
                drawable(f"{proposal.room.name}: target {proposal.window.name}"),
                size_pt=HEAD_PT,
                weight="bold",
            ),
            paragraph(drawable(says(proposal))),
            *proposal_strips(proposal),
        ]
    )


def proposal_strips(proposal: Proposal, *, units: UnitSystem = METRIC) -> list[Strip]:
    """Make the parts of a sheet that show what a proposal does."""
    area = units.area_text(sum(item.area_m2 for item in proposal.then.items))
    entries = [
        Entry(words="now", look=_NOW),
        Entry(words=f"proposed, {area}, with 95 % interval", look=_THEN),
    ]
    if proposal.foam is not None:
        foam = units.area_text(sum(item.area_m2 for item in proposal.foam.items))
        entries.append(Entry(words=f"{FOAM} everywhere, {foam}", look=_FOAM))
    return [
        key(entries),
        Strip(height_in=_PLOT_IN + _TICKS_IN, draw=lambda place: _draw(place, proposal)),
        paragraph("Grey: the target.", size_pt=SMALL_PT),
    ]


def _draw(place: Place, proposal: Proposal) -> None:
    axes = place.axes(left_in=0.98, right_in=MARGIN_IN, bottom_in=_TICKS_IN)
    axes.set_label("proposal")
    axes.set_xscale("log")
    x = np.array([OCTAVES[i].exact_hz for i in proposal.then.expected.octaves])
    top = 1.15 * max(float(outcome.expected.decay_time_s.max()) for outcome in (proposal.now, proposal.then))
    _shade(axes, x, proposal.window, top=top)
    outcomes: list[tuple[Outcome, Look]] = [(proposal.now, _NOW), (proposal.then, _THEN)]
    if proposal.foam is not None:
        outcomes.insert(1, (proposal.foam, _FOAM))
    for outcome, look in outcomes:
        axes.plot(x, outcome.expected.decay_time_s, gid="decay times", **look)
    time_s, ends = proposal.then.expected.decay_time_s, proposal.then.expected.ci95_s
    axes.errorbar(
        x,
        time_s,
        yerr=[time_s - ends[:, 0], ends[:, 1] - time_s],
        color=INK,
        capsize=4.0,
        elinewidth=1.4,
        linestyle="none",
    )
    axes.set_xlim(x[0] / 1.4, x[-1] * 1.4)
    axes.set_xticks(x, [band_name(OCTAVES[i].nominal_hz) for i in proposal.then.expected.octaves])
    axes.set_xticks([], minor=True)
    axes.set_ylim(0.0, top)
    name_axis(axes.yaxis, "decay time [s]")


def _shade(axes: Axes, x: np.ndarray, window: Window, *, top: float) -> None:
    for k, centre in enumerate(x):
        if window.asked[k]:
            low, high = float(window.low_s[k]), min(float(window.high_s[k]), top)
            axes.fill_between([centre / 1.35, centre * 1.35], low, high, color=MIST, linewidth=0.0)
