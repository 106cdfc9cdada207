"""The page's routes: who may see what, and what is made of what they send."""

from __future__ import annotations

import asyncio
import gzip
import secrets
import unicodedata
from collections.abc import Awaitable, Callable
from contextlib import asynccontextmanager
from importlib.resources import files
from typing import Any

from starlette.applications import Starlette
from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, PlainTextResponse, RedirectResponse, Response
from starlette.routing import Route

from roomir.errors import RoomirError
from roomir.web.arrival import DiskFullError, Space, keep
from roomir.web.body import Limits
from roomir.web.gallery import Gallery
from roomir.web.guard import Guard
from roomir.web.jobs import Jobs, TooManyError
from roomir.web.pages import Pages
from roomir.web.pairing import Pairing, Session, Sessions
from roomir.web.planning import Planner
from roomir.web.settings import Settings

MOST_FILES = 20
_MOST_FIELDS = 40
_LONGEST_FIELD = 2000

STATIC = {
    "page.css": "text/css",
    "pair.js": "text/javascript",
    "record.js": "text/javascript",
    "send.js": "text/javascript",
    "takes.js": "text/javascript",
    "meter.js": "text/javascript",
}
"""Every file of the page's own, by name; there is no way to ask for another."""

Endpoint = Callable[[Request, Session], Awaitable[Response]]


