"""``roomir targets``: decay times to aim for."""

from __future__ import annotations

from typing import Annotated

import typer

from roomir.cli import show
from roomir.cli.options import DebugOption, DimensionsOption, VolumeOption, room_size
from roomir.report.aims import targets_json, targets_text
from roomir.rooms.targets import known_targets


def targets(
    *,
    volume: VolumeOption = None,
    dimensions: DimensionsOption = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the list as JSON and nothing else.")] = False,
    debug: DebugOption = False,
) -> None:
    """List decay times to aim for, with their sources, for --target.

    With --volume or --dimensions also those that depend on the room's size.
    """
    del debug  # main() looks for it where every error ends up.
    volume_m3, _ = room_size(volume, dimensions)
    if as_json:
        show.out(targets_json(known_targets(), volume_m3=volume_m3) + "\n")
    else:
        show.out(targets_text(known_targets(), volume_m3=volume_m3))
