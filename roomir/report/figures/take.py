"""A take as a picture: what was heard, what was read of it, and what was turned down and why."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import PurePath

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure

from roomir.audio.recording import Recording
from roomir.reading.reading import ClapReading, TakeReading
from roomir.report.figures.sheet import (
    BODY_PT,
    HEAD_PT,
    INK,
    MARGIN_IN,
    MIST,
    PAPER,
    RUST,
    SLATE,
    WIDTH_IN,
    Look,
    Place,
    Strip,
    drawable,
    label,
    make_sheet,
    name_axis,
    paragraph,
    shortened,
)
from roomir.report.figures.spectrum import LOWEST_HZ, Spectrogram, spectrogram
from roomir.report.wording import band_name, counted

_SHORT_WORDS = {
    "not-impulsive": "not one sharp sound",
    "too-dull": "only bass: a step, a bump or a door",
    "one-of-many": "one of many: talk, steps, keys",
    "second-event-in-decay": "the next sound came too soon",
    "follows-another-sound": "another sound still died away",
    "no-room-in-it": "a click, no room in it",
    "no-free-decay": "softer and unlike the claps",
    "stops-inside-decay": "the recording ends too soon",
    "dropout": "sound was lost in it",
    "repeated-block": "sound was written twice in it",
}

_LEFT_IN = 0.98
_RIGHT_IN = 0.25
_SPECTRUM_IN = 1.9
_WORDS_IN = 0.27
_MARKS_IN = 0.21
_AXIS_IN = 0.62
_TICKS_HZ = (63.0, 250.0, 1000.0, 4000.0)
_READ_MARK: Look = {"color": INK, "marker": "v", "markersize": 9.0, "gid": "read"}
_TURNED_DOWN_MARK: Look = {
    "color": RUST, "marker": "x", "markersize": 8.0, "markeredgewidth": 2.0, "gid": "turned down",
}  # fmt: skip
_MINUTES_FROM_S = 180.0
_STEPS_S = (30, 60, 120, 300, 600, 900, 1800, 3600)
_MOST_STEPS = 7
_EMPTY_PERCENTILE = 20.0
_LEAST_SPAN_DB = 30.0

_PAPER_TO_INK = LinearSegmentedColormap.from_list("roomir paper to ink", [PAPER, MIST, SLATE, INK, "#0a141c"])


def take_figure(recording: Recording, take: TakeReading) -> Figure:
    """Draw one take with its claps and with what was turned down.

    Parameters
    ----------
    recording : Recording
        The sound.
    take : TakeReading
        What was read of it.

    Returns
    -------
    matplotlib.figure.Figure
        Not shown and not saved; ``figure.savefig(path)`` does the latter.
    """
    return make_sheet(take_strips(spectrogram(recording.sound), take))


def take_strips(spectrum: Spectrogram, take: TakeReading) -> list[Strip]:
    """Make the parts of a sheet that show one take."""
    lanes = _lanes(take.claps)
    width_in = WIDTH_IN - 2.0 * MARGIN_IN
    name = shortened(drawable(PurePath(take.path).name), size_pt=HEAD_PT, weight="bold", width_in=width_in)
    used = sum(clap.used for clap in take.claps)
    told = [counted(used, "clap") + " read"]
    if len(take.claps) > used:
        told.append(f"{counted(len(take.claps) - used, 'sound')} turned down")
    return [
        paragraph(name, size_pt=HEAD_PT, weight="bold", after_in=0.02),
        paragraph(f"{_length(take.duration_s)}, {', '.join(told)}. Darker is louder.", size_pt=BODY_PT),
        Strip(height_in=_SPECTRUM_IN, draw=lambda place: _draw_spectrum(place, spectrum)),
        Strip(
            height_in=sum(_lane_in(lane) for lane in lanes) + _AXIS_IN,
            draw=lambda place: _draw_lanes(place, lanes, duration_s=spectrum.duration_s),
        ),
    ]


def short_words(code: str) -> str:
    """Say why an event was turned down in as few words as fit into the picture, from the remark's code.

    Examples
    --------
    >>> short_words("too-dull"), short_words("struck-twice")
    ('only bass: a step, a bump or a door', 'struck twice')
    """
    return _SHORT_WORDS.get(code, code.replace("-", " "))


def _draw_spectrum(place: Place, spectrum: Spectrogram) -> None:
    axes = place.axes(left_in=_LEFT_IN, right_in=_RIGHT_IN, bottom_in=0.06)
    axes.set_label("spectrogram")
    # White is what the take is like when nothing happens, so that events stand out of noise too.
    empty_db = float(np.percentile(spectrum.level_db, _EMPTY_PERCENTILE))
    axes.imshow(
        spectrum.level_db,
        origin="lower",
        aspect="auto",
        extent=(0.0, spectrum.duration_s, 0.0, spectrum.octaves),
        cmap=_PAPER_TO_INK,
        vmin=min(empty_db, -_LEAST_SPAN_DB),
        vmax=0.0,
        interpolation="nearest",
    )
    places = {hz: math.log2(hz / LOWEST_HZ) for hz in _TICKS_HZ}
    axes.set_yticks(
        [at for at in places.values() if at < spectrum.octaves],
        [band_name(hz) for hz, at in places.items() if at < spectrum.octaves],
    )
    axes.set_xticks([])


@dataclass(frozen=True, slots=True, kw_only=True)
class _Lane:
    """A row of marks under the spectrogram, with words above it."""

    words: str
    claps: tuple[ClapReading, ...]
    read: bool = False


def _lanes(claps: Sequence[ClapReading]) -> list[_Lane]:
    """Sort events into the claps that were read and a row for every reason, the commonest first."""
    used = tuple(clap for clap in claps if clap.used)
    words = "claps that were read, until the next sound or the end" if used else "no clap fit to be read"
    turned_down: dict[str, list[ClapReading]] = {}
    for clap in claps:
        if clap.set_aside_because is not None:
            code = clap.set_aside_because.code
            turned_down.setdefault(short_words(code), []).append(clap)
    reasons = sorted(turned_down, key=lambda reason: -len(turned_down[reason]))
    return [
        _Lane(words=words, claps=used, read=True),
        *(_Lane(words=reason, claps=tuple(turned_down[reason])) for reason in reasons),
    ]


def _lane_in(lane: _Lane) -> float:
    return _WORDS_IN + (_MARKS_IN if lane.claps else 0.0)


def _draw_lanes(place: Place, lanes: Sequence[_Lane], *, duration_s: float) -> None:
    axes = place.axes(left_in=_LEFT_IN, right_in=_RIGHT_IN, bottom_in=_AXIS_IN)
    axes.set_label("events")
    axes.set_xlim(0.0, duration_s)
    axes.set_ylim(place.height_in - _AXIS_IN, 0.0)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    _label_time(axes, duration_s=duration_s)
    top_in = 0.0
    for lane in lanes:
        label(axes, lane.words, at=(0.0, top_in + 0.55 * _WORDS_IN))
        _draw_marks(axes, lane, at_in=top_in + _WORDS_IN + 0.35 * _MARKS_IN)
        top_in += _lane_in(lane)


def _draw_marks(axes: Axes, lane: _Lane, *, at_in: float) -> None:
    look = _READ_MARK if lane.read else _TURNED_DOWN_MARK
    for clap in lane.claps:
        if lane.read:
            axes.plot([clap.onset_s, clap.stop_s], [at_in, at_in], color=INK, linewidth=2.0, gid="decay")
            axes.plot([clap.stop_s], [at_in], color=INK, marker="|", markersize=9.0, clip_on=False)
        axes.plot([clap.onset_s], [at_in], clip_on=False, **look)


def _label_time(axes: Axes, *, duration_s: float) -> None:
    in_minutes = duration_s > _MINUTES_FROM_S
    name_axis(axes.xaxis, "time [min:s]" if in_minutes else "time [s]")
    if in_minutes:
        step_s = next((step for step in _STEPS_S if duration_s <= _MOST_STEPS * step), duration_s)
        times_s = np.arange(0.0, duration_s + 1.0, step_s)
        axes.set_xticks(times_s, [f"{int(time_s) // 60}:{int(time_s) % 60:02d}" for time_s in times_s])


def _length(duration_s: float) -> str:
    """Say how long a take is: to a tenth of a second, a long one in minutes and seconds."""
    if duration_s <= _MINUTES_FROM_S:
        return f"{duration_s:.1f} s"
    return f"{round(duration_s) // 60} min {round(duration_s) % 60} s"
