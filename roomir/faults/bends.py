"""Decays that no room can have: all bands bent downwards at the same moment or the same level."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from roomir.decay.influence import effective_number
from roomir.faults.scores import AskedBand, Scores, agreed, score_courses
from roomir.faults.shapes import SHAPES, Law, Shape, shape_courses

LEAST_MOVE = 0.03
"""A bend that moves no decay time by this part is let be."""

_SURE = 4.2
_SURE_EARLY = 5.5
_SURE_DEEP = 5.0
_SURE_SHUT = 6.5
"""Significance that a bend has to reach: well above chance, for rooms are not quite noise under
exponentials. Their first reflections may be late or weak, other sound dies away in their backgrounds,
and a coder that saves bits does so close to them."""
_ALONE = 1.2
"""How much higher for a clap alone, which no other confirms."""
_EARLY_S = 0.08
_EARLY_ALONE_S = 0.15
"""Until then one response may bend by itself; claps in other spots do not bend with it."""
_HIGH = 0.3
_DEEP = 0.65

_SHUTS = np.array([shape.law is Law.SHUT for shape in SHAPES])
_DEEP_DOWN = np.array([shape.law is Law.FLOOR and shape.at <= 10.0 for shape in SHAPES])


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
    bend_s : float
        When it begins. [s]
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
    bend_s: float
    depth: float
    too_short: tuple[float | None, ...]
    too_long: tuple[float | None, ...]

    @property
    def holds_down(self) -> bool:
        """Whether it lies so high that it must be the beginning that was changed."""
        return self.depth < _HIGH and self.shape.law is not Law.SHUT

    @property
    def pulls_down(self) -> bool:
        """Whether it lies so deep that it must be the end."""
        return self.depth > _DEEP or self.shape.law is Law.SHUT

    @property
    def longest(self) -> float:
        """By what part some band reads too long, if the beginning was changed."""
        return max((part for part in self.too_long if part is not None), default=0.0)

    @property
    def shortest(self) -> float:
        """By what part some band reads too short, if the end was."""
        return max((part for part in self.too_short if part is not None), default=0.0)

    @property
    def moves(self) -> float:
        """By what part it moves some band's decay time."""
        if self.holds_down:
            return self.longest
        return self.shortest if self.pulls_down else max(self.longest, self.shortest)


def score_bands(bands: Sequence[AskedBand | None], *, n_claps: int) -> Scores:
    """Score every shape in every band for every clap."""
    score = np.zeros((n_claps, len(bands), len(SHAPES)))
    variance, bend_s = np.zeros_like(score), np.zeros_like(score)
    for column, band in enumerate(bands):
        if band is None:
            continue
        courses = shape_courses(band.fit)
        own_score, own_variance = score_courses(band, courses.course, mind_slopes=_SHUTS)
        score[band.rows, column] = own_score[band.asked]
        variance[band.rows, column] = own_variance[band.asked]
        bend_s[band.rows, column] = courses.bend_s[band.asked]
    return Scores(score=score, variance=variance, bend_s=bend_s)


def find_bends(scores: Scores, bands: Sequence[AskedBand | None], *, rows: Sequence[int]) -> tuple[Bend, ...]:
    """Find bends that the bands of one take agree about.

    All claps are asked together first: what a recorder does, it does to each of them. Then each
    is asked alone.

    Returns
    -------
    tuple of Bend
        One over all claps, or one for each clap that shows one by itself.
    """
    single = [
        bend for row in rows if (bend := _strongest(scores, bands, rows=[row], factor=_ALONE)) is not None
    ]
    together = _strongest(scores, bands, rows=rows, factor=1.0) if len(rows) > 1 else None
    # One clap that something struck may carry the sum of all: then it is that clap's matter.
    if together is not None and (len(single) != 1 or single[0].z < together.z):
        return (together,)
    return tuple(single)


def _strongest(
    scores: Scores, bands: Sequence[AskedBand | None], *, rows: Sequence[int], factor: float
) -> Bend | None:
    each = scores.variance[list(rows)]
    score, variance = scores.score[list(rows)].sum(axis=0), each.sum(axis=0)
    z = agreed(score, variance) * np.sqrt(_worth(bands, rows=rows))
    total = np.maximum(each.sum(axis=(0, 1)), np.finfo(float).tiny)
    bend_s = (each * scores.bend_s[list(rows)]).sum(axis=(0, 1)) / total
    early = bend_s < (_EARLY_S if len(rows) > 1 else _EARLY_ALONE_S)
    usual = np.where(_DEEP_DOWN, _SURE_DEEP, np.where(early, _SURE_EARLY, _SURE))
    limits = factor * np.where(_SHUTS, _SURE_SHUT, usual)
    best = int(np.argmax(z / limits))
    if z[best] < limits[best]:
        return None
    a = float(score[:, best].sum() / variance[:, best].sum())
    bend = _measure(bands, rows=rows, best=best, z=float(z[best]), a=a, bend_s=float(bend_s[best]))
    return bend if bend.moves >= LEAST_MOVE else None


def _worth(bands: Sequence[AskedBand | None], *, rows: Sequence[int]) -> float:
    """How many unrelated claps each of some claps is worth: claps in one spot share their fine structure."""
    shares = []
    for band in bands:
        own = np.isin(band.fit.rows, rows) if band is not None else np.zeros(1, dtype=np.bool_)
        if band is not None and own.any():
            shares.append(effective_number(band.fit.likeness[np.ix_(own, own)]) / int(own.sum()))
    return float(np.median(shares)) if shares else 1.0


def _measure(
    bands: Sequence[AskedBand | None], *, rows: Sequence[int], best: int, z: float, a: float, bend_s: float
) -> Bend:
    shape = SHAPES[best]
    too_short: list[float | None] = [None] * len(bands)
    too_long: list[float | None] = [None] * len(bands)
    depths = []
    for column, band in enumerate(bands):
        if band is None or not np.isin(band.rows, rows).any():
            continue
        courses = shape_courses(band.fit)
        here = np.isin(band.fit.rows, rows) & band.asked & courses.course[:, best].any(axis=1)
        if not here.any():
            continue
        # Nothing falls below nothing: a deep bend takes a block away once, however steep it is.
        shift = (band.influence * np.expm1(a * courses.course[:, best])).sum(axis=1)[here]
        rate = np.exp(band.fit.own.log_rate[here, 0])
        whole = np.log1p(a / rate if shape.law is Law.TIME else np.full(rate.size, a))
        too_short[column] = float(-np.median(shift))
        too_long[column] = None if shape.law is Law.SHUT else float(np.median(whole + shift))
        depths.append(np.median(courses.depth[here, best]))
    return Bend(
        rows=tuple(rows),
        shape=shape,
        z=z,
        bend_s=bend_s,
        depth=float(np.median(depths)),
        too_short=tuple(too_short),
        too_long=tuple(too_long),
    )
