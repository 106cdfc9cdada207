r"""A room model that learns: what the materials are said to absorb, corrected by what the room has shown.

Per octave the unknowns are one log-factor :math:`\theta_m` for the coefficient
of each material (prior: normal, its spread), and one log-factor
:math:`\delta` for the formula (prior: normal, the formula's own spread). A
reading of one stage says

.. math:: \ln T_\mathrm{read} = \ln T_\mathrm{formula}(\alpha_m e^{\theta_m}) + \delta + e

with e from the reading's interval. The posterior is found by Gauss-Newton and
stated by its curvature, and it is the prior of the next stage; a material that
comes new brings its own prior. Between stages the formula's error wanders by
`WANDER`, more where the evenness of the room changes. (Derived here; the
scheme is that of the iterated extended Kalman filter, A. H. Jazwinski,
"Stochastic Processes and Filtering Theory" (1970), chapter 8, from memory.)
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from roomir.bands.band import OCTAVES
from roomir.errors import ParameterError
from roomir.rooms.description import Room
from roomir.rooms.five_formulas import Absorbing, arau_puchades_s, eyring_s
from roomir.rooms.prediction import (
    absorbing,
    best_s,
    choose_method,
    known_octaves,
    picked,
    spread_of_formula,
)
from roomir.rooms.statistics import schroeder_frequency_hz

Values = NDArray[np.float64]

WANDER = 0.03
"""Standard deviation of ln T by which the formula's error changes from stage to stage: own choice."""

_ROUNDS = 8
_STEP = 1e-4
_Z95 = 1.959964


