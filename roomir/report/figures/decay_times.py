"""Decay time against frequency as a picture, for one reading or for several side by side."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from roomir.bands.band import OCTAVES
from roomir.reading.reading import BandFigures, Reading
from roomir.report.answer import interval_note
from roomir.report.figures.key import TRUST_LOOKS, Entry, key, trust_key
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
    drawable,
    make_sheet,
    name_axis,
    paragraph,
)
from roomir.report.quantities import band_decimals
from roomir.report.rounding import rounded
from roomir.report.wording import band_name, joined

# By dashes first; dark to light, so that stages stay apart in grey too.
_LINES = ((INK, "-"), (RUST, "--"), (SLATE, ":"), ("#a08a4a", "-."))

_LEFT_IN = 0.98
_PLOT_IN = 3.4
_TICKS_IN = 0.36
_VALUES_IN = 0.26
_MOST_LABELS = 10
_HEADROOM = 1.12


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
    return make_sheet(decay_time_strips(readings))


def decay_time_strips(readings: Mapping[str, Reading]) -> list[Strip]:
    """Make the parts of a sheet that show decay times."""
    names = {drawable(name): reading for name, reading in readings.items()}
    bands = {one.figures.band for reading in names.values() for one in reading.bands}
    if not bands:
        return [paragraph("No clap was fit to be read, so there is no decay time.")]
    per_octave = "third-octave" if max(band.fraction for band in bands) > 1 else "octave"
    strips = [paragraph(f"Decay time in every {per_octave} band", size_pt=HEAD_PT, weight="bold")]
    if len(names) > 1:
        looks = [{"color": colour, "linestyle": dashes, "linewidth": 2.0} for colour, dashes in _LINES]
        words = [name if _known(one) else f"{name} (no decay time)" for name, one in names.items()]
        strips.append(key([Entry(words=one, look=looks[i % len(looks)]) for i, one in enumerate(words)]))
    values_in = _VALUES_IN if _has_values(names) else 0.0
    return [
        *strips,
        trust_key(),
        Strip(
            height_in=_PLOT_IN + _TICKS_IN + values_in + 0.1,
            draw=lambda place: _draw(place, names, below_in=_TICKS_IN + values_in + 0.1),
        ),
        *(paragraph(note, size_pt=SMALL_PT, after_in=0.05) for note in _notes(names)),
    ]


def _known(reading: Reading) -> list[tuple[float, BandFigures]]:
    """Pick out the bands that have a decay time, with that time."""
    return [
        (one.figures.decay_time_s, one.figures)
        for one in reading.bands
        if one.figures.decay_time_s is not None
    ]


def _has_values(readings: Mapping[str, Reading]) -> bool:
    """Whether there is room for the numbers under the names of the bands."""
    return len(readings) == 1 and all(len(one.bands) <= _MOST_LABELS for one in readings.values())


def _notes(readings: Mapping[str, Reading]) -> list[str]:
    """Say which kind of interval the bars are, for each reading where they differ."""
    names: dict[str, list[str]] = {}
    for name, reading in readings.items():
        if note := interval_note(reading.bands):
            names.setdefault(note.replace("In brackets", "Bars"), []).append(name)
    notes = [note if len(names) == 1 else f"{joined(names[note])}. {note}" for note in names]
    top_s = _top_s(readings.values())
    shown = [figures for reading in readings.values() for _, figures in _known(reading)]
    if any(figures.ci95_s is not None and figures.ci95_s[1] > top_s for figures in shown):
        notes.append("A bar that leaves the picture belongs to a band that is not usable.")
    return notes


def _draw(place: Place, readings: Mapping[str, Reading], *, below_in: float) -> None:
    axes = place.axes(left_in=_LEFT_IN, right_in=MARGIN_IN, bottom_in=below_in)
    axes.set_label("decay times")
    axes.grid(axis="y", color=MIST, linewidth=0.8)
    axes.set_axisbelow(True)
    axes.set_xscale("log")
    for i, reading in enumerate(readings.values()):
        colour, dashes = _LINES[i % len(_LINES)]
        # Side by side, or the intervals of two stages would hide each other.
        shift = 1.05 ** (i - (len(readings) - 1) / 2.0)
        _draw_reading(axes, reading, colour=colour, dashes=dashes, shift=shift)
    figures = [one.figures for reading in readings.values() for one in reading.bands]
    _label_bands(axes, figures, with_values=_has_values(readings))
    axes.set_ylim(0.0, _top_s(readings.values()))
    name_axis(axes.yaxis, "decay time [s]")


def _label_bands(axes: Axes, figures: Sequence[BandFigures], *, with_values: bool) -> None:
    bands = sorted({one.band for one in figures}, key=lambda band: band.exact_hz)
    axes.set_xlim(bands[0].exact_hz / 1.4, bands[-1].exact_hz * 1.4)
    octaves_hz = {band.nominal_hz for band in OCTAVES}
    # Third octaves stand too close together for every name.
    named = [band for band in bands if len(bands) <= _MOST_LABELS or band.nominal_hz in octaves_hz]
    names = {band: band_name(band.nominal_hz) for band in named}
    if with_values:
        for one in figures:
            names[one.band] += f"\n{rounded(one.decay_time_s, decimals=band_decimals(one))}"
    axes.set_xticks([band.exact_hz for band in names], list(names.values()))
    axes.set_xticks([], minor=True)


def _top_s(readings: Iterable[Reading]) -> float:
    """Where the axis ends: an interval nobody should use may run out of the picture. [s]."""
    highest_s = [0.0]
    for reading in readings:
        for time_s, figures in _known(reading):
            usable = figures.ci95_s is not None and figures.verdict != "unusable"
            highest_s.append(max(time_s, figures.ci95_s[1]) if usable and figures.ci95_s else time_s)
    return _HEADROOM * max(highest_s) or 1.0


def _draw_reading(axes: Axes, reading: Reading, *, colour: str, dashes: str, shift: float) -> None:
    known = _known(reading)
    axes.plot(
        [figures.band.exact_hz * shift for _, figures in known],
        # A line through a number nobody should use would invite its use.
        [time_s if figures.verdict != "unusable" else math.nan for time_s, figures in known],
        color=colour,
        linestyle=dashes,
        linewidth=1.6,
        gid="decay times",
    )
    for time_s, figures in known:
        axes.errorbar(
            [figures.band.exact_hz * shift],
            [time_s],
            yerr=_reach(time_s, figures),
            color=colour,
            capsize=4.0,
            elinewidth=1.4,
            linestyle="none",
            **TRUST_LOOKS[figures.verdict],
        )


def _reach(time_s: float, figures: BandFigures) -> list[list[float]] | None:
    if figures.ci95_s is None:
        return None
    low_s, high_s = figures.ci95_s
    # The estimate may lie outside an interval that comes from elsewhere; a bar cannot be negative.
    return [[max(time_s - low_s, 0.0)], [max(high_s - time_s, 0.0)]]
