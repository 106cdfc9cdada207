"""Solving and verifying in turns, until a choice of panels holds or the nearest is found."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from roomir.plan.model import Knowledge, expect
from roomir.plan.outcome import LEAST_CHANCE, SIX, Outcome, Window, judge
from roomir.plan.program import Limits, solve
from roomir.plan.treatment import Item, Place, turned
from roomir.rooms.description import Room
from roomir.rooms.five_formulas import MOST_ALPHA, Absorbing, eyring_s
from roomir.rooms.materials import Materials

Values = NDArray[np.float64]

_ROUNDS = 5


class Search:
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
