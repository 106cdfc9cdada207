"""What stands before every route: who is spoken to, from where, and what a browser may do with the answer."""

from __future__ import annotations

from collections.abc import Iterable

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

POLICY = (
    "default-src 'self'; img-src 'self' data: blob:; media-src 'self' blob:; object-src 'none';"
    " base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)

HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "microphone=(self), screen-wake-lock=(self), camera=(), geolocation=()",
}


class Guard:
    """Refuse what is not meant for this page, and tell browsers to keep others out of it.

    A foreign ``Host`` means that somebody's name was made to point here (DNS
    rebinding): 421. A POST whose ``Origin`` is foreign, ``null`` or missing comes from
    another site's page or from no page: 403, whatever else it holds.

    Parameters
    ----------
    app : ASGI application
        What stands behind.
    hosts : iterable of str
        ``name:port`` under which the page is known, in lower case.
    scheme : str
        ``"http"`` or ``"https"``.
    """

    def __init__(self, app: ASGIApp, *, hosts: Iterable[str], scheme: str) -> None:
        self._app = app
        self._hosts = frozenset(hosts)
        self._origins = frozenset(f"{scheme}://{host}" for host in self._hosts)
        self._secure = scheme == "https"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return

        async def send_guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers[name] = value
                headers.setdefault("Cache-Control", "no-store")
                if self._secure:
                    headers["Strict-Transport-Security"] = "max-age=43200"
            await send(message)

        refusal = self._refusal(Headers(scope=scope), method=scope["method"])
        await (refusal or self._app)(scope, receive, send_guarded)

    def _refusal(self, headers: Headers, *, method: str) -> PlainTextResponse | None:
        hosts = headers.getlist("host")
        if len(hosts) != 1 or hosts[0].lower() not in self._hosts:
            return PlainTextResponse("This page is not known by that name.\n", status_code=421)
        if method in ("GET", "HEAD"):
            return None
        origins = headers.getlist("origin")
        if len(origins) != 1 or origins[0].lower() not in self._origins:
            return PlainTextResponse("Only this page's own forms may send something.\n", status_code=403)
        return None
