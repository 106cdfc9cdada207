"""From a target to what to hang: solve, verify with the formula that applies, tighten, solve again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomir.errors import ParameterError
from roomir.plan.model import Expected, Knowledge, at_octaves, expect, know_nothing
from roomir.plan.program import Limits, solve
from roomir.plan.treatment import Item, Place, places, treated, turned
from roomir.rooms.description import Room
from roomir.rooms.five_formulas import MOST_ALPHA, Absorbing, eyring_s
from roomir.rooms.materials import Material, Materials

Values = NDArray[np.float64]

SIX = tuple(range(1, 7))
"""Octaves that a proposal works in: 125 Hz to 4 kHz, which every absorber has."""

LEAST_CHANCE = 0.8
"""Probability with which every band has to be inside."""

MEASURES = ("area", "cost", "count")

_ROUNDS = 5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Window:
    """What a target asks of the six octaves.

    Attributes
    ----------
    name : str
        The target.
    low_s, high_s : array, shape (6,)
        Limits; 0 and infinity where there is none. [s]
    """

    name: str
    low_s: Values
    high_s: Values

    @property
    def asked(self) -> NDArray[np.bool_]:
        """Octaves that the target speaks of."""
        return np.asarray((self.low_s > 0.0) | np.isfinite(self.high_s))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outcome:
    """A room with something hung in it, held against a target.

    Attributes
    ----------
    items : tuple of Item
        What hangs.
    expected : Expected
        What it will read.
    chance : array, shape (6,)
        Probability of each octave to be inside.
    inside : array of bool, shape (6,)
        Whether that is enough.
    """

    items: tuple[Item, ...]
    expected: Expected
    chance: Values
    inside: NDArray[np.bool_]

    @property
    def worst(self) -> float:
        """The least chance."""
        return float(self.chance.min())


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
    search = _Search(room, spots, price, known, materials, window, turned_window)
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


def judge(room: Room, items: Sequence[Item], window: Window, knowledge: Knowledge) -> Outcome:
    """Hold a room with panels against a target."""
    expected = expect(treated(room, items), knowledge)
    chance = expected.chance_inside(window.low_s, window.high_s)
    chance = np.where(window.asked, chance, 1.0)
    return Outcome(items=tuple(items), expected=expected, chance=chance, inside=chance >= LEAST_CHANCE)


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


class _Search:
    """Solving and verifying, round after round, keeping the best choice seen."""

    def __init__(
        self,
        room: Room,
        spots: Sequence[Place],
        price: Values,
        known: Knowledge,
        materials: Materials,
        window: Window,
        turned_window: Window | None,
    ) -> None:
        self._room = room
        self._spots = spots
        self._price = price
        self._known = known
        self._materials = materials
        self._windows = [window] if turned_window is None else [window, turned_window]
        self._now_m2, self._surface_m2 = _by_axis(expect(room, known).body)

    def best(self, now: Outcome) -> Outcome:
        """Return the cheapest choice that holds, else the nearest."""
        if not self._spots:
            return now
        ranked = [(self._rank(outcomes := self._judged(())), outcomes[0])]
        for nearest in (False, True):
            outcomes = self._judged(())
            for _ in range(_ROUNDS):
                counts = solve(
                    self._spots,
                    [
                        self._limits(one, window, k)
                        for k, (one, window) in enumerate(zip(outcomes, self._windows, strict=True))
                    ],
                    price=self._price,
                    on_hand=self._room.on_hand,
                    nearest=nearest,
                )
                if counts is None:
                    break
                items = _items(self._spots, counts)
                settled = items == outcomes[0].items
                outcomes = self._judged(items)
                ranked.append((self._rank(outcomes), outcomes[0]))
                if settled:
                    break
            if any(rank[0] == 0.0 for rank, _ in ranked):
                break
        rank, outcome = min(ranked, key=lambda one: one[0])
        if rank[0] > 0.0 and len(self._windows) == 1 and self._is_short(now):
            return now
        return outcome

    def _is_short(self, now: Outcome) -> bool:
        """Whether a room is too short already and nowhere too long: no panel is a help then.

        On paper a hard panel over a soft wall would lengthen the decay; nobody
        should be told to hang foam in a room that is too dead.
        """
        window = self._windows[0]
        time_s = now.expected.decay_time_s
        return bool(np.all(time_s <= window.high_s) and np.any(time_s < window.low_s))

    def _judged(self, items: Sequence[Item]) -> list[Outcome]:
        sides = [items, turned(items, self._materials)]
        return [
            judge(self._room, side, window, self._known)
            for side, window in zip(sides, self._windows, strict=False)
        ]

    def _rank(self, outcomes: Sequence[Outcome]) -> tuple[float, float, float]:
        """Bands that are not inside, weighed by how far they are off; then the cost."""
        off = 0.0
        for outcome, window in zip(outcomes, self._windows, strict=True):
            log_t = np.log(outcome.expected.decay_time_s)
            with np.errstate(divide="ignore"):
                out = np.maximum(np.log(window.low_s) - log_t, log_t - np.log(window.high_s))
            short = np.maximum(LEAST_CHANCE - outcome.chance, 0.0)
            off += float(np.sum(np.where(outcome.inside, 0.0, np.maximum(out, 0.0) + 0.1 * short)))
        counts = {(item.absorber.name, item.surface): item.count for item in outcomes[0].items}
        cost = sum(
            price * counts.get((place.absorber.name, place.surface.name), 0)
            for place, price in zip(self._spots, self._price, strict=True)
        )
        return off, float(cost), -outcomes[0].worst

    def _limits(self, outcome: Outcome, window: Window, side: int) -> Limits:
        """Turn what is asked of decay times into limits to the sum of area times coefficient."""
        expected, body = outcome.expected, outcome.expected.body
        total_m2 = float(body.areas_m2.sum())
        low, high = _medians_with_enough_chance(window, expected.log_spread)
        # Whatever formula applies, near this choice it is Eyring's times a factor.
        factor = expected.decay_time_s / eyring_s(body)
        with np.errstate(divide="ignore"):
            area_low, area_high = (body.area_for(end / factor) for end in (high, low))
        to_sum = [
            total_m2 * -np.expm1(-np.maximum(area, -50.0 * total_m2) / total_m2)
            for area in (area_low, area_high)
        ]
        gain = np.array([self._gain(place, side) for place in self._spots])
        return Limits(
            gain_m2=gain,
            now_m2=self._now_m2,
            surface_m2=self._surface_m2,
            least_m2=np.where(np.isfinite(high), to_sum[0], -np.inf),
            most_m2=np.where(low > 0.0, np.minimum(to_sum[1], MOST_ALPHA * total_m2), np.inf),
        )

    def _gain(self, place: Place, side: int) -> Values:
        """What one panel adds, in place of the ground beneath it."""
        absorber = place.absorber
        if side and absorber.panel is not None and absorber.panel.reverse:
            absorber = self._materials.get(absorber.panel.reverse)
        ground = place.surface.ground
        own = _alpha(absorber.alpha) * self._known.factor(absorber.name)
        under = _alpha(ground.alpha) * self._known.factor(ground.material)
        return np.asarray(place.panel_m2 * (own - under))


def _medians_with_enough_chance(window: Window, log_spread: Values) -> tuple[Values, Values]:
    """Between which medians the chance to be inside is enough; their middle where none is."""
    from scipy.special import ndtr, ndtri

    low, high = np.zeros(len(SIX)), np.full(len(SIX), np.inf)
    reach = float(ndtri(LEAST_CHANCE))
    for b in np.flatnonzero(window.asked):
        s, bottom, top = float(log_spread[b]), float(window.low_s[b]), float(window.high_s[b])
        if bottom <= 0.0:
            high[b] = top * np.exp(-reach * s)
        elif not np.isfinite(top):
            low[b] = bottom * np.exp(reach * s)
        else:
            middle, half = np.sqrt(bottom * top), 0.5 * np.log(top / bottom)
            grid = np.linspace(0.0, half, 401)
            enough = ndtr((half - grid) / s) - ndtr((-half - grid) / s) >= LEAST_CHANCE
            # A hair inside, so that rounding of the programme does not cost the chance.
            off = 0.98 * float(grid[enough].max()) if enough.any() else 0.02 * half
            low[b], high[b] = middle * np.exp(-off), middle * np.exp(off)
    return low, high


def _by_axis(body: Absorbing) -> tuple[dict[str, Values], dict[str, float]]:
    """Sum of area times coefficient, and area, of the surfaces facing each axis; furnishings by area."""
    total_m2 = float(body.areas_m2.sum())
    sums: dict[str, Values] = {}
    areas: dict[str, float] = {}
    for facing in dict.fromkeys(body.facings):
        ours = np.array([one == facing for one in body.facings])
        area_m2 = float(body.areas_m2[ours].sum())
        pieces = body.furnishings_m2 * (area_m2 / total_m2)
        sums[facing or ""] = np.asarray(body.areas_m2[ours] @ body.alphas[ours] + pieces)
        areas[facing or ""] = area_m2
    return sums, areas


def _alpha(alpha: Sequence[float | None]) -> Values:
    return np.array([alpha[i] for i in SIX], dtype=np.float64)


def _items(spots: Sequence[Place], counts: NDArray[np.int64]) -> tuple[Item, ...]:
    return tuple(
        Item(absorber=place.absorber, surface=place.surface.name, count=int(count))
        for place, count in zip(spots, counts, strict=True)
        if count > 0
    )


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
