"""The page of a room: one HTML file that needs nothing else, for a phone, a screen and paper."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from importlib.resources import files
from typing import TYPE_CHECKING

from roomir.compare.aim import Aim
from roomir.report.changes import CHANGE_SIGNS
from roomir.report.page_view import page_view
from roomir.report.planning.next_step import NextStep, Player
from roomir.report.planning.next_step_view import next_step_view
from roomir.report.unit_system import METRIC, UnitSystem
from roomir.report.wording import printable

if TYPE_CHECKING:
    from jinja2 import BaseLoader, Environment

    from roomir.compare.history import History
    from roomir.report.figures.sheet import Strip


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A drawing on a page: what it shows in words, and its SVG or where that is to be had."""

    words: str
    svg: str = ""
    src: str = ""


def room_page(
    history: History,
    *,
    aims: Sequence[Aim] = (),
    units: UnitSystem = METRIC,
    now: datetime | None = None,
    step: NextStep | None = None,
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
    step : NextStep, optional
        What to hang next.

    Returns
    -------
    str
        HTML. Names and words of others are escaped, nothing in it can run,
        and nothing is fetched.
    """
    view = page_view(history, aims=aims, units=units, now=now)
    drawn = draw_pictures(history, aims=aims) | draw_step(step, units=units)
    return (
        templates()
        .get_template("room.html.j2")
        .render(
            page=view,
            style=files("roomir.report").joinpath("templates", "room.css").read_text("utf-8").strip(),
            signs=CHANGE_SIGNS,
            pictures={name: Picture(words=PICTURES[name], svg=svg) for name, svg in drawn.items()},
            step=None if step is None else next_step_view(step, units=units),
            sounds=() if step is None else tuple(map(_embedded, step.players)),
        )
    )


def templates(*more: BaseLoader) -> Environment:
    """Make what fills in the templates of this package, and of others before them.

    Parameters
    ----------
    more : loaders
        Where to look first.

    Returns
    -------
    jinja2.Environment
        It escapes everything, and a name that is missing is an error.
    """
    from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined

    return Environment(
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        # Whatever comes from outside is spelt out on its way onto the page; what is markup is our own.
        finalize=lambda value: printable(value) if type(value) is str else value,
        loader=ChoiceLoader([*more, PackageLoader("roomir.report", "templates")]),
    )


PICTURES = {
    "story": "Decay time over the stages",
    "change": "Change of the decay time in every band",
    "curves": "Decay time over frequency",
    "foreseen": "Decay time in every band, as predicted from the description and as read",
    "proposal": "Decay time in every band now, as proposed and with thin foam everywhere, before the target",
}
"""What each picture shows."""


def pictures_of(history: History) -> tuple[str, ...]:
    """Which of `PICTURES` there are of a room, without drawing any."""
    there = {
        "story": len(history.stages) > 1,
        "change": history.first_to_last is not None,
        "curves": bool(history.stages and history.stages[-1].reading.bands),
    }
    return tuple(name for name, is_there in there.items() if is_there)


def draw_step(step: NextStep | None, *, units: UnitSystem = METRIC) -> dict[str, str]:
    """Draw what to hang next: SVG by the names of `PICTURES`."""
    if step is None:
        return {}
    from roomir.report.figures.foreseen import foreseen_strips
    from roomir.report.figures.inline import inline_svg
    from roomir.report.figures.proposal import proposal_strips

    drawn = {}
    if step.foreseen is not None:
        drawn["foreseen"] = inline_svg(foreseen_strips(step.foreseen, step.read), salt="foreseen")
    if step.proposal is not None:
        drawn["proposal"] = inline_svg(proposal_strips(step.proposal, units=units), salt="proposal")
    return drawn


def _embedded(player: Player) -> str:
    return "data:audio/wav;base64," + base64.b64encode(player.wav).decode("ascii")


def draw_pictures(history: History, *, aims: Sequence[Aim] = ()) -> dict[str, str]:
    """Draw what there is to draw of a room: SVG by the names of `PICTURES`."""
    # Here and not above: matplotlib is paid for by those who draw.
    from roomir.report.figures.changes import change_strips
    from roomir.report.figures.inline import inline_svg
    from roomir.report.figures.stages import frequency_strips, stage_strips

    strips: dict[str, list[Strip]] = {}
    for name in pictures_of(history):
        if name == "story":
            strips[name] = stage_strips(history, aims=aims)
        elif name == "curves":
            strips[name] = frequency_strips(history)
        elif history.first_to_last is not None:
            strips[name] = change_strips(history.first_to_last)
    return {name: inline_svg(some, salt=name) for name, some in strips.items()}
