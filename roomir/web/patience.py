"""How a connection is treated: nobody holds one for ever or very many, and every answer is protected."""

from __future__ import annotations

import asyncio
from typing import Any

import h11
from starlette.responses import PlainTextResponse
from uvicorn.protocols.http.h11_impl import H11Protocol

from roomir.web.guard import HEADERS

HEAD_WITHIN_S = 20.0
"""Longest from the connection, or from an answer, to the whole head of the next request. [s]"""
REST_WITHIN_S = 60.0
"""Longest that the rest of a body may come after its answer: browsers look at that only then. [s]"""
TAKEN_WITHIN_S = 30.0
"""Longest that whoever asked may leave an answer lying about. [s]"""
GOODBYE_WITHIN_S = 1.0
"""Longest that a connection may outlive the page. [s]"""
MOST_OF_ONE = 100
"""Connections of one address; a browser holds six."""
MOST_CONNECTIONS = 400

_busy = PlainTextResponse(
    "Too many connections at this moment: try again in a few seconds.\n",
    status_code=503,
    headers=HEADERS | {"Retry-After": "5", "Connection": "close", "Cache-Control": "no-store"},
)


class PatientProtocol(H11Protocol):
    """HTTP as uvicorn speaks it, with limits to how many connections there are and how long they idle."""

    head_within_s = HEAD_WITHIN_S
    rest_within_s = REST_WITHIN_S
    taken_within_s = TAKEN_WITHIN_S
    most_of_one = MOST_OF_ONE
    most_connections = MOST_CONNECTIONS
    _timer: asyncio.TimerHandle | None = None
    _waits_s: float | None = None
    _untaken: asyncio.TimerHandle | None = None

    def connection_made(self, transport: Any) -> None:  # noqa: ANN401 - as in the class above
        """Begin to wait; beyond a number of connections only to say that there are too many."""
        super().connection_made(transport)
        of_one = sum(_address(one) == _address(self) for one in self.connections)
        if of_one > 2 * self.most_of_one or len(self.connections) > 2 * self.most_connections:
            transport.abort()
            return
        if of_one > self.most_of_one or len(self.connections) > self.most_connections:
            self.app = _busy
        self._watch()

    def connection_lost(self, exc: Exception | None) -> None:
        """Wait no longer."""
        self._stop()
        _cancel(self._untaken)
        self._untaken = None
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Take what came, and look what is waited for now."""
        super().data_received(data)
        self._watch()

    def pause_writing(self) -> None:
        """Wait for an answer to be taken; the far end does not read at present."""
        super().pause_writing()
        if self._untaken is None:
            self._untaken = self.loop.call_later(self.taken_within_s, self.transport.abort)

    def resume_writing(self) -> None:
        """Go on: the far end reads."""
        _cancel(self._untaken)
        self._untaken = None
        super().resume_writing()

    def send_400_response(self, msg: str) -> None:
        """Turn away what is no request, with the same protection as every answer."""
        if self.conn.our_state in (h11.IDLE, h11.SEND_RESPONSE):
            text = msg.encode("ascii") + b"\n"
            named = HEADERS | {
                "Content-Type": "text/plain; charset=utf-8",
                "Content-Length": str(len(text)),
                "Cache-Control": "no-store",
                "Connection": "close",
            }
            events: tuple[h11.Event, ...] = (
                h11.Response(status_code=400, headers=list(named.items()), reason=b"Bad Request"),
                h11.Data(data=text),
                h11.EndOfMessage(),
            )
            for event in events:
                self.transport.write(self.conn.send(event) or b"")
        if self.cycle is not None:
            # Whoever works on the request before has nobody left to answer.
            self.cycle.disconnected = True
            self.cycle.message_event.set()
        self.transport.close()

    def shutdown(self) -> None:
        """Say goodbye; over TLS not every phone says it back."""
        super().shutdown()
        if self.transport.is_closing():
            self.loop.call_later(GOODBYE_WITHIN_S, self.transport.abort)

    def _watch(self) -> None:
        if self.conn.their_state is h11.IDLE:
            within_s = self.head_within_s
        elif self.conn.our_state is h11.DONE:
            # It is answered, and the rest of what was sent with it is thrown away as it comes.
            within_s = self.rest_within_s
        else:
            self._stop()
            return
        if self._waits_s != within_s:
            self._stop()
            self._waits_s = within_s
            self._timer = self.loop.call_later(within_s, self._give_up)

    def _stop(self) -> None:
        self._waits_s = None
        _cancel(self._timer)
        self._timer = None

    def _give_up(self) -> None:
        self._stop()
        if self.conn.our_state is h11.SEND_BODY:
            return
        # Closing alone would wait for whoever does not read what was answered.
        if self.transport.get_write_buffer_size():
            self.transport.abort()
        else:
            self.transport.close()


def _cancel(timer: asyncio.TimerHandle | None) -> None:
    if timer is not None:
        timer.cancel()


def _address(protocol: Any) -> str:  # noqa: ANN401 - connections are of uvicorn's classes
    return protocol.client[0] if protocol.client else ""
