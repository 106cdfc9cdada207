r"""A room model that learns: what the materials are said to absorb, corrected by what the room has shown.

Per octave the unknowns are one log-factor :math:`\theta_m` for the coefficient
of each material (prior: normal, its spread), and one log-factor
:math:`\delta` for the formula (prior: normal, the formula's own spread). A
reading of one stage says

.. math:: \ln T_\mathrm{read} = \ln T_w(\alpha_m e^{\theta_m}) + \delta + e

with e from the reading's interval. The posterior is found by Gauss-Newton and
stated by its curvature, and it is the prior of the next stage; a material that
comes new brings its own prior. Between stages the formula's error wanders by
`WANDER`, and a material of which more is hung errs anew by the spread of its
mounting (`LAB_SPREAD`) on that part.

In a box of known size nobody knows beforehand how well it mixes directions:
:math:`T_w` is T30 of a box between a diffuse field (w = 0) and walls that
mirror (w = 1), :mod:`roomir.rooms.mirror_box`. The posterior is kept for
several w side by side, each weighed by how well it foresaw the readings: their
decay times, and how far their decays bend, since a decay is straight in a
diffuse field and bent in a box that mirrors. Where the size is not known, the
formula that applies is taken alone.

Derived here; the scheme is that of the iterated extended Kalman filter with
several models (A. H. Jazwinski, "Stochastic Processes and Filtering Theory"
(1970), chapter 8, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from roomir.errors import ParameterError
from roomir.plan.knowledge import (
    Expected,
    Knowledge,
    StageReading,
    Values,
    amounts,
    at_octaves,
    know_nothing,
    met,
    spread_out,
)
from roomir.plan.view import WANDER, View
from roomir.rooms.choice import known_octaves
from roomir.rooms.description import Room

__all__ = [
    "BEND_SPREAD",
    "LEARNED",
    "MIXINGS",
    "WANDER",
    "Expected",
    "Knowledge",
    "StageReading",
    "at_octaves",
    "check_teaches",
    "expect",
    "know_nothing",
    "learn",
]

MIXINGS = (0.0, 0.25, 0.5, 0.75, 1.0)
"""Values of w, equally likely before the first reading."""

BEND_SPREAD = 0.025
"""Standard deviation of ln(T30/T20) beside what the reading's own chance does: own choice. Images in boxes
that mirror keep to the model within 0.008; real rooms bend for other reasons as well."""

LEARNED = "the room's own readings"
"""What is named in place of a formula once the room has been read."""

_ROUNDS = 6


def expect(room: Room, knowledge: Knowledge | None = None) -> Expected:
    """Say what a room is expected to read, given what is known.

    Parameters
    ----------
    room : Room
        In the stage in question.
    knowledge : Knowledge, optional
        From readings of earlier stages; without it the materials' tables and
        the formula that applies, as in :func:`roomir.rooms.prediction.predict`.

    Returns
    -------
    Expected
        Median and spread per octave.
    """
    known = know_nothing(known_octaves(room)) if knowledge is None else knowledge
    known = met(known, room)
    view = View(room, known)
    if not known.stages:
        method, because = view.method, view.because
    else:
        method, because = LEARNED, f"the model was corrected by {len(known.stages)} of them"
    means, slopes = view.log_times(known.mean, known.mixings or (math.nan,))
    variances = np.einsum("kbi,kbij,kbj->kb", slopes, view.with_news(known.covariance), slopes)
    middle = known.weight @ means
    spread = known.weight @ (variances + (means - middle) ** 2)
    return Expected(
        octaves=known.octaves,
        decay_time_s=np.exp(middle),
        log_spread=np.sqrt(spread),
        method=method,
        because=because,
        body=view.body,
        learnt_from=known.stages,
    )


def learn(
    room: Room,
    reading: StageReading,
    knowledge: Knowledge | None = None,
    *,
    mixings: Sequence[float] = MIXINGS,
) -> Knowledge:
    """Let a reading of a stage correct what is known.

    Parameters
    ----------
    room : Room
        As it was in that stage.
    reading : StageReading
        Decay times and their uncertainty; octaves without one stay as they are.
    knowledge : Knowledge, optional
        From earlier stages, in their order.
    mixings : sequence of float
        Values of w to weigh against each other from the first reading on.

    Returns
    -------
    Knowledge
        For the next stage.

    Raises
    ------
    ParameterError
        If the reading has no octave that the room has.
    """
    check_teaches(room, reading)
    known = know_nothing(known_octaves(room)) if knowledge is None else knowledge
    known = met(known, room)
    view = View(room, known)
    if not known.mixings:
        known = spread_out(known, mixings if view.is_box else (math.nan,))
        view = View(room, known)
    read, noise = _columns(reading.decay_time_s, known.octaves)
    mean, covariance, evidence = _update(view, known, read=np.log(read), noise=np.maximum(noise, 1e-3) ** 2)
    if reading.bend and not math.isnan(known.mixings[0]):
        evidence = evidence + _evidence_of_bends(view, known, mean, reading)
    weight = known.weight * np.exp(evidence - evidence.max())
    return replace(
        known,
        weight=weight / weight.sum(),
        mean=mean,
        covariance=covariance,
        stages=(*known.stages, reading.name),
        amounts=known.amounts | amounts(room),
    )


def check_teaches(room: Room, reading: StageReading) -> None:
    """Refuse a reading without an octave that the room's materials speak of.

    Raises
    ------
    ParameterError
        ``nothing-to-learn``.
    """
    if not set(reading.decay_time_s) & set(known_octaves(room)):
        raise ParameterError(
            f"the reading of {reading.name} has no band that the room's materials speak of",
            code="nothing-to-learn",
            remedy="read the room with more range, or give its materials more bands",
        )


def _columns(found: Mapping[int, tuple[float, float]], octaves: Sequence[int]) -> tuple[Values, Values]:
    """Values and uncertainties by octave, nan where there is none."""
    pairs = np.array([found.get(i, (math.nan, math.nan)) for i in octaves])
    return pairs[:, 0], pairs[:, 1]


def _update(view: View, known: Knowledge, *, read: Values, noise: Values) -> tuple[Values, Values, Values]:
    """One reading into every mixing: means, covariances, and the logarithm of how well it was foreseen."""
    has, noise = np.isfinite(read), np.where(np.isfinite(noise), noise, 1.0)
    prior, covariance = known.mean, view.with_news(known.covariance)
    mean, evidence = prior, np.zeros(len(prior))
    for first in range(_ROUNDS):
        log_t, slopes = view.log_times(mean, known.mixings)
        spread = np.einsum("kbij,kbj->kbi", covariance, slopes)
        variance = np.einsum("kbi,kbi->kb", slopes, spread) + noise
        gain = spread / variance[..., np.newaxis]
        off = np.where(has, read - log_t, 0.0)
        if first == 0:
            evidence = -0.5 * np.sum(np.where(has, off**2 / variance + np.log(variance), 0.0), axis=1)
        moved = np.einsum("kbi,kbi->kb", slopes, prior - mean)
        mean = prior + gain * np.where(has, off - moved, 0.0)[..., np.newaxis]
    gain = np.where(has[:, np.newaxis], gain, 0.0)
    return mean, covariance - np.einsum("kbi,kbj->kbij", gain, spread), evidence


def _evidence_of_bends(view: View, known: Knowledge, mean: Values, reading: StageReading) -> Values:
    """Logarithm of how well each mixing foresaw how far the decays bend, shape (mixings,)."""
    read, noise = _columns(reading.bend, known.octaves)
    # Below the Schroeder frequency single modes bend a decay as they like.
    tells = np.isfinite(read) & ~view.modal
    off = np.where(tells, read - view.bends(mean, known.mixings), 0.0)
    variance = np.where(tells, noise, 1.0) ** 2 + BEND_SPREAD**2
    return np.asarray(-0.5 * np.sum(off**2 / variance, axis=1))
