"""``roomir materials``: what surfaces can be made of."""

from __future__ import annotations

from typing import Annotated

import typer

from roomir import planning
from roomir.cli import show
from roomir.cli.options import DebugOption, MaterialsOption


def materials(
    *,
    words: Annotated[
        list[str] | None, typer.Argument(metavar="[WORD]...", help="Only rows that have all these words.")
    ] = None,
    own: MaterialsOption = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the rows as JSON and nothing else.")] = False,
    debug: DebugOption = False,
) -> None:
    """List materials with their absorption coefficients, mounting and source."""
    del debug  # main() looks for it where every error ends up.
    from roomir.report.planning.materials import materials_json, materials_text

    rows = planning.find_materials(words or (), materials=own)
    show.out(materials_json(rows) + "\n" if as_json else materials_text(rows))
