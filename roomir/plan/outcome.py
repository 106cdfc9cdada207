"""A room with something hung in it, held against what a target asks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomir.plan.model import Expected, Knowledge, expect
from roomir.plan.treatment import Item, treated
from roomir.rooms.description import Room

Values = NDArray[np.float64]

SIX = tuple(range(1, 7))
"""Octaves that a proposal works in: 125 Hz to 4 kHz, which every absorber has."""

LEAST_CHANCE = 0.8
"""Probability with which every band has to be inside."""


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


def judge(room: Room, items: Sequence[Item], window: Window, knowledge: Knowledge) -> Outcome:
    """Hold a room with panels against a target."""
    expected = expect(treated(room, items), knowledge)
    chance = expected.chance_inside(window.low_s, window.high_s)
    chance = np.where(window.asked, chance, 1.0)
    return Outcome(items=tuple(items), expected=expected, chance=chance, inside=chance >= LEAST_CHANCE)
