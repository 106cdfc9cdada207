r"""The integer programme behind a proposal.

In Sabine's and Eyring's formulas a decay time is a falling function of
:math:`L = \sum S_i \alpha_i` alone, and L is linear in the number of panels
when each replaces the surface beneath it. Limits to decay times are limits to
L, so that the least cost, area or number of panels is an integer linear
programme, solved by branch and cut (HiGHS through ``scipy.optimize.milp``).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomir.plan.quiet import no_c_output
from roomir.plan.treatment import Place

Values = NDArray[np.float64]

NODE_LIMIT = 200
"""Branches of one solution: a count and not a time, so that a slow machine proposes the same."""

TIME_LIMIT_S = 20.0
"""For one solution, should its branches be slow. [s]"""

EVEN = 0.25
"""How far the mean coefficient of a pair of walls may lie from the room's before it costs."""

MOST_KINDS = 4
"""Kinds of panel in one proposal: own choice, for people who have to buy and build them."""

_GAP = 0.02
_UNEVEN_PRICE = 0.3
"""What a coefficient's difference of one between pairs of walls costs, in prices of the whole surface."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Limits:
    """Limits to L in one state of the room (absorbing sides out, or turned round).

    Attributes
    ----------
    gain_m2 : array, shape (places, bands)
        What one panel adds to L.
    now_m2 : mapping of str to array, shape (bands,)
        L without any, by the axis the surfaces face (``""`` where unknown).
    surface_m2 : mapping of str to float
        Area of the surfaces by axis.
    least_m2, most_m2 : array, shape (bands,)
        Limits; minus and plus infinity where there is none.
    """

    gain_m2: Values
    now_m2: Mapping[str, Values]
    surface_m2: Mapping[str, float]
    least_m2: Values
    most_m2: Values


class _Programme:
    """Rows and unknowns, gathered one after the other."""

    def __init__(self) -> None:
        self.cost: list[float] = []
        self.upper: list[float] = []
        self.whole: list[int] = []
        self._rows: list[dict[int, float]] = []
        self._lows: list[float] = []
        self._highs: list[float] = []

    def unknown(self, *, cost: float = 0.0, upper: float = np.inf, whole: bool = False) -> int:
        self.cost.append(cost)
        self.upper.append(upper)
        self.whole.append(int(whole))
        return len(self.cost) - 1

    def row(self, terms: Mapping[int, float], *, low: float = -np.inf, high: float = np.inf) -> None:
        self._rows.append(dict(terms))
        self._lows.append(low)
        self._highs.append(high)

    def solve(self) -> Values | None:
        from scipy.optimize import Bounds, LinearConstraint, milp

        size = len(self.cost)
        matrix = np.zeros((len(self._rows), size))
        for i, terms in enumerate(self._rows):
            for j, value in terms.items():
                matrix[i, j] = value
        with no_c_output():
            result = milp(
                np.array(self.cost),
                constraints=LinearConstraint(matrix, np.array(self._lows), np.array(self._highs)),
                integrality=np.array(self.whole),
                bounds=Bounds(np.zeros(size), np.array(self.upper)),
                options={"node_limit": NODE_LIMIT, "time_limit": TIME_LIMIT_S, "mip_rel_gap": _GAP},
            )
        return None if result.x is None else np.asarray(result.x)


def solve(
    places: Sequence[Place],
    states: Sequence[Limits],
    *,
    price: Values,
    on_hand: Sequence[tuple[str, int]] = (),
    nearest: bool = False,
) -> NDArray[np.int64] | None:
    """Find how many panels go where.

    Parameters
    ----------
    places : sequence of Place
        Kinds of panel on surfaces.
    states : sequence of Limits
        One, or two for panels that are turned.
    price : array, shape (places,)
        What one panel costs in the measure that is to be least.
    on_hand : sequence of (str, int)
        Panels by material that cost nothing, up to so many.
    nearest : bool, default False
        Whether limits may be missed, as little as possible: first the worst
        miss, as a share of the limit, then their sum.

    Returns
    -------
    array of int, shape (places,), or None
        Counts; ``None`` where no choice keeps the limits.

    Notes
    -----
    Beside the price a little is charged for every kind of panel and for
    lining the pairs of walls unevenly, where the formulas are least sure.
    """
    programme = _Programme()
    # A miss has to weigh more than any number of panels.
    scale = (
        1.0
        if not nearest
        else 1e-3 / max(float(sum(p * x.most for p, x in zip(price, places, strict=True))), 1e-9)
    )
    counts = [
        programme.unknown(
            cost=scale * cost * (1e-3 if any(place.absorber.name == name for name, _ in on_hand) else 1.0),
            upper=place.most,
            whole=True,
        )
        for place, cost in zip(places, price, strict=True)
    ]
    _keep_surfaces(programme, places, counts)
    _charge_kinds(programme, places, counts, price=price, scale=scale)
    for name, owned in on_hand:
        ours = [i for i, place in enumerate(places) if place.absorber.name == name]
        if ours:
            bought = programme.unknown(cost=scale * float(price[ours].mean()))
            programme.row({bought: 1.0, **{counts[i]: -1.0 for i in ours}}, low=-float(owned))
    worst = programme.unknown(cost=10.0, upper=np.inf if nearest else 0.0)
    for state in states:
        _keep_limits(programme, state, counts, worst=worst, nearest=nearest)
        _charge_unevenness(programme, state, places, counts, price=price, scale=scale)
    solution = programme.solve()
    return None if solution is None else np.asarray(np.rint(solution[: len(places)]), dtype=np.int64)


def _keep_surfaces(programme: _Programme, places: Sequence[Place], counts: Sequence[int]) -> None:
    for surface in {place.surface.name: place.surface for place in places}.values():
        here = {counts[i]: p.panel_m2 for i, p in enumerate(places) if p.surface.name == surface.name}
        programme.row(here, high=surface.hangable_m2 + 1e-9)


def _charge_kinds(
    programme: _Programme, places: Sequence[Place], counts: Sequence[int], *, price: Values, scale: float
) -> None:
    chosen = {}
    for name in sorted({place.absorber.name for place in places}):
        ours = [i for i, place in enumerate(places) if place.absorber.name == name]
        most = float(sum(places[i].most for i in ours))
        chosen[name] = programme.unknown(cost=0.5 * scale * float(np.median(price)), upper=1.0, whole=True)
        programme.row({**{counts[i]: 1.0 for i in ours}, chosen[name]: -most}, high=0.0)
    programme.row(dict.fromkeys(chosen.values(), 1.0), high=float(MOST_KINDS))


def _keep_limits(
    programme: _Programme, state: Limits, counts: Sequence[int], *, worst: int, nearest: bool
) -> None:
    now = np.asarray(sum(state.now_m2.values()))
    for b in range(now.size):
        miss = programme.unknown(cost=1.0, upper=np.inf if nearest else 0.0)
        programme.row({worst: 1.0, miss: -1.0}, low=0.0)
        for limit, sign in ((state.least_m2[b], 1.0), (state.most_m2[b], -1.0)):
            if np.isfinite(limit):
                terms = {j: sign * float(state.gain_m2[i, b]) for i, j in enumerate(counts)}
                terms[miss] = max(abs(float(limit)), 1e-3)
                programme.row(terms, low=sign * float(limit - now[b]))


def _charge_unevenness(
    programme: _Programme,
    state: Limits,
    places: Sequence[Place],
    counts: Sequence[int],
    *,
    price: Values,
    scale: float,
) -> None:
    if set(state.surface_m2) != {"x", "y", "z"}:
        return
    total_m2 = sum(state.surface_m2.values())
    per_m2 = float(np.median(price / np.array([place.panel_m2 for place in places])))
    now = np.asarray(sum(state.now_m2.values()))
    for axis, surface_m2 in state.surface_m2.items():
        off = programme.unknown(cost=scale * _UNEVEN_PRICE * per_m2 * total_m2)
        for b in range(now.size):
            for sign in (1.0, -1.0):
                # sign (own mean - (1 + sign EVEN) mean of all) <= off
                share = (1.0 + sign * EVEN) / total_m2
                terms = {
                    j: sign
                    * float(state.gain_m2[i, b])
                    * ((places[i].surface.facing == axis) / surface_m2 - share)
                    for i, j in enumerate(counts)
                }
                terms[off] = -1.0
                programme.row(terms, high=-sign * float(state.now_m2[axis][b] / surface_m2 - share * now[b]))
