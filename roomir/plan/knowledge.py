"""What is known of a room, said by its description and corrected by its readings; and what it is to read."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from roomir.rooms.choice import picked
from roomir.rooms.description import Room
from roomir.rooms.five_formulas import Absorbing

Values = NDArray[np.float64]

_Z95 = 1.959964


@dataclass(frozen=True, slots=True, kw_only=True)
class StageReading:
    """What was read in one stage.

    Attributes
    ----------
    name : str
        The stage.
    decay_time_s : mapping of int to (float, float)
        By index of the octave: decay time (T30) and its standard uncertainty
        as a share of it. [s, 1]
    bend : mapping of int to (float, float)
        By index of the octave: ln(T30/T20), how far the decay is from
        straight, and its standard uncertainty. It tells whether walls mirror.
    """

    name: str
    decay_time_s: Mapping[int, tuple[float, float]]
    bend: Mapping[int, tuple[float, float]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Knowledge:
    """What is known of one room, per octave: a mean and a covariance for every mixing.

    Attributes
    ----------
    octaves : tuple of int
        Indices of the octaves.
    names : tuple of str
        Materials met so far, in the order of the unknowns; the last unknown is the formula's.
    mixings : tuple of float
        Values of w; empty before the first reading, ``(nan,)`` where the size is not known.
    weight : array, shape (mixings,)
        Probability of each.
    mean : array, shape (mixings, bands, names + 1)
        Log-factors.
    covariance : array, shape (mixings, bands, names + 1, names + 1)
        Of them.
    stages : tuple of str
        Readings that went in.
    amounts : dict of str to float
        How much of each material there was when the room was last read. [m2 or pieces]
    """

    octaves: tuple[int, ...]
    names: tuple[str, ...] = ()
    mixings: tuple[float, ...] = ()
    weight: Values
    mean: Values
    covariance: Values
    stages: tuple[str, ...] = ()
    amounts: dict[str, float] = field(default_factory=dict)

    def factor(self, name: str) -> Values:
        """Mean factor on the coefficient of a material, shape (bands,); 1 where nothing is known."""
        if name not in self.names:
            return np.ones(len(self.octaves))
        return np.asarray(np.exp(self.weight @ self.mean[:, :, self.names.index(name)]))

    @property
    def mixing(self) -> float:
        """Mean of w; nan where the size is not known."""
        return float(self.weight @ np.array(self.mixings)) if self.mixings else math.nan


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Expected:
    """What a room is expected to read.

    Attributes
    ----------
    octaves : tuple of int
        Indices of the octaves.
    decay_time_s : array, shape (bands,)
        Median. [s]
    log_spread : array, shape (bands,)
        Standard deviation of its logarithm.
    method : str
        The formula, or `LEARNED`.
    because : str
        Why this one.
    body : Absorbing
        The room with corrected coefficients.
    learnt_from : tuple of str
        Readings that corrected them, in their order.
    """

    octaves: tuple[int, ...]
    decay_time_s: Values
    log_spread: Values
    method: str
    because: str
    body: Absorbing
    learnt_from: tuple[str, ...] = ()

    @property
    def ci95_s(self) -> Values:
        """95 % interval, shape (bands, 2). [s]."""
        reach = np.exp(_Z95 * self.log_spread)
        return np.stack([self.decay_time_s / reach, self.decay_time_s * reach], axis=1)

    def chance_inside(self, low_s: Values, high_s: Values) -> Values:
        """Probability that each band lies between two times (0 and infinity where there is no limit)."""
        middle = np.log(self.decay_time_s)
        with np.errstate(divide="ignore"):
            ends = [(np.log(end) - middle) / self.log_spread for end in (low_s, high_s)]
        below, above = (np.array([0.5 * math.erfc(-x / math.sqrt(2.0)) for x in end]) for end in ends)
        return np.asarray(above - below)


def amounts(room: Room) -> dict[str, float]:
    """How much there is of each material. [m2 or pieces]."""
    found: dict[str, float] = {}
    for _, patch in room.patches:
        found[patch.material] = found.get(patch.material, 0.0) + patch.area_m2
    for one in room.furnishings:
        found[one.material] = found.get(one.material, 0.0) + one.count
    return found


def know_nothing(octaves: Sequence[int]) -> Knowledge:
    """Knowledge before any reading: the tables and the formula are right on average."""
    n = len(octaves)
    return Knowledge(
        octaves=tuple(octaves), weight=np.ones(1), mean=np.zeros((1, n, 1)), covariance=np.zeros((1, n, 1, 1))
    )


def at_octaves(knowledge: Knowledge, octaves: Sequence[int]) -> Knowledge:
    """Keep only some octaves."""
    rows = [knowledge.octaves.index(i) for i in octaves]
    return replace(
        knowledge,
        octaves=tuple(octaves),
        mean=knowledge.mean[:, rows],
        covariance=knowledge.covariance[:, rows],
    )


def spread_out(known: Knowledge, mixings: Sequence[float]) -> Knowledge:
    """Keep several values of w side by side, equally likely."""
    n = len(mixings)
    return replace(
        known,
        mixings=tuple(mixings),
        weight=np.full(n, 1.0 / n),
        mean=np.repeat(known.mean, n, axis=0),
        covariance=np.repeat(known.covariance, n, axis=0),
    )


def met(known: Knowledge, room: Room) -> Knowledge:
    """Add the materials of a room that are new, with their own spread and no correlation to what is known."""
    spreads = {patch.material: patch.log_spread for _, patch in room.patches}
    spreads |= {one.material: one.log_spread for one in room.furnishings}
    new = [name for name in sorted(spreads) if name not in known.names]
    if not new:
        return known
    n_old, n_new, bands, mixings = len(known.names), len(new), len(known.octaves), known.mean.shape[0]
    size = n_old + n_new + 1
    mean, covariance = np.zeros((mixings, bands, size)), np.zeros((mixings, bands, size, size))
    kept = [*range(n_old), size - 1]
    mean[:, :, kept] = known.mean
    covariance[np.ix_(range(mixings), range(bands), kept, kept)] = known.covariance
    for i, name in enumerate(new, start=n_old):
        covariance[:, :, i, i] = picked(spreads[name], known.octaves) ** 2
    return replace(known, names=(*known.names, *new), mean=mean, covariance=covariance)
