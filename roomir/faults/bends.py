"""Decays that no room can have: all bands bent downwards at the same moment or the same level."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from roomir.decay.band_fit import BandFit
from roomir.decay.influence import effective_number, influence
from roomir.decay.likelihood import Floats, Ints
from roomir.faults.scores import Scores, agreed, may_be_asked, score_courses
from roomir.faults.shapes import SHAPES, Law, Shape, shape_courses


@dataclass(frozen=True, slots=True, kw_only=True)
class Bend:
    """A bend that the bands of one clap, or of all claps of a take, agree about.

    Attributes
    ----------
    rows : tuple of int
        The claps.
    shape : Shape
        The course that fits best.
    z : float
        Its significance without the band that speaks loudest for it. [standard deviations]
    steepens : float
        How much faster the decays fall behind it: nepers a second, or nepers a neper, or nepers at once.
    depth : float
        Where it lies between start (0) and background (1) in the median band.
    too_short : tuple (n_bands) of float or None
        By what part the fit reads shorter than the decay before the bend.
    too_long : tuple (n_bands) of float or None
        By what part it reads longer than the decay behind it.
    """

    rows: tuple[int, ...]
    shape: Shape
    z: float
    steepens: float
    depth: float
    too_short: tuple[float | None, ...]
    too_long: tuple[float | None, ...]


def score_bands(fits: Sequence[BandFit | None], *, n_claps: int) -> Scores:
    """Score every shape in every band for every clap."""
    score = np.zeros((n_claps, len(fits), len(SHAPES)))
    variance = np.zeros_like(score)
    for column, fit in enumerate(fits):
        if fit is None:
            continue
        asked = may_be_asked(fit)
        if asked.any():
            own_score, own_variance = score_courses(fit, shape_courses(fit))
            score[fit.rows[asked], column] = own_score[asked]
            variance[fit.rows[asked], column] = own_variance[asked]
    return Scores(score=score, variance=variance)


def strongest_bend(
    scores: Scores, fits: Sequence[BandFit | None], *, rows: Sequence[int], limits: Floats
) -> Bend | None:
    """Find the bend that stands highest over its limit, in some claps together."""
    part = scores.of(rows)
    score, variance = part.score.sum(axis=0), part.variance.sum(axis=0)
    z = agreed(score, variance) * np.sqrt(_worth(fits, rows=rows))
    best = int(np.argmax(z / limits))
    if z[best] < limits[best]:
        return None
    a = float(score[:, best].sum() / variance[:, best].sum())
    return _measure(fits, rows=rows, best=best, z=float(z[best]), a=a)


def _worth(fits: Sequence[BandFit | None], *, rows: Sequence[int]) -> float:
    """How many unrelated claps each of some claps is worth: claps in one spot share their fine structure."""
    shares = []
    for fit in fits:
        if fit is None:
            continue
        own = np.isin(fit.rows, rows)
        if own.any():
            shares.append(effective_number(fit.likeness[np.ix_(own, own)]) / int(own.sum()))
    return float(np.median(shares)) if shares else 1.0


def _measure(fits: Sequence[BandFit | None], *, rows: Sequence[int], best: int, z: float, a: float) -> Bend:
    shape = SHAPES[best]
    too_short: list[float | None] = [None] * len(fits)
    too_long: list[float | None] = [None] * len(fits)
    depths = []
    for column, fit in enumerate(fits):
        if fit is None:
            continue
        here = np.flatnonzero(np.isin(fit.rows, rows))
        here = here[may_be_asked(fit)[here]] if here.size else here
        if not here.size:
            continue
        courses = shape_courses(fit)[here, best]
        bent = courses.any(axis=1)
        if not bent.any():
            continue
        weights, _ = influence(fit.own, fit.blocks.shape)
        shift = a * (weights[here] * courses).sum(axis=1)[bent]
        rate = np.exp(fit.own.log_rate[here, 0][bent])
        whole = np.log1p(max(a, 0.0) / rate if shape.law is Law.TIME else max(a, 0.0) + 0.0 * rate)
        too_short[column] = float(-np.median(shift))
        too_long[column] = float(np.median(whole + shift)) if shape.law is not Law.SHUT else 0.0
        depths.append(_depth(fit, here[bent], shape))
    return Bend(
        rows=tuple(rows), shape=shape, z=z, steepens=a,
        depth=float(np.median(depths)), too_short=tuple(too_short), too_long=tuple(too_long),
    )


def _depth(fit: BandFit, rows: Ints, shape: Shape) -> float:
    cross, depth = [], []
    for row in rows:
        model, end_s = fit.model(int(row)), fit.traces[int(row)].end_s
        cross_s = model.crosspoint_s(end_s)
        range_db = model.range_db(from_s=fit.start_s, end_s=end_s)
        if shape.law in (Law.TIME, Law.SHUT):
            depth.append((shape.at - fit.start_s) / max(cross_s - fit.start_s, 1e-3))
        elif shape.law is Law.FALLEN:
            depth.append(shape.at / max(range_db, 1.0))
        else:
            depth.append(1.0 - shape.at / max(range_db, 1.0))
    return float(np.median(depth))
