"""``roomir page``: a page for the phone's browser, served by this computer."""

from __future__ import annotations

import os
from importlib.util import find_spec
from typing import Annotated

import typer

from roomir.cli import show
from roomir.cli.options import DebugOption, LogbookOption
from roomir.errors import RoomirError
from roomir.logbook.folder import place_of, usual_path

_PACKAGES = {
    "starlette": "starlette",
    "uvicorn": "uvicorn",
    "python-multipart": "python_multipart",
    "cryptography": "cryptography",
    "segno": "segno",
    "jinja2": "jinja2",
}
"""What the extra ``page`` brings, and how it is imported."""


def page(
    *,
    port: Annotated[
        int, typer.Option(min=0, max=65535, metavar="N", help="Where to listen; 0 takes any that is free.")
    ] = 8460,
    lan: Annotated[
        bool,
        typer.Option("--lan", help="Let phones on your network in: encrypted, and only with the code."),
    ] = False,
    no_open: Annotated[
        bool, typer.Option("--no-open", help="Do not open a browser here (--lan never does).")
    ] = False,
    logbook: LogbookOption = None,
    debug: DebugOption = False,
) -> None:
    """Record with the phone's browser and see the reading at once.

    This computer does the sums and keeps the logbook; nothing leaves the
    house. Without --lan only browsers on this computer get in.

    Runs until you press Ctrl+C.
    """
    del debug  # main() looks for it where every error ends up.
    for package, module in _PACKAGES.items():
        if find_spec(module) is None:
            raise RoomirError(
                f"the page needs the package {package}",
                code="package-missing",
                remedy="install roomir with its extra: pip install 'roomir[page]'",
            )
    from roomir import api
    from roomir.web.serve import alone, listen, serve, settings_for

    book = logbook or usual_path(os.environ)
    if os.path.exists(place_of(book).database):  # noqa: PTH110 - False as well where one may not look
        # What is no logbook is better told here than to every phone.
        api.open_logbook(book).close()
    with listen(port=port, lan=lan) as listener:
        settings = settings_for(
            logbook=book,
            folder=place_of(book).database.with_suffix(".page"),
            port=listener.getsockname()[1],
            lan=lan,
        )
        # On the network the code is for the phone; a browser opened here would use it up.
        with alone(settings.folder):
            serve(settings, listener, out=_line, opened=None if no_open or lan else _open)


def _line(text: str) -> None:
    show.out(text + "\n")
    show.flush()


def _open(link: str) -> None:
    import webbrowser

    webbrowser.open(link)
