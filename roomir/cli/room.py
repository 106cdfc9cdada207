"""``roomir room new``: a few questions, and a room file."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Annotated, TypeVar

import typer

from roomir import planning
from roomir.cli import show
from roomir.cli.options import DebugOption, MaterialsOption
from roomir.errors import ParameterError
from roomir.units import parse_area_m2, parse_dimensions_m

_Answer = TypeVar("_Answer")

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None)


@app.callback()
def _room() -> None:
    """Describe a room, so that roomir can predict it and say what to hang."""


@app.command("new")
def new(
    *,
    output: Annotated[
        Path,
        typer.Option("-o", "--output", metavar="FILE", help="Where the description goes, ending in .toml."),
    ] = Path("room.toml"),
    name: Annotated[str | None, typer.Option(help="What the room is called.")] = None,
    dimensions: Annotated[
        str | None,
        typer.Option(metavar="LxWxH", help="Length, width, height: 5x4x2.4 or '12 ft 6 in x 10 ft x 8 ft'."),
    ] = None,
    floor: Annotated[
        str | None, typer.Option(help="What the floor is made of, as in `roomir materials`.")
    ] = None,
    ceiling: Annotated[str | None, typer.Option(help="What the ceiling is made of.")] = None,
    walls: Annotated[str | None, typer.Option(help="What the walls are made of.")] = None,
    door: Annotated[
        str | None, typer.Option("--door-area", metavar="AREA", help="Area of the door: 1.9 or '20 sq ft'.")
    ] = None,
    window: Annotated[
        str | None, typer.Option("--window-area", metavar="AREA", help="Area of the windows.")
    ] = None,
    materials: MaterialsOption = None,
    force: Annotated[bool, typer.Option("--force", help="Replace the file if it exists.")] = False,
    debug: DebugOption = False,
) -> None:
    """Ask a few questions and write a room file; options answer them without a terminal."""
    del debug  # main() looks for it where every error ends up.
    if output.exists() and not force:
        raise ParameterError(
            f"{output} exists already", code="file-exists", remedy="name another with -o, or say --force"
        )
    table = planning.load_materials(materials)

    def known(text: str) -> str:
        return table.get(text).name

    planning.write_new_room(
        output,
        name=_asked("--name", name, "What is the room called?", str),
        dimensions_m=_asked(
            "--dimensions",
            dimensions,
            "Length, width and height (5 x 4 x 2.4, or with ft and in)?",
            parse_dimensions_m,
        ),
        floor=_asked("--floor", floor, "What is the floor made of (wood floor on joists)?", known),
        ceiling=_asked("--ceiling", ceiling, "The ceiling (gypsum board 13 mm on studs)?", known),
        walls=_asked("--walls", walls, "The walls (lime-cement plaster on masonry)?", known),
        door_m2=_asked("--door-area", door or _nothing(), "Area of the door (0 for none)?", _area),
        window_m2=_asked("--window-area", window or _nothing(), "Area of the windows (0 for none)?", _area),
        materials=table,
    )
    show.out(f"Written: {output}. Next: roomir predict {output}\n")


def _area(text: str) -> float:
    return 0.0 if text.strip() in {"0", "none", ""} else parse_area_m2(text)


def _nothing() -> str | None:
    """Without a terminal a room has no openings unless told."""
    return None if _watched() else "0"


def _watched() -> bool:
    return sys.stdin.isatty()


def _asked(option: str, given: str | None, question: str, parse: Callable[[str], _Answer]) -> _Answer:
    """Take the option, or ask until the answer can be read."""
    if given is not None:
        return parse(given)
    if not _watched():
        raise ParameterError(
            f"{option} is missing and nobody is there to be asked",
            code="nobody-to-ask",
            remedy=f"give {option}, or run it in a terminal",
        )
    while True:
        try:
            return parse(typer.prompt(question))
        except ParameterError as error:
            show.fault(error)