@dataclass(frozen=True, slots=True, kw_only=True)
class StageReading:
    """What was read in one stage.

    Attributes
    ----------
    name : str
        The stage.
    decay_time_s : mapping of int to (float, float)
        By index of the octave: decay time and its standard uncertainty as a
        share of it. [s, 1]
    """

    name: str
    decay_time_s: Mapping[int, tuple[float, float]]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Knowledge:
    """What is known of one room, per octave: a mean and a covariance.

    Attributes
    ----------
    octaves : tuple of int
        Indices of the octaves.
    names : tuple of str
        Materials met so far, in the order of the unknowns; the last unknown is the formula's.
    mean : array, shape (bands, names + 1)
        Log-factors.
    covariance : array, shape (bands, names + 1, names + 1)
        Of them.
    stages : tuple of str
        Readings that went in.
    skew : array or None, shape (bands,)
        ln(Arau-Puchades / Eyring) of the last stage that was read, where known.
    """

    octaves: tuple[int, ...]
    names: tuple[str, ...]
    mean: Values
    covariance: Values
    stages: tuple[str, ...] = ()
    skew: Values | None = None

    def factor(self, name: str) -> Values:
        """Mean factor on the coefficient of a material, shape (bands,); 1 where nothing is known."""
        if name not in self.names:
            return np.ones(len(self.octaves))
        return np.asarray(np.exp(self.mean[:, self.names.index(name)]))


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
        The formula.
    because : str
        Why this one.
    body : Absorbing
        The room with corrected coefficients.
    formula_factor : array, shape (bands,)
        Factor on the formula's decay time.
    """

    octaves: tuple[int, ...]
    decay_time_s: Values
    log_spread: Values
    method: str
    because: str
    body: Absorbing
    formula_factor: Values

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


def know_nothing(octaves: Sequence[int]) -> Knowledge:
    """Knowledge before any reading: the formula is right on average."""
    n = len(octaves)
    return Knowledge(
        octaves=tuple(octaves), names=(), mean=np.zeros((n, 1)), covariance=np.full((n, 1, 1), np.nan)
    )


def meet(knowledge: Knowledge, room: Room) -> Knowledge:
    """Add the materials of a room that are new, with their own spread and no correlation to what is known."""
    spreads = {patch.material: patch.log_spread for _, patch in room.patches}
    spreads |= {one.material: one.log_spread for one in room.furnishings}
    new = [name for name in sorted(spreads) if name not in knowledge.names]
    if not new:
        return knowledge
    n_old, n_new, bands = len(knowledge.names), len(new), len(knowledge.octaves)
    mean = np.zeros((bands, n_old + n_new + 1))
    covariance = np.zeros((bands, n_old + n_new + 1, n_old + n_new + 1))
    kept = [*range(n_old), n_old + n_new]
    mean[:, kept] = knowledge.mean
    covariance[np.ix_(range(bands), kept, kept)] = knowledge.covariance
    for i, name in enumerate(new, start=n_old):
        covariance[:, i, i] = picked(spreads[name], knowledge.octaves) ** 2
    return replace(knowledge, names=(*knowledge.names, *new), mean=mean, covariance=covariance)


def expect(room: Room, knowledge: Knowledge | None = None) -> Expected:
    """Say what a room is expected to read, given what is known.

    Parameters
    ----------
    room : Room
        In the stage in question.
    knowledge : Knowledge, optional
        From readings of earlier stages; without it the materials' tables alone.

    Returns
    -------
    Expected
        Median and spread per octave.
    """
    known = know_nothing(known_octaves(room)) if knowledge is None else knowledge
    known = meet(known, room)
    body, names = absorbing(room, known.octaves), known.names
    method, because = choose_method(_corrected(room, body, known.mean, names))
    ready = _with_formula(room, body, known, method=method)
    log_t, slopes = _log_times(room, body, ready.mean, names, method=method)
    variance = np.einsum("bi,bij,bj->b", slopes, ready.covariance, slopes)
    return Expected(
        octaves=known.octaves,
        decay_time_s=np.exp(log_t),
        log_spread=np.sqrt(variance),
        method=method,
        because=because,
        body=_corrected(room, body, ready.mean, names),
        formula_factor=np.exp(ready.mean[:, -1]),
    )


def learn(room: Room, reading: StageReading, knowledge: Knowledge | None = None) -> Knowledge:
    """Let a reading of a stage correct what is known.

    Parameters
    ----------
    room : Room
        As it was in that stage.
    reading : StageReading
        Decay times and their uncertainty; octaves without one stay as they are.
    knowledge : Knowledge, optional
        From earlier stages, in their order.

    Returns
    -------
    Knowledge
        For the next stage.

    Raises
    ------
    ParameterError
        If the reading has no octave that the room has.
    """
    known = know_nothing(known_octaves(room)) if knowledge is None else knowledge
    known = meet(known, room)
    if not set(reading.decay_time_s) & set(known.octaves):
        raise ParameterError(
            f"the reading of {reading.name} has no band that the room's materials speak of",
            code="nothing-to-learn",
            remedy="read the room with more range, or give its materials more bands",
        )
    body, names = absorbing(room, known.octaves), known.names
    method, _ = choose_method(_corrected(room, body, known.mean, names))
    prior = _with_formula(room, body, known, method=method)
    mean, covariance = prior.mean.copy(), prior.covariance.copy()
    read = np.full(len(known.octaves), np.nan)
    noise = np.ones(len(known.octaves))
    for k, i in enumerate(known.octaves):
        if i in reading.decay_time_s:
            value_s, share = reading.decay_time_s[i]
            read[k], noise[k] = math.log(value_s), max(share, 1e-3) ** 2
    has = np.isfinite(read)
    for _ in range(_ROUNDS):
        log_t, slopes = _log_times(room, body, mean, names, method=method)
        spread = np.einsum("bij,bj->bi", prior.covariance, slopes)
        gain = spread / (np.einsum("bi,bi->b", slopes, spread) + noise)[:, np.newaxis]
        moved = np.einsum("bi,bi->b", slopes, prior.mean - mean)
        step = gain * (np.where(has, read, log_t) - log_t - moved)[:, np.newaxis]
        mean = np.where(has[:, np.newaxis], prior.mean + step, prior.mean)
        covariance = np.where(
            has[:, np.newaxis, np.newaxis],
            prior.covariance - np.einsum("bi,bj->bij", gain, spread),
            prior.covariance,
        )
    return replace(
        known,
        mean=mean,
        covariance=covariance,
        stages=(*known.stages, reading.name),
        skew=_skew(_corrected(room, body, mean, names)),
    )


def _with_formula(room: Room, body: Absorbing, known: Knowledge, *, method: str) -> Knowledge:
    """Give the formula's log-factor its spread for this stage: all of it at first, its wandering later."""
    corrected = _corrected(room, body, known.mean, known.names)
    time_s = best_s(corrected, method)
    mids = [k for k, i in enumerate(known.octaves) if OCTAVES[i].nominal_hz in (500, 1000)]
    mid_s = float(np.mean(time_s[mids])) if mids else float("nan")
    schroeder_hz = (
        schroeder_frequency_hz(volume_m3=room.volume_m3, decay_time_s=mid_s) if math.isfinite(mid_s) else None
    )
    covariance = known.covariance.copy()
    if not known.stages:
        covariance[:, -1, -1] = spread_of_formula(corrected, known.octaves, schroeder_hz=schroeder_hz) ** 2
    else:
        now = _skew(corrected)
        turned = 0.0 if now is None or known.skew is None else 0.5 * np.abs(now - known.skew)
        covariance[:, -1, -1] = known.covariance[:, -1, -1] + WANDER**2 + turned**2
    return replace(known, covariance=covariance)


def _skew(body: Absorbing) -> Values | None:
    arau_s = arau_puchades_s(body)
    return None if arau_s is None else np.asarray(np.log(arau_s / eyring_s(body)))


def _corrected(room: Room, body: Absorbing, mean: Values, names: Sequence[str]) -> Absorbing:
    """The room with its coefficients times the mean factors."""
    index = {name: i for i, name in enumerate(names)}
    patches = np.exp(np.stack([mean[:, index[patch.material]] for _, patch in room.patches]))
    pieces = np.exp(np.array([mean[:, index[one.material]] for one in room.furnishings]))
    pieces_m2 = body.pieces_m2 * pieces.reshape(body.pieces_m2.shape)
    return replace(body, alphas=body.alphas * patches, pieces_m2=pieces_m2)


def _log_times(
    room: Room, body: Absorbing, mean: Values, names: Sequence[str], *, method: str
) -> tuple[Values, Values]:
    """The logarithm of T and its slopes against every unknown, shapes (bands,) and (bands, unknowns)."""
    base = np.log(best_s(_corrected(room, body, mean, names), method))
    slopes = np.zeros_like(mean)
    for i in range(len(names)):
        nudged = mean.copy()
        nudged[:, i] += _STEP
        slopes[:, i] = (np.log(best_s(_corrected(room, body, nudged, names), method)) - base) / _STEP
    slopes[:, -1] = 1.0
    return np.asarray(base + mean[:, -1]), slopes
