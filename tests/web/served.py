"""A page that really listens on the loopback, and browsers without a window that talk to it."""

from __future__ import annotations

import socket
import ssl
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx

from roomir.web.app import Page
from roomir.web.pairing import Pairing
from roomir.web.serve import listen, server_for, settings_for

_NO_AUTHORITIES = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)


class Served:
    """One page while it runs."""

    def __init__(
        self, folder: Path, *, tls: dict[str, Any] | None = None, port: int = 0, lan: bool = False
    ) -> None:
        self.listener = listen(port=port, lan=False)
        self.port = self.listener.getsockname()[1]
        self.settings = settings_for(
            logbook=folder / "book.sqlite", folder=folder / "book.page", port=self.port, lan=lan
        )
        self.pairing = Pairing()
        self.told: list[str] = []
        self._known: tuple[dict[str, str], str] | None = None
        self.page = Page(self.settings, pairing=self.pairing, told=self.told.append)
        self.server = server_for(self.page, **(tls or {}))
        self._thread = threading.Thread(target=self.server.run, kwargs={"sockets": [self.listener]})
        self._thread.start()

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def stop(self) -> None:
        self.server.should_exit = True
        self._thread.join()
        self.listener.close()

    def browser(self, **headers: str) -> httpx.Client:
        """One that has not been paired."""
        return httpx.Client(
            base_url=self.url,
            headers={"Origin": self.url, **headers},
            timeout=60,
            # Neither is used over plain HTTP on the loopback, and both take long to look up.
            verify=_NO_AUTHORITIES,
            trust_env=False,
        )

    @contextmanager
    def paired(self, *, fresh: bool = False) -> Iterator[tuple[httpx.Client, str]]:
        """One that has been paired, with the token that its forms hold; the same each time unless fresh."""
        with self.browser() as browser:
            if self._known is not None and not fresh:
                browser.cookies.update(self._known[0])
                yield browser, self._known[1]
                return
            assert browser.post("/pair", data={"code": self.pairing.new_code()}).status_code == 303
            csrf = browser.get("/").text.split('name="csrf" value="')[1].split('"')[0]
            if not fresh:
                self._known = dict(browser.cookies), csrf
            yield browser, csrf

    def raw(self, request: bytes, *, wait_s: float = 20.0) -> bytes:
        """Say these bytes and return all that comes back until the other side is done."""
        with socket.create_connection(("127.0.0.1", self.port), timeout=wait_s) as line:
            line.sendall(request)
            line.shutdown(socket.SHUT_WR)
            got = b""
            while piece := line.recv(65536):
                got += piece
        return got


@contextmanager
def served(folder: Path, **options: Any) -> Iterator[Served]:
    one = Served(folder, **options)
    try:
        yield one
    finally:
        one.stop()