class Page:
    """The page as an application.

    Parameters
    ----------
    settings : Settings
        What it runs with.
    pairing : Pairing
        Codes for new browsers.
    told : callable
        Told a new code that somebody asked for.
    """

    def __init__(self, settings: Settings, *, pairing: Pairing, told: Callable[[str], None]) -> None:
        self.settings = settings
        self._pairing = pairing
        self._told = told
        self._sessions = Sessions(settings.folder / "browsers.json")
        self._cookie = "__Host-roomir" if settings.secure else "roomir"
        self._jobs = Jobs(folder=settings.folder / "arriving", logbook=settings.logbook)
        self._space = Space(settings.folder)
        self._pages = Pages(settings.logbook)
        self._gallery = Gallery(folder=settings.folder / "pictures", logbook=settings.logbook)
        self._planner = Planner(settings, form=self._form, say=self._say)
        paired = self._paired
        routes = Starlette(
            routes=[
                Route("/", self._home),
                Route("/pair", self._pair, methods=["POST"]),
                Route("/static/{name}", self._static),
                Route("/record", paired(self._record)),
                Route("/takes", paired(self._takes), methods=["POST"]),
                Route("/takes/{job}", paired(self._take)),
                Route("/takes/{job}/answer", paired(self._answer), methods=["POST"]),
                Route("/room", paired(self._room)),
                Route("/picture", paired(self._picture)),
                Route("/decays", paired(self._decays)),
                *self._planner.routes(paired),
                Route("/another", paired(self._another), methods=["POST"]),
                Route("/leave", paired(self._leave), methods=["POST"]),
            ],
            middleware=[Middleware(Limits, large=("/takes",))],
            exception_handlers={HTTPException: self._refused, RoomirError: self._failed},
            lifespan=self._lifespan,
        )
        routes.router.redirect_slashes = False
        # Outside of everything, so that even what goes wrong within is answered with its headers.
        self.app = Guard(routes, hosts=settings.hosts, scheme=settings.scheme)

    @asynccontextmanager
    async def _lifespan(self, app: Starlette) -> Any:  # noqa: ANN401 - an async iterator of nothing
        del app
        yield
        await self._planner.close()
        await self._jobs.close()

    # ------------------------------------------------------------------ who it is

    def _session(self, request: Request) -> Session | None:
        return self._sessions.find(request.cookies.get(self._cookie))

    def _paired(self, endpoint: Endpoint) -> Callable[[Request], Awaitable[Response]]:
        async def serve(request: Request) -> Response:
            session = self._session(request)
            if session is None:
                if request.method in ("GET", "HEAD") and not _wants_json(request):
                    return RedirectResponse("/", status_code=303)
                raise HTTPException(403, "This browser is not paired with the computer.")
            try:
                return await endpoint(request, session)
            finally:
                await request.close()

        return serve

    async def _form(self, request: Request, session: Session | None) -> FormData:
        try:
            form = await request.form(max_files=MOST_FILES, max_fields=_MOST_FIELDS, max_part_size=64 * 1024)
        except (ValueError, LookupError, TypeError, AttributeError) as error:
            # What parsers of forms raise for nonsense differs from release to release.
            raise HTTPException(400, "That is no form.") from error
        if session is not None:
            token = _text(form, "csrf")
            if not secrets.compare_digest(token.encode(), session.csrf.encode()):
                raise HTTPException(403, "This form is out of date: load the page again.")
        return form

    async def _home(self, request: Request) -> Response:
        session = self._session(request)
        if session is None:
            return HTMLResponse(self._pages.pairing(wrong=False))
        return HTMLResponse(await _in_thread(self._pages.home, csrf=session.csrf))

    async def _pair(self, request: Request) -> Response:
        try:
            code = _text(await self._form(request, None), "code")
        finally:
            await request.close()
        if not self._pairing.redeem(code):
            return HTMLResponse(self._pages.pairing(wrong=True), status_code=403)
        response = RedirectResponse("/", status_code=303)
        response.set_cookie(
            self._cookie,
            self._sessions.begin(),
            httponly=True,
            samesite="strict",
            secure=self.settings.secure,
            path="/",
            max_age=12 * 3600,
        )
        return response

    async def _another(self, request: Request, session: Session) -> Response:
        await self._form(request, session)
        code = self._pairing.new_code()
        self._told(code)
        links = tuple(self.settings.link(name, code=code) for name in self.settings.names)
        return HTMLResponse(self._pages.another(links=links, far=self.settings.secure))

    async def _leave(self, request: Request, session: Session) -> Response:
        await self._form(request, session)
        self._sessions.end(session)
        response = RedirectResponse("/", status_code=303)
        response.delete_cookie(self._cookie, path="/", secure=self.settings.secure, httponly=True)
        return response

    async def _static(self, request: Request) -> Response:
        name = request.path_params["name"]
        kind = STATIC.get(name)
        # Script and looks of the pairing page are for everybody, the rest is not.
        if kind is None or (name not in ("page.css", "pair.js") and self._session(request) is None):
            raise HTTPException(404)
        text = files("roomir.web").joinpath("static", name).read_bytes()
        return Response(text, media_type=kind)

    # ------------------------------------------------------------------ recordings

    async def _record(self, request: Request, session: Session) -> Response:
        return HTMLResponse(
            await _in_thread(
                self._pages.record,
                csrf=session.csrf,
                room=request.query_params.get("room", "")[:_LONGEST_FIELD],
                stage=request.query_params.get("stage", "")[:_LONGEST_FIELD],
            )
        )

    async def _takes(self, request: Request, session: Session) -> Response:
        if not request.headers.get("content-type", "").lower().startswith("multipart/form-data"):
            raise HTTPException(415, "Recordings come as a form in parts.")
        try:
            with self._space.for_body(request):
                return await self._take_in(request, session)
        except DiskFullError:
            return self._say(
                request, "The computer's disk is full: make room, then try again.", status=503, again_s=60
            )

    async def _take_in(self, request: Request, session: Session) -> Response:
        form = await self._form(request, session)
        sent = [one for one in form.getlist("take") if isinstance(one, UploadFile) and one.filename]
        room, stage = _text(form, "room").strip(), _text(form, "stage").strip()
        if not sent or not room or not stage:
            return self._say(request, "Name the room and the stage, and choose a recording.", status=400)
        spot, dimensions = _text(form, "spot").strip(), _text(form, "dimensions").strip()
        if any(unicodedata.category(sign) == "Cc" for sign in room + stage + spot + dimensions):
            return self._say(request, "Names are made of letters, digits and signs, in one line.", status=400)
        kept = await keep(sent, self._jobs)
        try:
            job = self._jobs.begin(
                owner=session.name, files=kept, room=room, stage=stage, spot=spot, dimensions=dimensions
            )
        except TooManyError:
            for path, _ in kept:
                self._jobs.drop(path)
            return self._say(
                request, "Too many recordings are waiting: try again in a minute.", status=503, again_s=20
            )
        if _wants_json(request):
            return JSONResponse(job.document(), status_code=202)
        return RedirectResponse(f"/takes/{job.name}", status_code=303)

    async def _take(self, request: Request, session: Session) -> Response:
        job = self._jobs.find(request.path_params["job"])
        if job is None:
            return self._say(request, "That was a while ago: look under its room.", status=404)
        if _wants_json(request):
            return JSONResponse(job.document())
        if job.state == "done":
            return RedirectResponse(job.leads_to, status_code=303)
        return HTMLResponse(self._pages.job(job, csrf=session.csrf))

    async def _answer(self, request: Request, session: Session) -> Response:
        form = await self._form(request, session)
        job = self._jobs.find(request.path_params["job"])
        if job is None:
            raise HTTPException(404)
        self._jobs.answer(job, option={"new": "--new", "there": "--yes"}.get(_text(form, "name"), ""))
        if _wants_json(request):
            return JSONResponse(job.document())
        return RedirectResponse(f"/takes/{job.name}", status_code=303)

    # ------------------------------------------------------------------ rooms

    async def _room(self, request: Request, session: Session) -> Response:
        query = request.query_params
        job = self._jobs.find(query.get("lot", ""))
        page = await _in_thread(
            self._pages.room,
            name=query.get("room", "")[:_LONGEST_FIELD],
            target=query.get("target", "")[:_LONGEST_FIELD],
            job=job,
            csrf=session.csrf,
        )
        return HTMLResponse(page)

    async def _picture(self, request: Request, session: Session) -> Response:
        del session
        query = request.query_params
        svg = await _in_thread(
            self._pages.picture,
            room=query.get("room", "")[:_LONGEST_FIELD],
            target=query.get("target", "")[:_LONGEST_FIELD],
            which=query.get("which", ""),
        )
        if svg is None:
            raise HTTPException(404)
        return await asyncio.to_thread(_drawing, request=request, svg=svg.encode())

    async def _decays(self, request: Request, session: Session) -> Response:
        del session
        svg = await self._gallery.decays(request.query_params.get("room", "")[:_LONGEST_FIELD])
        if svg is None:
            raise HTTPException(404)
        return await asyncio.to_thread(_drawing, request=request, svg=svg)

    # ------------------------------------------------------------------ what went wrong

    def _say(self, request: Request, says: str, *, status: int, again_s: int | None = None) -> Response:
        headers = {} if again_s is None else {"Retry-After": str(again_s)}
        if _wants_json(request):
            return JSONResponse({"says": says}, status_code=status, headers=headers)
        return HTMLResponse(self._pages.notice(says), status_code=status, headers=headers)

    async def _refused(self, request: Request, error: Exception) -> Response:
        assert isinstance(error, HTTPException)
        if error.status_code == 404 and not _wants_json(request):
            return PlainTextResponse("There is no such page.\n", status_code=404)
        answer = self._say(request, str(error.detail), status=error.status_code)
        answer.headers.update(error.headers or {})
        return answer

    async def _failed(self, request: Request, error: Exception) -> Response:
        assert isinstance(error, RoomirError)
        missing = error.code in ("no-such-room", "no-such-stage", "no-logbook")
        return self._say(request, f"{error}", status=404 if missing else 400)


async def _in_thread(function: Callable[..., Any], /, **options: Any) -> Any:  # noqa: ANN401 - passed through
    return await asyncio.to_thread(function, **options)


def _drawing(*, request: Request, svg: bytes) -> Response:
    # Only drawings are packed: they are large, and hold nothing secret whose length could give it away.
    if "gzip" not in request.headers.get("accept-encoding", ""):
        return Response(svg, media_type="image/svg+xml", headers={"Vary": "Accept-Encoding"})
    packed = gzip.compress(svg, compresslevel=6)
    return Response(
        packed,
        media_type="image/svg+xml",
        headers={"Content-Encoding": "gzip", "Vary": "Accept-Encoding"},
    )


def _text(form: FormData, name: str) -> str:
    value = form.get(name, "")
    if not isinstance(value, str):
        return ""
    # A sender may declare a coding in which halves of signs can be written; those are no text.
    return value[:_LONGEST_FIELD].encode("utf-8", "replace").decode("utf-8")


def _wants_json(request: Request) -> bool:
    return "application/json" in request.headers.get("accept", "")
