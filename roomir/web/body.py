"""How much may be sent, how fast, and by how many at once."""

from __future__ import annotations

import asyncio
import time
from collections import Counter, defaultdict, deque
from collections.abc import Callable, Collection

from starlette.datastructures import Headers
from starlette.requests import ClientDisconnect
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

MOST_BYTES = 200 * 1024 * 1024
MOST_SMALL_BYTES = 64 * 1024
"""Of a request that sends no recording."""
SLOWEST_S = 30.0
"""Longest wait for the next piece of a body. [s]"""
LONGEST_S = 900.0
"""Longest that a recording may take. [s]"""
LONGEST_SMALL_S = 30.0
"""Longest that any other body may take. [s]"""
MOST_AT_ONCE = 32
"""Recordings that arrive at one time."""
MOST_SMALL_AT_ONCE = 16
"""Other bodies that arrive from one address at one time: whoever is not paired takes no place from who is."""
MOST_A_MINUTE = 1200
"""Requests of one address: twenty phones behind one router that all wait ask about half as often."""
_MOST_ADDRESSES = 1000


class _TooLargeError(Exception):
    pass


class _TooSlowError(Exception):
    pass


class Limits:
    """Stop a body that is too large or too slow while it arrives, and senders who are too many.

    Parameters
    ----------
    app : ASGI application
        What stands behind.
    large : collection of str
        Paths that recordings are sent to.
    most_bytes : int
        Of one request there, with or without a stated length; elsewhere it is `MOST_SMALL_BYTES`.
    most_at_once : int
        Requests to those paths in work at one time.
    most_small_at_once : int
        Other requests with a body, of one address, in work at one time.
    most_a_minute : int
        Requests of one address in a minute.
    slowest_s : float
        Longest wait for the next piece of a body. [s]
    longest_s : float
        Longest that a body may take there; elsewhere it is at most `LONGEST_SMALL_S`. [s]
    clock : callable
        Seconds that never run backwards; for tests.
    """

    def __init__(
        self,
        app: ASGIApp,
        *,
        large: Collection[str] = (),
        most_bytes: int = MOST_BYTES,
        most_at_once: int = MOST_AT_ONCE,
        most_small_at_once: int = MOST_SMALL_AT_ONCE,
        most_a_minute: int = MOST_A_MINUTE,
        slowest_s: float = SLOWEST_S,
        longest_s: float = LONGEST_S,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._app = app
        self._large = frozenset(large)
        self._most_bytes = most_bytes
        self._most_at_once = most_at_once
        self._most_small_at_once = most_small_at_once
        self._most_a_minute = most_a_minute
        self._slowest_s = slowest_s
        self._longest_s = longest_s
        self._clock = clock
        self._at_once: Counter[str] = Counter()
        self._lately: dict[str, deque[float]] = defaultdict(deque)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        refusal = self._refusal(scope)
        if refusal is not None:
            await refusal(scope, receive, send)
            return
        if scope["method"] in ("GET", "HEAD"):
            await self._serve(scope, receive, send)
            return
        large = self._is_large(scope)
        whose, most = ("", self._most_at_once) if large else (_address(scope), self._most_small_at_once)
        if self._at_once[whose] >= most:
            await _again("Too many are sending at this moment: try again in a few seconds.\n", code=503)(
                scope, receive, send
            )
            return
        self._at_once[whose] += 1
        try:
            await self._serve(scope, receive, send)
        finally:
            self._at_once[whose] -= 1
            if not self._at_once[whose]:
                del self._at_once[whose]

    async def _serve(self, scope: Scope, receive: Receive, send: Send) -> None:
        arrived = 0
        longest_s = self._longest_s if self._is_large(scope) else min(self._longest_s, LONGEST_SMALL_S)
        until_s = self._clock() + longest_s
        most_bytes = self._most(scope)
        answering = False

        async def receive_some() -> Message:
            nonlocal arrived
            if answering:
                return await receive()
            try:
                message = await asyncio.wait_for(receive(), self._slowest_s)
            except TimeoutError:
                raise _TooSlowError from None
            if message["type"] == "http.request":
                arrived += len(message.get("body", b""))
                if arrived > most_bytes:
                    raise _TooLargeError
                if self._clock() > until_s:
                    raise _TooSlowError
            return message

        async def send_some(message: Message) -> None:
            nonlocal answering
            answering = True
            await send(message)

        try:
            await self._app(scope, receive_some, send_some)
        except ClientDisconnect:
            return
        except _TooLargeError:
            if not answering:
                await _too_large(most_bytes)(scope, receive, send)
        except _TooSlowError:
            if not answering:
                await PlainTextResponse(
                    "It took too long to arrive: try again nearer to the router.\n",
                    status_code=408,
                    headers={"Connection": "close"},
                )(scope, receive, send)

    def _refusal(self, scope: Scope) -> PlainTextResponse | None:
        stated = Headers(scope=scope).get("content-length", "0")
        if not stated.isascii() or not stated.isdigit():
            return PlainTextResponse("The length of the body is no number.\n", status_code=400)
        if len(stated) > 15 or int(stated) > self._most(scope):
            return _too_large(self._most(scope))
        address, now_s = _address(scope), self._clock()
        if len(self._lately) > _MOST_ADDRESSES:
            self._lately.clear()
        lately = self._lately[address]
        while lately and lately[0] < now_s - 60.0:
            lately.popleft()
        if len(lately) >= self._most_a_minute:
            return _again("Too many requests: try again in a minute.\n", code=429)
        lately.append(now_s)
        return None

    def _most(self, scope: Scope) -> int:
        return self._most_bytes if self._is_large(scope) else min(self._most_bytes, MOST_SMALL_BYTES)

    def _is_large(self, scope: Scope) -> bool:
        return scope["path"] in self._large


def _address(scope: Scope) -> str:
    return str((scope.get("client") or ("unknown", 0))[0])


def _too_large(most_bytes: int) -> PlainTextResponse:
    size = f"{most_bytes >> 20} MB" if most_bytes >= 1 << 20 else f"{most_bytes >> 10} kB"
    return PlainTextResponse(
        f"That is more than {size}: send a shorter recording.\n",
        status_code=413,
        headers={"Connection": "close"},
    )


def _again(text: str, *, code: int) -> PlainTextResponse:
    return PlainTextResponse(text, status_code=code, headers={"Retry-After": "5"})
