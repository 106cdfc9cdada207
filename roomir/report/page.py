"""The page of a room: one HTML file that needs nothing else, for a phone, a screen and paper."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from importlib.resources import files
from typing import TYPE_CHECKING

from roomir.compare.aim import Aim
from roomir.report.changes import CHANGE_SIGNS
from roomir.report.page_view import PageView, page_view
from roomir.report.unit_system import METRIC, UnitSystem

if TYPE_CHECKING:
    from roomir.compare.history import History
    from roomir.report.figures.sheet import Strip


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A drawing inside the page: its SVG, and what it shows in words."""

    svg: str
    words: str


def room_page(
    history: History,
    *,
    aims: Sequence[Aim] = (),
    units: UnitSystem = METRIC,
    now: datetime | None = None,
) -> str:
    """Write the page of a room.

    Parameters
    ----------
    history : History
        With stages, or with none.
    aims : sequence of Aim
        Every stage against a target, or none.
    units : UnitSystem
        For sizes and absorption.
    now : datetime, optional
        When the page is written, to stand on it.

    Returns
    -------
    str
        HTML. Names and words of others are escaped, nothing in it can run,
        and nothing is fetched.
    """
    from jinja2 import Environment, StrictUndefined

    view = page_view(history, aims=aims, units=units, now=now)
    folder = files("roomir.report").joinpath("templates")
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    template = environment.from_string(folder.joinpath("room.html.j2").read_text("utf-8"))
    return template.render(
        page=view,
        style=folder.joinpath("room.css").read_text("utf-8").strip(),
        signs=CHANGE_SIGNS,
        pictures=_pictures(history, view, aims=aims),
    )


def _pictures(history: History, view: PageView, *, aims: Sequence[Aim]) -> dict[str, Picture]:
    """Draw what there is to draw."""
    # Here and not above: matplotlib is paid for by those who draw.
    from roomir.report.figures.changes import change_strips
    from roomir.report.figures.stages import frequency_strips, stage_strips

    out = {}
    if len(history.stages) > 1:
        out["story"] = _picture(
            stage_strips(history, aims=aims), words="Decay time over the stages", salt="s"
        )
    if history.first_to_last is not None:
        out["change"] = _picture(
            change_strips(history.first_to_last), words="Change of the decay time in every band", salt="c"
        )
    if view.rows:
        out["curves"] = _picture(frequency_strips(history), words="Decay time over frequency", salt="f")
    return out


def _picture(strips: list[Strip], *, words: str, salt: str) -> Picture:
    from roomir.report.figures.inline import inline_svg

    return Picture(svg=inline_svg(strips, salt=salt), words=words)
