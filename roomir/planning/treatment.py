"""Proposals: what to hang in a room."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from roomir.errors import ParameterError
from roomir.planning.learning import told
from roomir.report.saving import FilePath

if TYPE_CHECKING:  # they need numpy, which `roomir --help` does not
    from matplotlib.figure import Figure

    from roomir.plan.model import Knowledge
    from roomir.plan.propose import Proposal, Window
    from roomir.rooms.description import Room
    from roomir.rooms.materials import Material, Materials


def treat(
    room: FilePath,
    *,
    target: str,
    turned_target: str | None = None,
    least: str = "area",
    absorbers: Sequence[str] = (),
    keep: Sequence[str] = (),
    prices: Mapping[str, float] | None = None,
    materials: FilePath | None = None,
    logbook: FilePath | None = None,
    stage: str | None = None,
    learn_from: Sequence[FilePath] = (),
) -> Proposal:
    """Propose what to hang so that a room meets a target.

    Parameters
    ----------
    room, materials, logbook, stage : path
        As for :func:`roomir.planning.load_room`.
    learn_from : sequence of path
        Readings of this room, as for :func:`roomir.planning.learning.knowledge_from`.
    target : str
        A name that ``roomir targets`` lists, seconds as in ``0.2-0.3``, or a TOML file.
    turned_target : str, optional
        A second one, to be met by the same panels turned round.
    least : str, default "area"
        ``"area"``, ``"cost"`` or ``"count"``.
    absorbers : sequence of str
        Materials to choose from; every panel in the table where empty.
    keep : sequence of str
        Surfaces to leave alone.
    prices : mapping of str to float, optional
        Prices per m2 by material.

    Returns
    -------
    Proposal
        The least that meets the target, or the nearest.

    Raises
    ------
    RoomirError
        If the room, a material or the target is wrong.
    """
    named = told(room, materials=materials, logbook=logbook, stage=stage, learn_from=learn_from)
    return treat_room(
        named.room,
        named.table,
        knowledge=named.knowledge,
        target=target,
        turned_target=turned_target,
        least=least,
        absorbers=absorbers,
        keep=keep,
        prices=prices,
    )


def treat_room(
    room: Room,
    table: Materials,
    *,
    knowledge: Knowledge | None,
    target: str,
    turned_target: str | None = None,
    least: str = "area",
    absorbers: Sequence[str] = (),
    keep: Sequence[str] = (),
    prices: Mapping[str, float] | None = None,
) -> Proposal:
    """Propose what to hang in a room that is at hand; the rest is as for :func:`treat`.

    Parameters
    ----------
    room : Room
        As it is now.
    table : Materials
        To choose from.
    knowledge : Knowledge or None
        From readings of the room.
    """
    from roomir.plan.propose import Wishes, propose
    from roomir.plan.treatment import absorbers_of

    _check_surfaces(room, keep)
    wishes = Wishes(
        absorbers=tuple(
            _panels(absorbers_of(table, absorbers), two_sided=turned_target is not None, table=table)
        ),
        measure=least,
        keep=tuple(keep),
        # A price for what is in no table is a slip of the pen; the names are the table's from here on.
        prices={table.get(name).name: price for name, price in (prices or {}).items()},
    )
    return propose(
        room,
        window_of(target, room),
        wishes,
        materials=table,
        knowledge=knowledge,
        turned_window=None if turned_target is None else window_of(turned_target, room),
    )


def _panels(chosen: list[Material], *, two_sided: bool, table: Materials) -> list[Material]:
    for one in chosen:
        if one.panel is None:
            raise ParameterError(
                f'"{one.name}" is no panel',
                code="no-panel",
                remedy="give it panel_m2, kind, thickness_mm and weight_kg_per_m2 in a table of your own",
            )
    if two_sided and not any(one.panel and one.panel.reverse for one in chosen):
        chosen += [row for row in table if row.panel is not None and row.panel.reverse]
    return chosen


def _check_surfaces(room: Room, names: Sequence[str]) -> None:
    known = {surface.name.casefold() for surface in room.surfaces}
    for name in names:
        if name.casefold() not in known:
            raise ParameterError(
                f'the room has no surface called "{name}"',
                code="no-such-surface",
                remedy=f"it has {', '.join(surface.name for surface in room.surfaces)}",
            )


def window_of(target: str, room: Room) -> Window:
    """Find a target and what it asks of each octave in a room of this volume.

    Raises
    ------
    ParameterError
        If there is no such target.
    """
    import numpy as np

    from roomir.bands.band import OCTAVES
    from roomir.plan.propose import SIX, Window
    from roomir.rooms.targets import find_target

    found = find_target(target)
    limits = [found.limits(OCTAVES[i], volume_m3=room.volume_m3) for i in SIX]
    return Window(
        name=found.name,
        low_s=np.array([0.0 if one is None or one.least_s is None else one.least_s for one in limits]),
        high_s=np.array([np.inf if one is None or one.most_s is None else one.most_s for one in limits]),
    )


def proposal_figure(proposal: Proposal) -> Figure:
    """Draw a proposal."""
    from roomir.report.figures.proposal import proposal_figure as draw

    return draw(proposal)
