"""A sheet of pictures one below the other, as wide as a phone held upright.

Everything is placed in inches from the top, so that a picture looks the same
alone and on a page of many. Nothing here touches matplotlib's global state,
and colours, fonts and sizes are set on each object, so that nobody's own
settings change what is drawn.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, findfont, get_font
from matplotlib.text import Text
from matplotlib.textpath import TextToPath

from roomir.report.wording import printable

WIDTH_IN = 7.2
DPI = 150
"""Together 1080 pixels, the width of a common phone's screen."""

MARGIN_IN = 0.25

SMALL_PT = 13.0
"""27 pixels on the phone: the least that is read at arm's length without zooming."""
BODY_PT = 14.5
HEAD_PT = 18.0

# Told apart by lightness first, so that grey paper and colour-blind eyes lose nothing: ink at 20 %,
# rust at 45 %, slate at 60 %, mist at 85 % of white.
INK = "#1b2f3f"
RUST = "#b5541c"
SLATE = "#7f8d98"
MIST = "#d3dadf"
PAPER = "white"

FONT = "DejaVu Sans"
"""Comes with matplotlib, so a figure looks the same on every machine."""

_LINE = 1.3

Look = dict[str, Any]
"""How a line, a mark or a text is drawn, as matplotlib's methods take it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A stretch of the sheet, full width, for one strip to draw on."""

    figure: Figure
    bottom_in: float
    height_in: float

    def axes(self, *, left_in: float, right_in: float, top_in: float = 0.0, bottom_in: float = 0.0) -> Axes:
        """Make axes with these margins inside the place."""
        width_in, total_in = self.figure.get_size_inches()
        axes = self.figure.add_axes(
            (
                left_in / width_in,
                (self.bottom_in + bottom_in) / total_in,
                (width_in - left_in - right_in) / width_in,
                (self.height_in - top_in - bottom_in) / total_in,
            )
        )
        axes.set_facecolor(PAPER)
        for side, spine in axes.spines.items():
            spine.set_visible(side in {"left", "bottom"})
            spine.set_color(SLATE)
            spine.set_linewidth(1.0)
        axes.tick_params(
            which="both", colors=SLATE, labelcolor=INK, labelsize=SMALL_PT, labelfontfamily=FONT, length=4.0
        )
        return axes

    def write(
        self,
        text: str,
        *,
        left_in: float = MARGIN_IN,
        top_in: float = 0.0,
        size_pt: float = BODY_PT,
        weight: str = "normal",
        colour: str = INK,
        align: str = "left",
    ) -> None:
        """Write one line; ``top_in`` is where its top is, from the top of the place."""
        width_in, total_in = self.figure.get_size_inches()
        self.figure.text(
            left_in / width_in,
            (self.bottom_in + self.height_in - top_in) / total_in,
            text,
            va="top",
            ha=align,
            **_style(size_pt, weight, colour),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """A part of the sheet: its height, and what draws it."""

    height_in: float
    draw: Callable[[Place], None]


def make_sheet(strips: Sequence[Strip]) -> Figure:
    """Put strips one below the other on a figure of their own."""
    total_in = sum(strip.height_in for strip in strips) + 2.0 * MARGIN_IN
    figure = Figure(figsize=(WIDTH_IN, total_in), dpi=DPI, facecolor=PAPER)
    figure.set_layout_engine("none")  # whatever the settings of whoever draws say
    top_in = total_in - MARGIN_IN
    for strip in strips:
        top_in -= strip.height_in
        strip.draw(Place(figure=figure, bottom_in=top_in, height_in=strip.height_in))
    return figure


def paragraph(
    text: str, *, size_pt: float = BODY_PT, weight: str = "normal", colour: str = INK, after_in: float = 0.12
) -> Strip:
    """Make a strip of text, broken into lines as wide as the sheet."""
    lines = broken(text, size_pt=size_pt, weight=weight, width_in=WIDTH_IN - 2.0 * MARGIN_IN)
    line_in = _LINE * size_pt / 72.0

    def draw(place: Place) -> None:
        for i, line in enumerate(lines):
            place.write(line, top_in=i * line_in, size_pt=size_pt, weight=weight, colour=colour)

    return Strip(height_in=len(lines) * line_in + after_in, draw=draw)


def gap(height_in: float) -> Strip:
    """Make a strip of nothing."""
    return Strip(height_in=height_in, draw=lambda _: None)


def label(
    axes: Axes,
    text: str,
    *,
    at: tuple[float, float],
    align: str = "left",
    valign: str = "center",
    size_pt: float = SMALL_PT,
    colour: str = INK,
    weight: str = "normal",
    inside: bool = False,
) -> Text:
    """Write beside something in the axes: ``at`` in data, or as shares of the axes where ``inside``."""
    return axes.text(
        *at,
        text,
        ha=align,
        va=valign,
        transform=axes.transAxes if inside else axes.transData,
        **_style(size_pt, weight, colour),
    )


def name_axis(axis: Axis, text: str) -> None:
    """Write what an axis shows, with its unit, beside it."""
    axis.set_label_text(text, **_style(SMALL_PT, "normal", INK))


def _style(size_pt: float, weight: str, colour: str) -> Look:
    # Names of files come this way, and a $ in a name is no formula.
    return {
        "fontsize": size_pt,
        "fontweight": weight,
        "fontfamily": FONT,
        "color": colour,
        "parse_math": False,
        "usetex": False,
    }


# ------------------------------------------------------------------ text that fits


def drawable(text: str) -> str:
    r"""Write text from outside with nothing but signs that the font has.

    Examples
    --------
    >>> drawable("Küche $1$ \x07")
    'Küche $1$ \\x07'
    """
    font = get_font(findfont(FontProperties(family=FONT)))
    return "".join(
        c if font.get_char_index(ord(c)) else c.encode("unicode_escape").decode("ascii")
        for c in printable(text)
    )


@lru_cache(maxsize=4096)
def width_of(text: str, *, size_pt: float, weight: str = "normal") -> float:
    """Width of one line of text. [in]."""
    font = FontProperties(family=FONT, size=size_pt, weight=weight)
    width_pt, _, _ = TextToPath().get_text_width_height_descent(text, font, ismath=False)
    return float(width_pt) / 72.0


def broken(text: str, *, size_pt: float, width_in: float, weight: str = "normal") -> list[str]:
    """Break text into lines no wider than ``width_in``, and words too where one is wider."""
    lines = [""]
    for word in text.split(" "):
        longer = f"{lines[-1]} {word}" if lines[-1] else word
        if width_of(longer, size_pt=size_pt, weight=weight) <= width_in:
            lines[-1] = longer
            continue
        if lines[-1]:
            lines.append("")
        for sign in word:
            if lines[-1] and width_of(lines[-1] + sign, size_pt=size_pt, weight=weight) > width_in:
                lines.append("")
            lines[-1] += sign
    return lines


def shortened(text: str, *, size_pt: float, width_in: float, weight: str = "normal") -> str:
    """Cut the middle out of a line that is wider than ``width_in``."""
    if width_of(text, size_pt=size_pt, weight=weight) <= width_in:
        return text
    keep = len(text)
    short = text
    while keep > 2 and width_of(short, size_pt=size_pt, weight=weight) > width_in:
        keep -= 1
        # The end of a name tells takes apart more often than its beginning.
        short = f"{text[: keep // 2]}…{text[-(keep - keep // 2) :]}"
    return short
