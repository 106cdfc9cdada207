"""Prediction against reading as a small picture."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from roomir.bands.band import OCTAVES
from roomir.plan.model import Expected
from roomir.report.figures.key import Entry, key
from roomir.report.figures.sheet import INK, MARGIN_IN, MIST, SLATE, Look, Place, Strip, make_sheet, name_axis
from roomir.report.planning.next_step import read_ci95_s
from roomir.report.wording import band_name

_PLOT_IN = 2.6
_TICKS_IN = 0.5
_HEADROOM = 1.12

_PREDICTED: Look = {"color": SLATE, "linestyle": ":", "linewidth": 2.0, "marker": "s", "markersize": 5.0}
_READ: Look = {"color": INK, "linestyle": "-", "linewidth": 2.2, "marker": "o", "markersize": 6.0}


def foreseen_figure(foreseen: Expected, read: Mapping[int, tuple[float, float]]) -> Figure:
    """Draw what was foreseen and what was read; the parameters are those of :func:`foreseen_strips`.

    Returns
    -------
    matplotlib.figure.Figure
        Not shown and not saved.
    """
    return make_sheet(foreseen_strips(foreseen, read))


def foreseen_strips(foreseen: Expected, read: Mapping[int, tuple[float, float]]) -> list[Strip]:
    """Make the parts of a sheet that show what was expected of a room, and what was read.

    Parameters
    ----------
    foreseen : Expected
        Before the reading.
    read : mapping of int to (float, float)
        By octave: decay time as read, and its standard uncertainty as a share of it. [s, 1]
    """
    entries = [Entry(words="predicted; grey: its 95 % interval", look=_PREDICTED)]
    if read:
        entries.append(Entry(words="read, with 95 % interval", look=_READ))
    return [
        key(entries),
        Strip(height_in=_PLOT_IN + _TICKS_IN, draw=lambda place: _draw(place, foreseen, read)),
    ]


def _draw(place: Place, foreseen: Expected, read: Mapping[int, tuple[float, float]]) -> None:
    axes = place.axes(left_in=0.98, right_in=MARGIN_IN, bottom_in=_TICKS_IN)
    axes.set_label("prediction and reading")
    axes.set_xscale("log")
    x = np.array([OCTAVES[i].exact_hz for i in foreseen.octaves])
    axes.fill_between(x, foreseen.ci95_s[:, 0], foreseen.ci95_s[:, 1], color=MIST, linewidth=0.0)
    axes.plot(x, foreseen.decay_time_s, gid="predicted", **_PREDICTED)
    highest_s = float(foreseen.ci95_s.max())
    known = [i for i in foreseen.octaves if i in read]
    if known:
        highest_s = max(highest_s, _draw_read(axes, {i: read[i] for i in known}))
    axes.set_xlim(x[0] / 1.4, x[-1] * 1.4)
    axes.set_xticks(x, [band_name(OCTAVES[i].nominal_hz) for i in foreseen.octaves])
    axes.set_xticks([], minor=True)
    axes.set_ylim(0.0, _HEADROOM * highest_s)
    name_axis(axes.yaxis, "decay time [s]")


def _draw_read(axes: Axes, read: Mapping[int, tuple[float, float]]) -> float:
    """Draw what was read; return where its intervals end. [s]."""
    x = [OCTAVES[i].exact_hz for i in read]
    time_s = np.array([time for time, _ in read.values()])
    ends = np.array([read_ci95_s(time, share) for time, share in read.values()])
    axes.plot(x, time_s, gid="read", **_READ)
    axes.errorbar(
        x,
        time_s,
        yerr=[time_s - ends[:, 0], ends[:, 1] - time_s],
        color=INK,
        capsize=4.0,
        elinewidth=1.4,
        linestyle="none",
    )
    return float(ends.max())
