"""What lines and signs mean, said beside one of each as it looks in the picture."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from matplotlib.axes import Axes

from roomir.report.figures.sheet import (
    INK,
    MARGIN_IN,
    SMALL_PT,
    WIDTH_IN,
    Look,
    Place,
    Strip,
    label,
    shortened,
    width_of,
)

_LINE_IN = 0.27
_LINE_SAMPLE_IN = 0.45
_SIGN_SAMPLE_IN = 0.13
_BEFORE_WORDS_IN = 0.17
_BETWEEN_IN = 0.3

TRUST_SIGNS = {"reliable": "●", "indicative": "◇", "unusable": "\N{MULTIPLICATION SIGN}"}
"""Trust in a line of text, by the shape that `TRUST_LOOKS` draws."""

TRUST_LOOKS: dict[str, Look] = {
    "reliable": {"marker": "o", "fillstyle": "full", "markersize": 9.0},
    "indicative": {"marker": "D", "fillstyle": "none", "markersize": 8.0, "markeredgewidth": 1.8},
    "unusable": {"marker": "x", "fillstyle": "none", "markersize": 8.0, "markeredgewidth": 2.0},
}
"""Trust by shape and filling, so that it needs no colour."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """A line or sign and its meaning; ``look`` is what ``Axes.plot`` takes."""

    words: str
    look: Look = field(default_factory=dict)
    upright: bool = False


def key(entries: Sequence[Entry]) -> Strip:
    """Make a strip with one line for every entry."""
    return _key_strip([[entry] for entry in entries])


def trust_key() -> Strip:
    """Make a strip that says what the shapes of `TRUST_LOOKS` mean, in one line."""
    return _key_strip(
        [[Entry(words=verdict, look={"color": INK, **look}) for verdict, look in TRUST_LOOKS.items()]]
    )


def _key_strip(lines: Sequence[Sequence[Entry]]) -> Strip:
    width_in = WIDTH_IN - 2.0 * MARGIN_IN

    def draw(place: Place) -> None:
        axes = place.axes(left_in=MARGIN_IN, right_in=MARGIN_IN)
        axes.set_axis_off()
        axes.set_label("key")
        axes.set_xlim(0.0, width_in)
        axes.set_ylim(place.height_in, 0.0)
        for i, line in enumerate(lines):
            left_in, middle_in = 0.0, (i + 0.5) * _LINE_IN
            for entry in line:
                sample_in = _LINE_SAMPLE_IN if len(line) == 1 else _SIGN_SAMPLE_IN
                _draw_sample(axes, entry, left_in=left_in, width_in=sample_in, middle_in=middle_in)
                left_in += sample_in + _BEFORE_WORDS_IN
                words = shortened(entry.words, size_pt=SMALL_PT, width_in=width_in - left_in)
                label(axes, words, at=(left_in, middle_in))
                left_in += width_of(words, size_pt=SMALL_PT) + _BETWEEN_IN

    return Strip(height_in=len(lines) * _LINE_IN + 0.12, draw=draw)


def _draw_sample(axes: Axes, entry: Entry, *, left_in: float, width_in: float, middle_in: float) -> None:
    centre_in = left_in + width_in / 2
    if entry.upright:
        half_in = 0.38 * _LINE_IN
        axes.plot([centre_in] * 2, [middle_in - half_in, middle_in + half_in], **entry.look)
    elif "marker" in entry.look:
        axes.plot([centre_in], [middle_in], clip_on=False, **{"linestyle": "none", **entry.look})
    else:
        axes.plot([left_in, left_in + width_in], [middle_in] * 2, **entry.look)
