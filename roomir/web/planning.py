"""Planning a room in the browser: describing it, choosing a target, and what to hang then."""

from __future__ import annotations

import asyncio
import hashlib
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse, RedirectResponse, Response
from starlette.routing import Route

from roomir import __version__, api, planning
from roomir.errors import ParameterError, RoomirError
from roomir.logbook.values import RoomNotes
from roomir.planning.hearing import sample_voice
from roomir.remarks import Remark
from roomir.report.page import PICTURES, Picture, templates
from roomir.report.wording import said_and_done
from roomir.rooms.targets import known_targets
from roomir.web.pairing import Session
from roomir.web.plan_work import KINDS, SOUNDS
from roomir.web.room_form import OPENINGS, SURFACES, RoomForm, empty_form, filled, form_of, key_of
from roomir.web.settings import Settings
from roomir.web.workshop import Workshop

_LONGEST_FIELD = 2000
_MOST_FAULTS = 20

_LEAST = {"area": "area", "count": "number of panels"}
"""What a proposal may keep small; a price list is for the command line."""

Endpoint = Callable[[Request, Session], Awaitable[Response]]
Paired = Callable[[Endpoint], Callable[[Request], Awaitable[Response]]]
TakeForm = Callable[[Request, Session], Awaitable[FormData]]
Say = Callable[..., Response]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kept:
    """A room as the logbook has it."""

    name: str
    description: str
    dimensions_m: tuple[float, float, float] | None
    stage: str
    state: str
    """Alike where a plan would be."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wish:
    """What somebody asks for."""

    target: str
    least: str
    with_players: bool


class Planner:
    """The pages under ``/plan``.

    Parameters
    ----------
    settings : Settings
        What the page runs with.
    form : callable
        Takes in a form and looks at its token.
    say : callable
        Answers with one line.
    """

    def __init__(self, settings: Settings, *, form: TakeForm, say: Say) -> None:
        from jinja2 import PackageLoader

        self._logbook = settings.logbook
        self._form = form
        self._say = say
        self._workshop = Workshop(folder=settings.folder / "plans", logbook=settings.logbook)
        self._templates = templates(PackageLoader("roomir.web", "templates"))

    def routes(self, paired: Paired) -> list[Route]:
        """Return the routes, each for paired browsers alone."""
        return [
            Route("/plan", paired(self._plan)),
            Route("/plan/room", paired(self._describe), methods=["POST"]),
            Route("/plan/made/{key}/{name}", paired(self._part)),
        ]

    async def close(self) -> None:
        """Stop what is on its way."""
        await self._workshop.close()

    # ------------------------------------------------------------------ looking

    async def _plan(self, request: Request, session: Session) -> Response:
        query = request.query_params
        room = query.get("room", "")[:_LONGEST_FIELD]
        wish = _wish(
            target=query.get("target", "")[:_LONGEST_FIELD],
            least=query.get("least", "area"),
            listen=query.get("listen", ""),
        )
        kept = await asyncio.to_thread(self._look, room)
        view: dict[str, Any] | None = {}
        key = _key(kept, wish)
        if wish.target or kept.description:
            if self._workshop.is_full and not self._workshop.is_running(key):
                return self._say(
                    request, "Too many plans are waiting: try again in a minute.", status=503, again_s=20
                )
            view = await self._workshop.make(
                key, room=kept.name, target=wish.target, least=wish.least, with_players=wish.with_players
            )
        form = await asyncio.to_thread(_form_for, kept)
        return HTMLResponse(self._page(kept, wish, form=form, csrf=session.csrf, key=key, view=view))

    async def _part(self, request: Request, session: Session) -> Response:
        del session
        name = request.path_params["name"]
        path = self._workshop.path(request.path_params["key"], name)
        if path is None:
            raise HTTPException(404)
        return FileResponse(path, media_type=KINDS[name])

    # ------------------------------------------------------------------ describing

    async def _describe(self, request: Request, session: Session) -> Response:
        sent = await self._form(request, session)
        typed = {
            name: value.strip()[:_LONGEST_FIELD]
            for name, value in sent.multi_items()
            if isinstance(value, str)
        }
        wish = _wish(target=typed.get("target", ""), least="area", listen="")
        kept = await asyncio.to_thread(self._look, typed.get("room", ""))
        if typed.get("how") == "file":
            file = sent.get("file")
            data = await file.read() if isinstance(file, UploadFile) else b""
            form, text = await asyncio.to_thread(_from_file, kept, data)
        else:
            form, text = await asyncio.to_thread(_from_fields, kept, typed)
        if form.is_wrong:
            page = self._page(kept, wish, form=form, csrf=session.csrf, key="", view={})
            return HTMLResponse(page, status_code=400)
        await asyncio.to_thread(self._keep, kept.name, text)
        place = {"room": kept.name, "target": wish.target}
        return RedirectResponse(f"/plan?{urlencode(place)}", status_code=303)

    def _keep(self, room: str, text: str) -> None:
        with api.open_logbook(self._logbook) as book:
            book.annotate_room(book.room(room), RoomNotes(description=text))

    # ------------------------------------------------------------------ what is shown

    def _look(self, room: str) -> _Kept:
        with api.open_logbook(self._logbook) as book:
            kept = book.room(room)
            with_takes = [stage for stage in book.stages(kept) if book.takes(of=stage)]
            read = ""
            if with_takes:
                reading = book.reading_together(with_takes[-1])
                read = repr([(one.figures.decay_time_s, one.figures.ci95_s) for one in reading.bands])
        stage = with_takes[-1].name if with_takes else ""
        size = str((kept.dimensions_m, kept.volume_m3))
        told = (__version__, kept.name, kept.description, size, stage, read)
        return _Kept(
            name=kept.name,
            description=kept.description,
            dimensions_m=kept.dimensions_m,
            stage=stage,
            state="\n".join(told),
        )

    def _page(
        self, kept: _Kept, wish: _Wish, *, form: RoomForm, csrf: str, key: str, view: dict[str, Any] | None
    ) -> str:
        parts = self._workshop.parts(key) if view else ()
        where = f"/plan/made/{key}"
        return self._templates.get_template("plan.html.j2").render(
            room=kept.name,
            csrf=csrf,
            stage=kept.stage,
            description=kept.description,
            has_size=kept.dimensions_m is not None,
            wish=wish,
            targets=[one.name for one in known_targets()],
            least=_LEAST,
            can_listen=sample_voice().exists(),
            waits=view is None,
            failed=(view or {}).get("failed", ""),
            step=None if not view or "failed" in view else view,
            pictures={
                name: Picture(words=words, src=f"{where}/{name}.svg")
                for name, words in PICTURES.items()
                if f"{name}.svg" in parts
            },
            sounds=[f"{where}/{name}" for name in SOUNDS if name in parts],
            form=form,
            surfaces=[(key_of(name), name) for name in SURFACES],
            openings=OPENINGS,
            materials=[row.name for row in planning.load_materials() if not row.each],
        )


def _wish(*, target: str, least: str, listen: str) -> _Wish:
    # A target may be a file on the command line; nobody names files through a browser.
    if target and target not in {one.name for one in known_targets()}:
        raise ParameterError(
            "there is no target of that name", code="unknown-target", remedy="choose one of the list"
        )
    if least not in _LEAST:
        raise HTTPException(400, "Keep area or number of panels small.")
    return _Wish(target=target, least=least, with_players=bool(listen and target and sample_voice().exists()))


def _key(kept: _Kept, wish: _Wish) -> str:
    told = "\n".join([kept.state, wish.target, wish.least, str(wish.with_players)])
    return hashlib.sha256(told.encode("utf-8", "replace")).hexdigest()[:32]


def _form_for(kept: _Kept) -> RoomForm:
    if not kept.description:
        return empty_form(dimensions_m=kept.dimensions_m)
    try:
        room, table = planning.described_room(kept.description, name="the description")
    except RoomirError:  # of an older version, or brought in from elsewhere
        return empty_form(dimensions_m=kept.dimensions_m)
    return form_of(room, materials=table)


def _from_fields(kept: _Kept, typed: dict[str, str]) -> tuple[RoomForm, str]:
    form, text = filled(typed, name=kept.name, materials=planning.load_materials())
    if text:
        form.others = _faults(text)
    return form, text


def _from_file(kept: _Kept, data: bytes) -> tuple[RoomForm, str]:
    form = _form_for(kept)
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        text = ""
        form.wrong["file"] = "The file is no text in UTF-8. Choose the room file, which ends in .toml."
    if not data:
        form.wrong["file"] = "No file was chosen. Choose the room file, which ends in .toml."
    if not form.wrong and (faults := _faults(text)):
        form.wrong["file"], *form.others = faults
    return form, text


def _faults(text: str) -> list[str]:
    """Say everything that is wrong with a description, a line each."""
    if "\0" in text:
        return ["The description holds a zero byte. Leave it out."]
    try:
        planning.described_room(text, name="the description")
    except RoomirError as error:
        all_of_them = [error, *getattr(error, "others", ())]
        return [
            said_and_done(Remark(code=one.code, says=one.says, remedy=one.remedy))
            for one in all_of_them[:_MOST_FAULTS]
        ]
    return []
