"""Running the page: where it listens, under which names, and how a new browser finds it."""

from __future__ import annotations

import socket
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from roomir.errors import RoomirError
from roomir.web.app import Page
from roomir.web.pairing import Pairing
from roomir.web.settings import Settings

if TYPE_CHECKING:
    import uvicorn

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
    # Only of a socket that says it is TCP does asyncio send small answers at once.
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind(("0.0.0.0" if lan else "127.0.0.1", port))  # noqa: S104 - it was asked for by --lan
        # From here on whoever follows the link waits instead of being turned away.
        listener.listen(128)
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
    pairing, by_enter = Pairing(), sys.stdin.isatty()

    def tell(code: str) -> None:
        for line in _invitation(settings, code=code, by_enter=by_enter):
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
    if by_enter:
        threading.Thread(target=_on_enter, args=(pairing, tell), daemon=True).start()
    server_for(page, **tls).run(sockets=[listener])


def server_for(page: Page, **tls: str) -> uvicorn.Server:
    """Make what serves a page.

    Parameters
    ----------
    page : Page
        What to serve.
    tls : str
        ``ssl_certfile`` and ``ssl_keyfile``, on the network.
    """
    import uvicorn

    from roomir.web.patience import PatientProtocol

    return uvicorn.Server(
        uvicorn.Config(
            page.app,
            http=PatientProtocol,
            ws="none",
            lifespan="on",
            # Nobody stands in front of this page, so nobody else may say where a request came from.
            proxy_headers=False,
            # Strangers' nonsense is answered, not told about on the screen that shows the code.
            log_level="error",
            access_log=False,
            server_header=False,
            h11_max_incomplete_event_size=64 * 1024,
            timeout_keep_alive=30,
            timeout_graceful_shutdown=5,
            **tls,  # type: ignore[arg-type]
        )
    )


@contextmanager
def alone(folder: Path) -> Iterator[None]:
    """Keep the folder of a page to one page, and let what arrives pass through it on its way.

    Raises
    ------
    RoomirError
        If another page runs on the same logbook, or the folder cannot be used.
    """
    from roomir.batching.journal import lock

    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        running = (folder / "running").open("a+b")
    except OSError as error:
        raise RoomirError(
            f"{folder}: this folder of the page's own cannot be used: {error.strerror}",
            code="page-folder",
            remedy="name a logbook with --logbook where you may write",
        ) from error
    with running as held:
        try:
            lock(held)
        except BlockingIOError as error:
            raise RoomirError(
                "a page already runs on this logbook",
                code="page-running",
                remedy="use that one, or stop it first",
            ) from error
        # Recordings that arrive are large; where temporary files usually lie may be memory.
        before, tempfile.tempdir = tempfile.tempdir, str(folder)
        try:
            yield
        finally:
            tempfile.tempdir = before


def _invitation(settings: Settings, *, code: str, by_enter: bool) -> list[str]:
    link = settings.link(settings.names[0], code=code)
    another = "; Enter makes a new one" if by_enter else ""
    lines = [f"Open this link (good for five minutes and for one browser{another}):", link]
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
