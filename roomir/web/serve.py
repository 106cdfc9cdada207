"""Running the page: where it listens, under which names, and how a new browser finds it."""

from __future__ import annotations

import socket
import sys
import threading
from collections.abc import Callable
from pathlib import Path

from roomir.errors import RoomirError
from roomir.web.app import Page
from roomir.web.pairing import Pairing
from roomir.web.settings import Settings

_OWN = ("127.0.0.1", "localhost")


def settings_for(*, logbook: Path, folder: Path, port: int, lan: bool) -> Settings:
    """Choose names and scheme.

    Parameters
    ----------
    logbook : Path
        The logbook to use.
    folder : Path
        For what is the page's own.
    port : int
        Where to listen.
    lan : bool
        Whether other machines may come; they are spoken to by TLS alone.

    Raises
    ------
    RoomirError
        If the network is wanted and this computer is on none.
    """
    if not lan:
        return Settings(logbook=logbook, folder=folder, names=_OWN, port=port, secure=False)
    from roomir.web.certificate import own_addresses

    names = tuple(own_addresses())
    if not names:
        raise RoomirError(
            "this computer is on no network", code="no-network", remedy="join the phone's network first"
        )
    return Settings(logbook=logbook, folder=folder, names=names + _OWN, port=port, secure=True)


def listen(*, port: int, lan: bool) -> socket.socket:
    """Take the port, or any that is free for 0.

    Raises
    ------
    RoomirError
        If it is taken.
    """
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind(("0.0.0.0" if lan else "127.0.0.1", port))  # noqa: S104 - it was asked for by --lan
    except OSError as error:
        listener.close()
        raise RoomirError(
            f"port {port} cannot be used: {error.strerror}",
            code="port-taken",
            remedy="name another one with --port, or stop what uses it",
        ) from error
    return listener


def serve(
    settings: Settings,
    listener: socket.socket,
    *,
    out: Callable[[str], None],
    opened: Callable[[str], None] | None,
) -> None:
    """Serve until it is interrupted.

    Parameters
    ----------
    settings : Settings
        What to run with.
    listener : socket
        Where.
    out : callable
        Shows a line on the computer's screen.
    opened : callable, optional
        Given the link to open in a browser of this computer.
    """
    import uvicorn

    pairing = Pairing()

    def tell(code: str) -> None:
        for line in _invitation(settings, code=code):
            out(line)

    page = Page(settings, pairing=pairing, told=tell)
    tls: dict[str, str] = {}
    if settings.secure:
        from roomir.web.certificate import certificate_for

        made = certificate_for(settings.names, folder=settings.folder)
        tls = {"ssl_certfile": str(made.certificate), "ssl_keyfile": str(made.key)}
        out("The browser will warn once, because no authority vouches for a computer at home. Compare:")
        out(f"SHA-256 {made.fingerprint}")
    code = pairing.new_code()
    tell(code)
    if opened is not None:
        opened(settings.link("127.0.0.1", code=code))
    if sys.stdin.isatty():
        threading.Thread(target=_on_enter, args=(pairing, tell), daemon=True).start()
    server = uvicorn.Server(
        uvicorn.Config(
            page.app,
            log_level="warning",
            access_log=False,
            server_header=False,
            h11_max_incomplete_event_size=64 * 1024,
            timeout_keep_alive=30,
            timeout_graceful_shutdown=5,
            **tls,  # type: ignore[arg-type]
        )
    )
    server.run(sockets=[listener])


def _invitation(settings: Settings, *, code: str) -> list[str]:
    link = settings.link(settings.names[0], code=code)
    lines = ["Open this link (good for five minutes and for one browser; Enter makes a new one):", link]
    if settings.secure:
        import io

        import segno

        drawn = io.StringIO()
        segno.make(link, error="l").terminal(drawn, border=2, compact=True)
        lines += ["or photograph this with the phone:", drawn.getvalue().rstrip("\n")]
    return lines


def _on_enter(pairing: Pairing, tell: Callable[[str], None]) -> None:
    for _ in sys.stdin:
        tell(pairing.new_code())
