"""What the page shows: templates filled in with what the logbook and the report have."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from roomir import api
from roomir.errors import LogbookError, ParameterError
from roomir.report.changes import CHANGE_SIGNS
from roomir.report.page import PICTURES, Picture, draw_pictures, pictures_of, templates
from roomir.report.page_view import page_view
from roomir.report.view import TakeView, view
from roomir.rooms.targets import known_targets
from roomir.web.jobs import Job

if TYPE_CHECKING:
    from roomir.compare.aim import Aim
    from roomir.compare.history import History, StageReading
    from roomir.logbook.values import RoomSummary

_PICTURES_KEPT = 32


class Pages:
    """Every page, written from a logbook that is opened anew for each.

    Parameters
    ----------
    logbook : Path
        The logbook; there need not be one yet.
    """

    def __init__(self, logbook: Path) -> None:
        from jinja2 import PackageLoader

        self._logbook = logbook
        self._templates = templates(PackageLoader("roomir.web", "templates"))
        self._drawn: dict[object, dict[str, str]] = {}
        self._drawing = threading.Lock()

    def pairing(self, *, wrong: bool) -> str:
        """Ask for the code."""
        return self._fill("pair.html.j2", wrong=wrong)

    def home(self, *, csrf: str) -> str:
        """Show the rooms there are, and the way to the next recording."""
        return self._fill("home.html.j2", csrf=csrf, rooms=self._rooms())

    def another(self, *, links: tuple[str, ...], far: bool) -> str:
        """Show the link for another browser, to be typed or, on another machine, photographed."""
        import segno

        drawn = segno.make(links[0], error="m").svg_data_uri(scale=6, border=4, light="white")
        return self._fill("another.html.j2", links=links, drawn=drawn if far else None)

    def record(self, *, csrf: str, room: str, stage: str) -> str:
        """Show the recorder, and the form that does without it."""
        return self._fill("record.html.j2", csrf=csrf, room=room, stage=stage, rooms=self._rooms())

    def job(self, job: Job, *, csrf: str) -> str:
        """Show how far a lot of recordings is."""
        return self._fill("job.html.j2", job=job, csrf=csrf)

    def notice(self, says: str) -> str:
        """Say one thing."""
        return self._fill("notice.html.j2", says=says)

    def room(self, *, name: str, target: str, job: Job | None, csrf: str) -> str:
        """Show a room: the answer, its story, the bands, what changed, what to do."""
        history, aims = self._story(name, target)
        pictures = {
            which: Picture(
                words=PICTURES[which],
                src="/picture?" + urlencode({"room": name, "target": target, "which": which}),
            )
            for which in pictures_of(history)
        }
        latest = history.stages[-1] if history.stages else None
        return self._fill(
            "room_on_page.html.j2",
            page=page_view(history, aims=aims),
            signs=CHANGE_SIGNS,
            pictures=pictures,
            csrf=csrf,
            room=name,
            stage="" if latest is None else latest.name,
            takes=() if latest is None else _takes(latest),
            decays=None
            if latest is None or not latest.reading.bands
            else "/decays?" + urlencode({"room": name, "of": len(latest.takes)}),
            target=target,
            targets=[one.name for one in known_targets()],
            lot=None if job is None or job.result is None else [_became(one) for one in job.result["takes"]],
        )

    def picture(self, *, room: str, target: str, which: str) -> str | None:
        """Return one picture of a room as SVG; None where there is none of that name."""
        history, aims = self._story(room, target)
        return self._pictures(history, aims, target=target).get(which)

    def _story(self, room: str, target: str) -> tuple[History, tuple[Aim, ...]]:
        # A target may be a file on the command line; nobody names files through a browser.
        if target and target not in {one.name for one in known_targets()}:
            raise ParameterError(
                "there is no target of that name", code="unknown-target", remedy="choose one of the list"
            )
        with api.open_logbook(self._logbook) as book:
            history = api.history(book, room=room)
        return history, api.history_aims(history, target=target or None)

    def _pictures(self, history: History, aims: tuple[Aim, ...], *, target: str) -> dict[str, str]:
        key = (
            history.room,
            target,
            history.dimensions_m,
            history.volume_m3,
            tuple(
                (stage.name, tuple(take.sha256 for take in stage.reading.takes)) for stage in history.stages
            ),
        )
        with self._drawing:
            if key not in self._drawn:
                while len(self._drawn) >= _PICTURES_KEPT:
                    self._drawn.pop(next(iter(self._drawn)))
                self._drawn[key] = draw_pictures(history, aims=aims)
            return self._drawn[key]

    def _rooms(self) -> tuple[RoomSummary, ...]:
        try:
            with api.open_logbook(self._logbook) as book:
                return book.summaries()
        except LogbookError as error:
            if error.code == "no-logbook":
                return ()
            raise

    def _fill(self, template: str, **values: Any) -> str:  # noqa: ANN401 - whatever the template names
        return self._templates.get_template(template).render(**values)


def _became(take: dict[str, Any]) -> str:
    """Say what became of one recording; names within stay as they are spelt."""
    outcome, failure = str(take["outcome"]), take.get("failure")
    says = outcome[:1].upper() + outcome[1:]
    if take.get("take") and take["take"]["spot"]:
        says += f": {take['take']['spot']}"
    if failure is None:
        return f"{says}."
    why = str(failure["says"]).removeprefix(f"{take.get('name', '')}: ")
    return f"{says}. {why[:1].upper()}{why[1:]}; {failure['remedy']}."


def _takes(stage: StageReading) -> tuple[tuple[str, TakeView], ...]:
    """Return each take of a stage with the name of its spot, or of its file where it has none."""
    return tuple(
        (position or one.path, one)
        for position, one in zip(stage.positions, view(stage.reading).takes, strict=True)
    )
