"""Readings as figures: objects handed back, drawn without matplotlib's global state.

Trust is told by the shape and the filling of a marker, stages by the line,
so that a figure printed in grey loses nothing.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from textwrap import wrap
from typing import TYPE_CHECKING

from roomir.reading.reading import BandFigures, Reading
from roomir.report.answer import interval_note
from roomir.report.wording import band_name, joined, printable

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_SHAPES = {"reliable": "o", "indicative": "D", "unusable": "x"}
_FILLED = {"reliable": "full", "indicative": "none", "unusable": "none"}
# Dark to light, so that stages stay apart in grey too.
_LINES = (("#1b3a4b", "-"), ("#b5541c", "--"), ("#5f8f3e", ":"), ("#8a6fb0", "-."))


def decay_time_figure(readings: Mapping[str, Reading]) -> Figure:
    """Draw decay time against frequency, with its interval and the trust in it.

    Parameters
    ----------
    readings : mapping of str to Reading
        The readings to draw together, under the names to call them by.

    Returns
    -------
    matplotlib.figure.Figure
        Not shown and not saved; ``figure.savefig(path)`` does the latter.
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=(8.0, 4.8), layout="constrained")
    axes = figure.subplots()
    for i, (name, reading) in enumerate(readings.items()):
        colour, dashes = _LINES[i % len(_LINES)]
        # Side by side, or the intervals of two stages would hide each other.
        shift = 1.04 ** (i - (len(readings) - 1) / 2.0)
        _draw(axes, reading, name=printable(name), colour=colour, dashes=dashes, shift=shift)
    nominal_hz = sorted({one.figures.band.nominal_hz for r in readings.values() for one in r.bands})
    axes.set_xscale("log")
    axes.set_xticks(nominal_hz, [band_name(hz) for hz in nominal_hz])
    axes.set_xticks([], minor=True)
    if nominal_hz:
        axes.set_xlim(nominal_hz[0] / 1.4, nominal_hz[-1] * 1.4)
    axes.set_ylim(bottom=0.0)
    axes.set_xlabel("octave band")
    axes.set_ylabel("decay time [s]")
    axes.grid(axis="y", color="0.9")
    axes.spines[["top", "right"]].set_visible(False)
    for verdict, shape in _SHAPES.items():
        axes.plot(
            [], [], linestyle="none", color="0.3", marker=shape, fillstyle=_FILLED[verdict], label=verdict
        )
    figure.legend(loc="outside upper center", frameon=False, ncols=len(readings) + len(_SHAPES))
    figure.supxlabel(_caption(readings), fontsize=8, color="0.35")
    return figure


def _caption(readings: Mapping[str, Reading]) -> str:
    """Say which kind of interval the bars are, for each reading where they differ."""
    names: dict[str, list[str]] = {}
    for name, reading in readings.items():
        if note := interval_note(reading.bands):
            names.setdefault(note.replace("In brackets", "Bars"), []).append(printable(name))
    notes = [note if len(names) == 1 else f"{joined(names[note])}. {note}" for note in names]
    return "\n".join(line for note in notes for line in wrap(note, width=110))


def _draw(axes: Axes, reading: Reading, *, name: str, colour: str, dashes: str, shift: float) -> None:
    known = [
        (one.figures.band.exact_hz * shift, one.figures.decay_time_s, one.figures)
        for one in reading.bands
        if one.figures.decay_time_s is not None
    ]
    axes.plot(
        [hz for hz, _, _ in known],
        # A line through a number nobody should use would invite its use.
        [time_s if figures.verdict != "unusable" else math.nan for _, time_s, figures in known],
        color=colour,
        linestyle=dashes,
        linewidth=1.2,
        label=name,
    )
    for hz, time_s, figures in known:
        axes.errorbar(
            [hz],
            [time_s],
            yerr=_reach(time_s, figures),
            color=colour,
            capsize=3.0,
            elinewidth=1.0,
            linestyle="none",
            markersize=7.0,
            marker=_SHAPES[figures.verdict],
            fillstyle=_FILLED[figures.verdict],
        )


def _reach(time_s: float, figures: BandFigures) -> list[list[float]] | None:
    if figures.ci95_s is None:
        return None
    low_s, high_s = figures.ci95_s
    # The estimate may lie outside an interval that comes from elsewhere; a bar cannot be negative.
    return [[max(time_s - low_s, 0.0)], [max(high_s - time_s, 0.0)]]
