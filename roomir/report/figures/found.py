"""What else the decay shows as a picture: the row of a flutter's echoes, and tones beside a box's modes."""

from __future__ import annotations

from collections.abc import Callable

from matplotlib.figure import Figure

from roomir.findings.findings import Flutter, RoomModes
from roomir.reading.reading import Reading
from roomir.report.figures.sheet import (
    HEAD_PT,
    INK,
    MARGIN_IN,
    MIST,
    RUST,
    SLATE,
    SMALL_PT,
    Place,
    Strip,
    label,
    make_sheet,
    name_axis,
    paragraph,
)
from roomir.report.rounding import decimals_without_interval, rounded, significant

_LEFT_IN = 0.98
_PLOT_IN = 2.3
_BELOW_IN = 0.62
_FIRST_MS = 3
_DEEPEST_DB = -45.0
_MOST_NAMED = 4
_APART_SHARE = 0.12
_HEIGHTS = {"axial": 1.0, "tangential": 0.62, "oblique": 0.3}


def finding_figure(reading: Reading) -> Figure:
    """Draw the flutter and the modes of a reading.

    Parameters
    ----------
    reading : Reading
        Of any kind.

    Returns
    -------
    matplotlib.figure.Figure
        Says so where there is nothing to draw.
    """
    nothing = [paragraph("No flutter was found, and no tones of the room.")]
    return make_sheet(finding_strips(reading) or nothing)


def finding_strips(reading: Reading) -> list[Strip]:
    """Make the parts of a sheet that show what else the decay shows; none where nothing does."""
    strips = []
    flutter, modes = reading.findings.flutter, reading.findings.modes
    if flutter is not None and flutter.likeness:
        spacing = significant(1e3 * flutter.spacing_s, digits=3)
        strips += [
            paragraph(f"Flutter echo every {spacing} ms", size_pt=HEAD_PT, weight="bold"),
            paragraph("How much the decay is like itself some time later. Dashed: the echoes, one by one."),
            _plot(lambda place: _draw_flutter(place, flutter)),
        ]
    if modes is not None and modes.heard and modes.spectrum_hz:
        strips += [
            paragraph("Tones of the late decay beside the modes of a box", size_pt=HEAD_PT, weight="bold"),
            paragraph(
                "Dots: what was heard, the strongest with their decay times. Strokes below: the box's modes,"
                " long for axial, middling for tangential, short for oblique."
            ),
            _plot(lambda place: _draw_modes(place, modes)),
        ]
    return strips


def _plot(draw: Callable[[Place], None]) -> Strip:
    return Strip(height_in=_PLOT_IN + _BELOW_IN, draw=draw)


def _draw_flutter(place: Place, flutter: Flutter) -> None:
    axes = place.axes(left_in=_LEFT_IN, right_in=MARGIN_IN, top_in=0.3, bottom_in=_BELOW_IN)
    axes.set_label("flutter")
    # Nearer than a few milliseconds everything is like itself.
    shown = flutter.likeness[_FIRST_MS:]
    top, bottom = max(*shown, 1.0), min(*shown, 0.0)
    axes.axhspan(-2.0, 2.0, color=MIST, linewidth=0.0, gid="chance")
    axes.plot(range(_FIRST_MS, len(flutter.likeness)), shown, color=INK, linewidth=1.8, gid="likeness")
    spacing_ms = 1e3 * flutter.spacing_s
    for k in range(1, int((len(flutter.likeness) - 1) / spacing_ms) + 1):
        axes.axvline(k * spacing_ms, color=RUST, linestyle="--", linewidth=1.6, gid="spacing")
        words = f"{significant(spacing_ms, digits=3)} ms" if k == 1 else f"{k} x"
        label(axes, words, at=(k * spacing_ms, 1.14 * top), align="center", valign="bottom", colour=RUST)
    axes.set_xlim(0.0, len(flutter.likeness) - 1)
    axes.set_ylim(1.1 * min(bottom, -2.0), 1.12 * top)
    name_axis(axes.xaxis, "time later [ms]")
    name_axis(axes.yaxis, "times chance")


def _draw_modes(place: Place, modes: RoomModes) -> None:
    axes = place.axes(left_in=_LEFT_IN, right_in=MARGIN_IN, top_in=0.1, bottom_in=_BELOW_IN)
    axes.set_label("modes")
    floor = max(_DEEPEST_DB, min(modes.spectrum_db))
    depth = 0.3 * (0.0 - floor)
    axes.plot(modes.spectrum_hz, modes.spectrum_db, color=SLATE, linewidth=1.6, gid="spectrum")
    for mode in modes.modes:
        axes.vlines(
            mode.frequency_hz,
            floor - depth,
            floor - depth + 0.8 * depth * _HEIGHTS[mode.kind],
            color=INK,
            linewidth=1.2,
            gid=mode.kind,
        )
    axes.plot(
        [one.frequency_hz for one in modes.heard],
        [one.level_db for one in modes.heard],
        color=RUST,
        linestyle="none",
        marker="o",
        markersize=8.0,
        gid="heard",
    )
    low_hz, high_hz = modes.spectrum_hz[0], modes.spectrum_hz[-1]
    named: list[float] = []
    for one in sorted(modes.heard, key=lambda tone: -tone.level_db):
        # Labels side by side need room.
        if any(abs(one.frequency_hz - hz) < _APART_SHARE * (high_hz - low_hz) for hz in named):
            continue
        named.append(one.frequency_hz)
        time = rounded(one.decay_time_s, decimals=decimals_without_interval(one.decay_time_s))
        label(
            axes,
            f"{time} s",
            at=(one.frequency_hz, one.level_db + 3.0),
            align="center",
            valign="bottom",
            size_pt=SMALL_PT,
        )
        if len(named) == _MOST_NAMED:
            break
    axes.set_xlim(low_hz, high_hz)
    axes.set_ylim(floor - depth, 12.0)
    name_axis(axes.xaxis, "frequency [Hz]")
    name_axis(axes.yaxis, "level [dB]")
