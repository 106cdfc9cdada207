"""A picture as SVG inside a page: without a size of its own, and with names that no other picture bears."""

from __future__ import annotations

import io
import re
from collections.abc import Sequence

import matplotlib as mpl

from roomir.report.figures.sheet import Strip, make_sheet


def inline_svg(strips: Sequence[Strip], *, salt: str) -> str:
    """Draw strips as an SVG element.

    Parameters
    ----------
    strips : sequence of Strip
        Parts of the picture, one below the other.
    salt : str
        Sets apart from other pictures on the page what this one defines and refers to.

    Returns
    -------
    str
        From ``<svg`` to ``</svg>``; the same strips give the same text. Text
        is drawn as shapes, so it looks alike everywhere and needs no font.
    """
    out = io.StringIO()
    with mpl.rc_context({"svg.fonttype": "path", "svg.hashsalt": salt}):
        make_sheet(strips).savefig(out, format="svg", metadata={"Date": None, "Creator": None})
    svg = out.getvalue()
    svg = svg[svg.index("<svg") :].rstrip()
    # The page decides how wide it is, and nobody on the page reads the metadata.
    svg = re.sub(r"<metadata>.*?</metadata>", "", svg, count=1, flags=re.DOTALL)
    svg = re.sub(r' (?:width|height)="[\d.]+pt"', "", svg, count=2)
    return _apart(svg, salt=salt)


def _apart(svg: str, *, salt: str) -> str:
    """Give what a picture refers to a name of its own on the page, and leave out all other names."""
    used = set(re.findall(r'(?:url\(#|href="#)([^)"]+)', svg))
    svg = re.sub(r' id="([^"]*)"', lambda found: f' id="{salt}-{found[1]}"' if found[1] in used else "", svg)
    return re.sub(r'(url\(#|href="#)', rf"\g<1>{salt}-", svg)
