r"""Courses that a gain riding on a decay would leave in it, band by band.

A gain multiplies every band at one moment by the same factor :math:`g(t)`. To first order its
logarithm adds :math:`a\,d(t)` to the logarithm of the band energy that the fit expects; these
are the :math:`d(t)`, in nepers of energy. Rooms add up exponentials with positive weights, and
such a sum can only bend upwards on a logarithmic scale: what bends downwards, in all bands
alike, is none.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np

from roomir.decay.band_fit import BandFit
from roomir.decay.likelihood import Floats
from roomir.decay.model import DB_PER_NEPER


class Law(Enum):
    """What a gain follows."""

    TIME = "time"
    """The decays steepen at one moment, all by as many decibels a second. Parameter: seconds."""
    FALLEN = "fallen"
    """They steepen so far below their start. Parameter: decibels."""
    FLOOR = "floor"
    """They steepen so far above their background. Parameter: decibels."""
    SHUT = "shut"
    """Sound and background fall together within a tenth of a second. Parameter: seconds."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """One course: a law and where it bends."""

    law: Law
    at: float


SHAPES: tuple[Shape, ...] = (
    *(Shape(law=Law.TIME, at=s) for s in (0.045, 0.065, 0.09, 0.13, 0.18, 0.25, 0.35, 0.5, 0.7, 1.0, 1.4, 2.0)),
    *(Shape(law=Law.FALLEN, at=db) for db in (4.0, 7.0, 10.0, 14.0, 19.0, 25.0, 32.0, 40.0)),
    *(Shape(law=Law.FLOOR, at=db) for db in (3.0, 6.0, 10.0, 15.0, 20.0, 27.0)),
    *(Shape(law=Law.SHUT, at=s) for s in (0.09, 0.13, 0.18, 0.25, 0.35, 0.5, 0.7, 1.0, 1.4, 2.0)),
)
"""Where a bend is looked for: close enough together that one lying between two is missed by neither."""

_CLEAR_OF_START_S = 0.02
_CLEAR_OF_CROSSPOINT_S = 0.03
_CLEAR_DB = 4.0
_SHUTS_WITHIN_S = 0.1


def shape_courses(fit: BandFit) -> Floats:
    """Every shape for every clap of a band.

    Returns
    -------
    array, shape (n_claps, n_shapes, n_blocks)
        Change of the log expected energy per unit of the shape; zero where the
        clap does not reach far enough for it.
    """
    own, blocks = fit.own, fit.blocks
    edges = blocks.edges_s
    middle = 0.5 * (edges[1:] + edges[:-1])
    n_claps = own.log_level.size
    used = blocks.shape > 0
    share = np.clip(1.0 - np.exp(own.log_noise)[:, None] / own.expectation, 0.0, 1.0)
    fallen_db = _fallen_db(fit, middle)
    ends = np.array([trace.end_s for trace in fit.traces])
    cross = np.array([fit.model(row).crosspoint_s(float(end)) for row, end in enumerate(ends)])
    depth_db = np.array([np.interp(c, middle, row) for c, row in zip(cross, fallen_db, strict=True)])
    out = np.zeros((n_claps, len(SHAPES), middle.size))
    for i, shape in enumerate(SHAPES):
        if shape.law is Law.TIME:
            allowed = (shape.at > fit.start_s + _CLEAR_OF_START_S) & (shape.at < cross - _CLEAR_OF_CROSSPOINT_S)
            course = share * np.maximum(middle - shape.at, 0.0)
        elif shape.law is Law.FALLEN:
            allowed = shape.at < depth_db - _CLEAR_DB
            course = share * np.maximum(fallen_db - shape.at, 0.0) / DB_PER_NEPER
        elif shape.law is Law.FLOOR:
            allowed = shape.at < depth_db - _CLEAR_DB
            course = share * np.maximum(fallen_db - (depth_db - shape.at)[:, None], 0.0) / DB_PER_NEPER
        else:
            allowed = (shape.at > fit.start_s + _CLEAR_OF_START_S) & (shape.at < ends - _SHUTS_WITHIN_S)
            course = np.broadcast_to(np.clip((middle - shape.at) / _SHUTS_WITHIN_S, 0.0, 1.0), share.shape)
        out[:, i] = -course * allowed[:, None]
    return np.where(used[:, None, :], out, 0.0)


def _fallen_db(fit: BandFit, time_s: Floats) -> Floats:
    """How far each fitted decay has fallen since its start; shape (n_claps, n_times)."""
    own = fit.own
    at = np.concatenate([[fit.start_s], time_s])
    power = -np.exp(own.log_rate[:, :1]) * at
    if own.n_slopes == 2:
        power = np.logaddexp(power, own.log_ratio[:, None] - np.exp(own.log_rate[:, 1:]) * at)
    return np.asarray(DB_PER_NEPER * (power[:, :1] - power[:, 1:]))
