"""From a target to what to hang: solve, verify with the formula that applies, tighten, solve again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomir.errors import ParameterError
from roomir.plan.model import Knowledge, at_octaves, know_nothing
from roomir.plan.outcome import LEAST_CHANCE, SIX, Outcome, Window, judge
from roomir.plan.search import Search
from roomir.plan.treatment import Item, Place, places, turned
from roomir.rooms.description import Room
from roomir.rooms.materials import Material, Materials

Values = NDArray[np.float64]

__all__ = [
    "FOAM",
    "LEAST_CHANCE",
    "MEASURES",
    "SIX",
    "Outcome",
    "Proposal",
    "Window",
    "Wishes",
    "foam_everywhere",
    "judge",
    "prices_of",
    "propose",
]

MEASURES = ("area", "cost", "count")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Proposal:
    """What to hang.

    Attributes
    ----------
    room : Room
        Before.
    window : Window
        The target.
    measure : str
        What was to be least.
    feasible : bool
        Whether every band is inside.
    now, then : Outcome
        Before and after.
    turned_window, turned_then : Window and Outcome, or None
        The second target and the room with its panels turned round.
    foam : Outcome or None
        Thin foam on all the free area, for comparison.
    next_step : Item or None
        The one panel more that helps most, at least cost.
    next_worst : float
        The least chance with it.
    full_surfaces : tuple of str
        Surfaces with no room for another panel.
    places : int
        Kinds of panel times surfaces that take them.
    """

    room: Room
    window: Window
    measure: str
    feasible: bool
    now: Outcome
    then: Outcome
    turned_window: Window | None = None
    turned_then: Outcome | None = None
    foam: Outcome | None = None
    next_step: Item | None = None
    next_worst: float = 0.0
    full_surfaces: tuple[str, ...] = ()
    places: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """What somebody wants beside the target.

    Attributes
    ----------
    absorbers : tuple of Material
        Panels to choose from.
    measure : str
        ``"area"``, ``"cost"`` or ``"count"``.
    keep : tuple of str
        Surfaces to leave alone.
    prices : mapping of str to float
        Price per m2 by material, over those in the table.
    """

    absorbers: tuple[Material, ...]
    measure: str = "area"
    keep: tuple[str, ...] = ()
    prices: Mapping[str, float] | None = None


def propose(
    room: Room,
    window: Window,
    wishes: Wishes,
    *,
    materials: Materials,
    knowledge: Knowledge | None = None,
    turned_window: Window | None = None,
) -> Proposal:
    """Choose panels so that every octave is inside the target with enough probability.

    Parameters
    ----------
    room : Room
        As it is now.
    window : Window
        The target.
    wishes : Wishes
        What to choose from, and what is to be least.
    materials : Materials
        Where the other sides of two-sided panels and the foam for comparison are.
    knowledge : Knowledge, optional
        From readings of this room.
    turned_window : Window, optional
        A second target, to be met by the same panels turned round.

    Returns
    -------
    Proposal
        The least that meets the target, or the nearest where nothing does.

    Raises
    ------
    ParameterError
        If nothing may hang anywhere, or a price is missing.
    """
    known = _six(knowledge)
    spots = places(room, wishes.absorbers, keep=wishes.keep)
    price = prices_of(spots, wishes)
    now = judge(room, (), window, known)
    search = Search(room, spots, price, known, materials, window, turned_window)
    then = now if turned_window is None and now.inside.all() else search.best(now)
    turned_then = None
    if turned_window is not None:
        turned_then = judge(room, turned(then.items, materials), turned_window, known)
    feasible = bool(then.inside.all()) and (turned_then is None or bool(turned_then.inside.all()))
    step, worst = (None, then.worst) if turned_window else _next_step(room, spots, price, then, window, known)
    return Proposal(
        room=room,
        window=window,
        measure=wishes.measure,
        feasible=feasible,
        now=now,
        then=then,
        turned_window=turned_window,
        turned_then=turned_then,
        foam=foam_everywhere(room, window, known, materials=materials),
        next_step=step,
        next_worst=worst,
        full_surfaces=_full(room, spots, then.items),
        places=len(spots),
    )


def prices_of(spots: Sequence[Place], wishes: Wishes) -> Values:
    """Price of one panel for each place, in the measure that is to be least.

    Raises
    ------
    ParameterError
        ``no-price`` where cost is asked for and a panel has none.
    """
    if wishes.measure == "count":
        return np.ones(len(spots))
    if wishes.measure == "area":
        return np.array([place.panel_m2 for place in spots])
    given = {name.casefold(): value for name, value in (wishes.prices or {}).items()}
    values = []
    for place in spots:
        assert place.absorber.panel is not None
        value = given.get(place.absorber.name.casefold(), place.absorber.panel.price_per_m2)
        if value is None:
            raise ParameterError(
                f'"{place.absorber.name}" has no price',
                code="no-price",
                remedy=f'say --price "{place.absorber.name}=18", give price_per_m2 in a table of your own,'
                " or choose fewer kinds with --absorber",
            )
        values.append(value * place.panel_m2)
    return np.array(values)


def _six(knowledge: Knowledge | None) -> Knowledge:
    if knowledge is None:
        return know_nothing(SIX)
    return at_octaves(knowledge, SIX)


def _full(room: Room, spots: Sequence[Place], items: Sequence[Item]) -> tuple[str, ...]:
    smallest = min((place.panel_m2 for place in spots), default=0.0)
    names = []
    for surface in room.surfaces:
        hung = sum(item.area_m2 for item in items if item.surface == surface.name)
        if hung > 0.0 and surface.hangable_m2 - hung < smallest:
            names.append(surface.name)
    return tuple(names)


def _next_step(
    room: Room, spots: Sequence[Place], price: Values, then: Outcome, window: Window, known: Knowledge
) -> tuple[Item | None, float]:
    """Find the one panel more that raises the least chance most for its price."""
    best: tuple[float, Item | None, float] = (0.0, None, then.worst)
    for place, cost in zip(spots, price, strict=True):
        hung = sum(item.area_m2 for item in then.items if item.surface == place.surface.name)
        if place.surface.hangable_m2 - hung < place.panel_m2 - 1e-9:
            continue
        one = Item(absorber=place.absorber, surface=place.surface.name, count=1)
        outcome = judge(room, (*then.items, one), window, known)
        gain = (float(np.sum(outcome.chance)) - float(np.sum(then.chance))) / max(float(cost), 1e-9)
        if gain > best[0] + 1e-9 and outcome.worst >= then.worst - 1e-9:
            best = (gain, one, outcome.worst)
    return best[1], best[2]


FOAM = "PU foam 25 mm"
"""What people hang first."""


def foam_everywhere(room: Room, window: Window, known: Knowledge, *, materials: Materials) -> Outcome | None:
    """Thin foam on all the free area of walls and ceiling, for comparison; ``None`` where none fits."""
    spots = places(room, [materials.get(FOAM)])
    items = [Item(absorber=p.absorber, surface=p.surface.name, count=p.most) for p in spots]
    return judge(room, items, window, known) if items else None
