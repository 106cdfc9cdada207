"""Decays that no room can have: all bands bent downwards at the same moment or the same level."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from roomir.decay.influence import effective_number
from roomir.decay.likelihood import Floats
from roomir.faults.limits import SURE, SURE_ALONE, Limits, reaches
from roomir.faults.scores import AskedBand, Scores, agreed, score_courses, without_loudest
from roomir.faults.shapes import SHAPES, Courses, Law, Shape, shape_courses

LEAST_MOVE = 0.03
"""A bend that moves no decay time by this part is let be."""

LEAST_RECOVERY = 0.01
"""The same for a gain that recovers: no room does what it does to the background, and it need not
have done with it what it did to the decay."""

_HIGH = 0.3
_DEEP = 0.65
_ONE_RESPONSE = 1.6
"""Claps that are worth fewer unrelated ones than this were heard in one spot."""

_SHUTS = np.array([shape.law is Law.SHUT for shape in SHAPES])
RECOVERS = np.array([shape.law is Law.RECOVERS for shape in SHAPES])
"""Which shapes are gains that recover, the background with them."""


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
        Its significance over all bands. [standard deviations]
    bend_s : float
        When it begins, or its time constant. [s]
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
        return self.recovers or (self.depth < _HIGH and self.shape.law is not Law.SHUT)

    @property
    def pulls_down(self) -> bool:
        """Whether it lies so deep that it must be the end."""
        return not self.recovers and (self.depth > _DEEP or self.shape.law is Law.SHUT)

    @property
    def recovers(self) -> bool:
        """Whether everything, the background with it, comes up again."""
        return self.shape.law is Law.RECOVERS

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
        return max(self.moves_in(column) for column in range(len(self.too_long)))

    def moves_in(self, column: int) -> float:
        """By what part it moves the decay time of one band."""
        longer, shorter = self.too_long[column] or 0.0, self.too_short[column] or 0.0
        if self.holds_down:
            return longer
        return shorter if self.pulls_down else max(longer, shorter)


def score_bands(bands: Sequence[AskedBand | None], *, n_claps: int) -> Scores:
    """Score every shape in every band for every clap."""
    score = np.zeros((n_claps, len(bands), len(SHAPES)))
    variance, bend_s = np.zeros_like(score), np.zeros_like(score)
    asked: list[Courses | None] = []
    for column, band in enumerate(bands):
        courses = None if band is None else shape_courses(band.fit)
        asked.append(courses)
        if band is None or courses is None:
            continue
        own_score, own_variance = score_courses(band, courses.course, mind_slopes=_SHUTS)
        score[band.rows, column] = own_score[band.asked]
        variance[band.rows, column] = own_variance[band.asked]
        bend_s[band.rows, column] = courses.bend_s[band.asked]
    return Scores(score=score, variance=variance, bend_s=bend_s, courses=tuple(asked))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strength:
    """How strongly some claps speak for each shape.

    Attributes
    ----------
    rows : tuple of int
        The claps.
    together, without : array, shape (n_shapes,)
        Significance over all bands, and without the one that speaks loudest. [standard deviations]
    amount : array, shape (n_shapes,)
        How much of each shape there is.
    bend_s : array, shape (n_shapes,)
        When each begins. [s]
    alike : bool
        Whether all of the claps share one response of the room.
    """

    rows: tuple[int, ...]
    together: Floats
    without: Floats
    amount: Floats
    bend_s: Floats
    alike: bool


def weigh_claps(scores: Scores, bands: Sequence[AskedBand | None], *, rows: Sequence[int]) -> Strength:
    """Add up what some claps say about each shape."""
    own, each = scores.score[list(rows)], scores.variance[list(rows)]
    score, variance = own.sum(axis=0), each.sum(axis=0)
    worth = _worth(bands, rows=rows)
    together, without = agreed(score, variance)
    if len(rows) > 1:
        # A background that grows behind one clap is no gain: those that recover do so behind each.
        others = without_loudest(own.sum(axis=1), each.sum(axis=1))
        without = np.where(RECOVERS, np.minimum(without, others), without)
    else:
        without = np.where(RECOVERS, 0.0, without)
    total = np.maximum(each.sum(axis=(0, 1)), np.finfo(float).tiny)
    return Strength(
        rows=tuple(rows),
        together=together * np.sqrt(worth),
        without=without * np.sqrt(worth),
        amount=score.sum(axis=0) / np.maximum(variance.sum(axis=0), np.finfo(float).tiny),
        bend_s=(each * scores.bend_s[list(rows)]).sum(axis=(0, 1)) / total,
        alike=worth * len(rows) < _ONE_RESPONSE,
    )


def find_bends(scores: Scores, bands: Sequence[AskedBand | None], *, rows: Sequence[int]) -> tuple[Bend, ...]:
    """Find bends that the bands of one take agree about.

    All claps are asked together first: what a recorder does, it does to each of them. Then each
    is asked alone.

    Returns
    -------
    tuple of Bend
        One over all claps, or one for each clap that shows one by itself.
    """
    single = [bend for row in rows if (bend := find_alone(scores, bands, row=row)) is not None]
    if len(rows) == 1:
        return tuple(single)
    together = _sure(weigh_claps(scores, bands, rows=rows), scores, bands, limits=SURE)
    # One clap that something struck may carry the sum of all: then it is that clap's matter.
    if together is not None and (len(single) != 1 or single[0].z < together.z):
        return (together,)
    return tuple(single)


def find_alone(scores: Scores, bands: Sequence[AskedBand | None], *, row: int) -> Bend | None:
    """Find a bend that the bands of one clap agree about."""
    return _sure(weigh_claps(scores, bands, rows=[row]), scores, bands, limits=SURE_ALONE)


def _sure(
    claps: Strength, scores: Scores, bands: Sequence[AskedBand | None], *, limits: Limits
) -> Bend | None:
    """The bend that goes furthest beyond its limit, unless it hardly moves a decay time."""
    reach = reaches(claps.together, claps.without, limits=limits, bend_s=claps.bend_s, alike=claps.alike)
    best = int(np.argmax(reach))
    if reach[best] < 1.0:
        return None
    bend = measure(claps, scores, bands, which=best)
    return bend if bend.moves >= (LEAST_RECOVERY if bend.recovers else LEAST_MOVE) else None


def _worth(bands: Sequence[AskedBand | None], *, rows: Sequence[int]) -> float:
    """How many unrelated claps each of some claps is worth: claps in one spot share their fine structure."""
    if len(rows) == 1:
        return 1.0
    shares = []
    for band in bands:
        own = np.isin(band.fit.rows, rows) if band is not None else np.zeros(1, dtype=np.bool_)
        if band is not None and own.any():
            shares.append(effective_number(band.fit.likeness[np.ix_(own, own)]) / int(own.sum()))
    return float(np.median(shares)) if shares else 1.0


def measure(claps: Strength, scores: Scores, bands: Sequence[AskedBand | None], *, which: int) -> Bend:
    """Tell what one of the shapes, taken at its estimate, does to each band."""
    shape, a = SHAPES[which], float(claps.amount[which])
    too_short: list[float | None] = [None] * len(bands)
    too_long: list[float | None] = [None] * len(bands)
    depths = []
    for column, band in enumerate(bands):
        courses = scores.courses[column]
        if band is None or courses is None:
            continue
        here = np.isin(band.fit.rows, claps.rows) & band.asked & courses.course[:, which].any(axis=1)
        if not here.any():
            continue
        depths.append(np.median(courses.depth[here, which]))
        if shape.law is Law.RECOVERS:
            # A gain as a whole changes nothing, however large: its course counts in decibels.
            shift = a * (band.influence * courses.course[:, which]).sum(axis=1)[here]
            too_long[column] = float(np.median(shift))
            continue
        # Nothing falls below nothing: a deep bend takes a block away once, however steep it is.
        shift = (band.influence * np.expm1(a * courses.course[:, which])).sum(axis=1)[here]
        rate = np.exp(band.fit.own.log_rate[here, 0])
        whole = np.log1p(a / rate if shape.law is Law.TIME else np.full(rate.size, a))
        too_short[column] = float(-np.median(shift))
        too_long[column] = None if shape.law is Law.SHUT else float(np.median(whole + shift))
    return Bend(
        rows=claps.rows,
        shape=shape,
        z=float(claps.together[which]),
        bend_s=float(claps.bend_s[which]),
        depth=float(np.median(depths)),
        too_short=tuple(too_short),
        too_long=tuple(too_long),
    )
