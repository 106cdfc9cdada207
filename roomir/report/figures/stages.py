"""Decay times of a room over its stages as a picture."""

from __future__ import annotations

import math
from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from roomir.compare.aim import Aim
from roomir.compare.history import History, StageReading
from roomir.reading.reading import Interval, Reading
from roomir.report.figures.decay_times import decay_time_strips
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
    broken,
    drawable,
    gap,
    label,
    make_sheet,
    name_axis,
    paragraph,
)
from roomir.report.history import room_title
from roomir.report.unit_system import METRIC, UnitSystem
from roomir.report.wording import band_name

_LINES: tuple[tuple[float | None, Look], ...] = (
    (None, {"color": INK, "linestyle": "-", "marker": "o", "markersize": 8.0}),
    (125.0, {"color": RUST, "linestyle": "--", "marker": "s", "fillstyle": "none", "markersize": 8.0}),
    (250.0, {"color": "#a08a4a", "linestyle": "-.", "marker": "D", "fillstyle": "none", "markersize": 7.5}),
    (4000.0, {"color": SLATE, "linestyle": ":", "marker": "^", "fillstyle": "none", "markersize": 8.0}),
)
"""Mid frequencies, bass and treble: told apart by dashes and shape first."""

_LEFT_IN = 0.98
_PLOT_IN = 3.2
_HEADROOM = 1.12
_MOST_STAGES = 4
"""Stages whose decay times over frequency are drawn together: the first and the last ones."""

_MOST_NAMES = 8


def history_figure(history: History, *, aims: Sequence[Aim] = (), units: UnitSystem = METRIC) -> Figure:
    """Draw the story of a room.

    Parameters
    ----------
    history : History
        With stages, or with none.
    aims : sequence of Aim
        Every stage against a target, or none.
    units : UnitSystem
        For the size of the room.

    Returns
    -------
    matplotlib.figure.Figure
        As wide as a phone's screen; not shown and not saved.
    """
    title = paragraph(drawable(room_title(history, units=units)), size_pt=HEAD_PT, weight="bold")
    return make_sheet([title, *stage_strips(history, aims=aims), gap(0.3), *frequency_strips(history)])


def frequency_strips(history: History) -> list[Strip]:
    """Make the parts of a sheet that show decay time over frequency, for the first and the last stages."""
    shown = [*history.stages[:1], *history.stages[1:][-(_MOST_STAGES - 1) :]]
    return decay_time_strips({f"{i} {one.name}": one.reading for i, one in _numbered(history, shown)})


def _numbered(history: History, shown: Sequence[StageReading]) -> list[tuple[int, StageReading]]:
    return [(history.stages.index(one) + 1, one) for one in shown]


def stage_strips(history: History, *, aims: Sequence[Aim] = ()) -> list[Strip]:
    """Make the parts of a sheet that show decay time over the stages."""
    readings = [stage.reading for stage in history.stages]
    lines = [(hz, look) for hz, look in _LINES if any(_time(one, hz)[0] is not None for one in readings)]
    if not lines:
        return [paragraph("No stage has a decay time that may be used.")]
    names = {hz: "mid frequencies" if hz is None else band_name(hz) for hz, _ in lines}
    return [
        paragraph("Decay time over the stages", size_pt=HEAD_PT, weight="bold"),
        key([Entry(words=names[hz], look=look) for hz, look in lines]),
        Strip(
            height_in=_PLOT_IN + _names_in(history),
            draw=lambda place: _draw(place, history, lines=lines, aims=aims),
        ),
        *(
            [paragraph("Grey: the target at mid frequencies.", size_pt=SMALL_PT, after_in=0.05)]
            if _aimed(aims) is not None
            else []
        ),
    ]


def _time(reading: Reading, hz: float | None) -> tuple[float | None, Interval | None]:
    """Decay time of a band or of mid frequencies, with its interval; none where it is unusable. [s]."""
    if hz is None:
        return reading.mid.decay_time_s, reading.mid.ci95_s
    for one in reading.bands:
        if one.figures.band.nominal_hz == hz and one.figures.verdict != "unusable":
            return one.figures.decay_time_s, one.figures.ci95_s
    return None, None


def _aimed(aims: Sequence[Aim]) -> tuple[float, float | None] | None:
    limits = [one.limits for aim in aims for one in aim.bands if one.band.nominal_hz == 1000.0]
    return (limits[0].least_s or 0.0, limits[0].most_s) if limits else None


def _shown_names(history: History) -> list[tuple[int, list[str]]]:
    n = len(history.stages)
    width_in = (7.2 - _LEFT_IN - MARGIN_IN) / max(min(n, _MOST_NAMES), 1)
    every = math.ceil(n / _MOST_NAMES)
    out = []
    for place, stage in enumerate(history.stages):
        if place % every == 0:
            words = f"{place + 1} {drawable(stage.name)}" if every == 1 else str(place + 1)
            out.append((place, broken(words, size_pt=SMALL_PT, width_in=width_in - 0.1)[:3]))
    return out


def _names_in(history: History) -> float:
    return 0.2 + 0.24 * max((len(lines) for _, lines in _shown_names(history)), default=1)


def _draw(
    place: Place, history: History, *, lines: Sequence[tuple[float | None, Look]], aims: Sequence[Aim]
) -> None:
    axes = place.axes(left_in=_LEFT_IN, right_in=MARGIN_IN, bottom_in=_names_in(history))
    axes.set_label("stages")
    axes.grid(axis="y", color=MIST, linewidth=0.8)
    axes.set_axisbelow(True)
    tops = [0.1]
    for hz, look in lines:
        tops += _draw_line(axes, history, hz=hz, look=look)
    top = _HEADROOM * max(tops)
    aimed = _aimed(aims)
    if aimed is not None:
        axes.axhspan(aimed[0], top if aimed[1] is None else aimed[1], color=MIST, linewidth=0.0, zorder=0)
    axes.set_xlim(-0.5, len(history.stages) - 0.5)
    axes.set_ylim(0.0, top)
    named = _shown_names(history)
    axes.set_xticks([at for at, _ in named], ["\n".join(words) for _, words in named])
    name_axis(axes.yaxis, "decay time [s]")


def _draw_line(axes: Axes, history: History, *, hz: float | None, look: Look) -> list[float]:
    """Draw one line; return how high it reaches."""
    n_stages = len(history.stages)
    known = [
        (place, time_s, interval)
        for place, stage in enumerate(history.stages)
        for time_s, interval in [_time(stage.reading, hz)]
        if time_s is not None
    ]
    axes.plot([place for place, *_ in known], [time_s for _, time_s, _ in known], linewidth=1.6, **look)
    if hz is not None:
        return [time_s for _, time_s, _ in known]
    for place, time_s, interval in known:
        if interval is not None:
            axes.plot([place, place], interval, color=INK, linewidth=1.4)
        if n_stages <= _MOST_NAMES or place in (known[0][0], known[-1][0]):
            # Where stages stand close, the last number must not leave the picture.
            align = "right" if n_stages > _MOST_NAMES and place == n_stages - 1 else "center"
            top_s = interval[1] if interval else time_s
            label(axes, f"{time_s:.2f}", at=(place, top_s + 0.03 * known[0][1]), align=align, valign="bottom")
    return [interval[1] if interval else time_s for _, time_s, interval in known]
