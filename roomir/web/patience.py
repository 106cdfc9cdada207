"""Whoever connects and then takes for ever to say what they want is cut off."""

from __future__ import annotations

import asyncio
from typing import Any

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

HEAD_WITHIN_S = 20.0
"""Longest from the connection, or from an answer, to the whole head of the next request. [s]"""


class PatientProtocol(H11Protocol):
    """HTTP as uvicorn speaks it, with a limit to how long the head of a request may take."""

    head_within_s = HEAD_WITHIN_S
    _timer: asyncio.TimerHandle | None = None

    def connection_made(self, transport: Any) -> None:  # noqa: ANN401 - as in the class above
        """Begin to wait."""
        super().connection_made(transport)
        self._wait()

    def connection_lost(self, exc: Exception | None) -> None:
        """Wait no longer."""
        self._stop()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Take what came, and look whether it is a whole head by now."""
        super().data_received(data)
        if self.conn.their_state is h11.IDLE:
            self._wait()
        else:
            self._stop()

    def _wait(self) -> None:
        if self._timer is None:
            self._timer = self.loop.call_later(self.head_within_s, self._give_up)

    def _stop(self) -> None:
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None

    def _give_up(self) -> None:
        self._timer = None
        if self.conn.their_state is h11.IDLE and self.conn.our_state is not h11.SEND_BODY:
            self.transport.close()
