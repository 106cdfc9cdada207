"""Does a decay ask for a course that its fit does not have? Score tests, band by band and together.

The energies of a band are gamma distributed with a known shape, so the score of one more
parameter has a known variance, and their quotient is a significance, no matter of taste. What
level, decay time and background can explain is taken out first.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomir.decay.band_fit import BandFit
from roomir.decay.influence import influence
from roomir.decay.likelihood import Floats, Ints
from roomir.faults.shapes import LAST_BIT_PER_HZ, Courses

LEAST_RANGE_DB = 15.0
"""A band that shows less of its decay is not asked. [dB]"""

LEAST_BANDS = 3
"""Fewer bands than this cannot agree about anything."""

_LARGEST_VARIANCE = 0.03
_SEPARABLE = 1e-4
_SLOWER = 0.4
_RIDGE = 1e-9
_MEDIAN_OF_SQUARE = 0.455
_BY_CHANCE = 1.6
"""So far the median over some dozen blocks strays by chance."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scores:
    """Scores of all shapes in all bands for all claps of a reading.

    Attributes
    ----------
    score, variance : array, shape (n_claps, n_bands, n_shapes)
        Zero where a band was not asked.
    bend_s : array, shape (n_claps, n_bands, n_shapes)
        When the shape begins. [s]
    courses : tuple (n_bands) of Courses or None
        What was asked for; None where a band was not asked.
    """

    score: Floats
    variance: Floats
    bend_s: Floats
    courses: tuple[Courses | None, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AskedBand:
    """A band made ready to be asked.

    Attributes
    ----------
    fit : BandFit
        The band.
    asked : bool array, shape (n_claps,)
        Which of its claps show enough of their decay.
    weight : array, shape (n_claps, n_blocks)
        Gamma shapes, less where neighbouring blocks differ more than chance makes them.
    influence : array, shape (n_claps, n_blocks)
        Change of each clap's log decay time per unit of relative residual.
    """

    fit: BandFit
    asked: NDArray[np.bool_]
    weight: Floats
    influence: Floats

    @property
    def rows(self) -> Ints:
        """Rows of the claps that are asked."""
        return self.fit.rows[self.asked]


def make_ready(fit: BandFit) -> AskedBand | None:
    """Make a band ready; None where no clap shows enough of its decay."""
    moved_by, variance = influence(fit.own, fit.blocks.shape)
    ranges = [fit.model(row).range_db(from_s=0.0, end_s=trace.end_s) for row, trace in enumerate(fit.traces)]
    asked = (np.array(ranges) >= LEAST_RANGE_DB) & (variance > 0.0) & (variance < _LARGEST_VARIANCE)
    if not asked.any():
        return None
    weight = fit.blocks.shape / _restlessness(fit)[:, None]
    # Rounding to 16 bits without dither shuts like a gate, but so far down that no decay time minds.
    weight = np.where(fit.own.expectation > LAST_BIT_PER_HZ * fit.band_filter.band.width_hz, weight, 0.0)
    return AskedBand(fit=fit, asked=asked, weight=weight, influence=moved_by)


def score_courses(
    band: AskedBand, courses: Floats, *, mind_slopes: NDArray[np.bool_]
) -> tuple[Floats, Floats]:
    """Score courses in one band.

    Parameters
    ----------
    band : AskedBand
        The band.
    courses : array, shape (n_claps, n_shapes, n_blocks)
        Change of the log expected energy.
    mind_slopes : bool array, shape (n_shapes,)
        Which shapes a second, slower slope that the fit does not have could be mistaken for.

    Returns
    -------
    (array, array), shape (n_claps, n_shapes)
        Score of each at zero and the variance that it has by chance.
    """
    own = band.fit.own
    weight = band.weight[:, None, :]
    edges = band.fit.blocks.edges_s
    slower = own.log_rate[:, -1:] + np.log(_SLOWER)
    fallen = np.exp(slower) * 0.5 * (edges[1:] + edges[:-1])
    slope = np.exp(own.log_level[:, None] - fallen) / own.expectation
    asked = np.concatenate([courses, slope[:, None, :]], axis=1)
    weighted = asked * weight
    score = (weighted @ own.residual[:, :, None])[..., 0]
    square = np.einsum("chb,chb->ch", weighted, asked)
    shared = own.jacobian @ weighted.transpose(0, 2, 1)
    information = (own.jacobian * weight) @ own.jacobian.transpose(0, 2, 1)
    information += _RIDGE * np.eye(information.shape[1])
    solved = np.linalg.solve(information, shared)
    variance = square - np.einsum("cph,cph->ch", shared, solved)
    # The fit is at its maximum with the weights it was made with; with these it would have moved a little.
    score -= np.einsum("cph,cpb,cb->ch", solved, own.jacobian, band.weight * own.residual)
    # What a slower slope explains is taken out as well, where the decay does bend that way.
    cross = (weighted @ slope[:, :, None])[..., 0] - np.einsum("cph,cp->ch", shared, solved[:, :, -1])
    bends_up = (score[:, -1:] > 0.0) & (variance[:, -1:] > _SEPARABLE * square[:, -1:])
    minded = bends_up & np.append(mind_slopes, False)
    part = np.where(minded, cross / np.maximum(variance[:, -1:], _RIDGE), 0.0)
    score, variance = score - part * score[:, -1:], variance - part * cross
    score, variance, square = score[:, :-1], variance[:, :-1], square[:, :-1]
    # A course that the fit can follow by itself says nothing.
    told = variance > _SEPARABLE * np.maximum(square, _RIDGE)
    return np.where(told, score, 0.0), np.where(told, variance, 0.0)


def _restlessness(fit: BandFit) -> Floats:
    """How much more neighbouring blocks differ than chance makes them, at least 1; shape (n_claps,).

    A flutter echo swings up and down in all bands at once; its swings must not pass for a bend.
    The median is deaf to the one or two steps that a gain makes.
    """
    shape, residual = fit.blocks.shape, fit.own.residual
    both = (shape[:, 1:] > 0) & (shape[:, :-1] > 0)
    expected = 1.0 / np.maximum(shape[:, 1:], _RIDGE) + 1.0 / np.maximum(shape[:, :-1], _RIDGE)
    ratio = np.where(both, np.diff(residual, axis=1) ** 2 / expected, np.inf)
    ratio.sort(axis=1)
    middle = ratio[np.arange(both.shape[0]), both.sum(axis=1) // 2]
    return np.asarray(np.maximum(middle / _MEDIAN_OF_SQUARE / _BY_CHANCE, 1.0))


def agreed(score: Floats, variance: Floats) -> tuple[Floats, Floats]:
    """Significance of each shape over all bands, and over all but the one that speaks loudest for it.

    Parameters
    ----------
    score, variance : array, shape (n_bands, n_shapes)
        Independent bands.

    Returns
    -------
    (array, array), shape (n_shapes,)
        Standard deviations; zero where fewer than ``LEAST_BANDS`` were asked.
    """
    enough = (variance > 0.0).sum(axis=0) >= LEAST_BANDS
    total = _significance(score.sum(axis=0), variance.sum(axis=0))
    return np.where(enough, total, 0.0), np.where(enough, without_loudest(score, variance), 0.0)


def without_loudest(score: Floats, variance: Floats) -> Floats:
    """Significance of each shape over all parts but the one that speaks loudest; shape (n_shapes,).

    Parameters
    ----------
    score, variance : array, shape (n_parts, n_shapes)
        Independent parts, bands or claps.
    """
    left = score.sum(axis=0) - score
    return np.asarray(_significance(left, variance.sum(axis=0) - variance).min(axis=0))


def _significance(score: Floats, variance: Floats) -> Floats:
    return np.where(variance > _RIDGE, score / np.sqrt(np.maximum(variance, _RIDGE)), 0.0)
