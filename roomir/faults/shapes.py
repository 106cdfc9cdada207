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
    RECOVERS = "recovers"
    """Sound and background come up again together, fast at first. Parameter: time constant in seconds."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """One course: a law and where it bends."""

    law: Law
    at: float


SHAPES: tuple[Shape, ...] = (
    *(
        Shape(law=Law.TIME, at=s)
        for s in (0.045, 0.065, 0.09, 0.13, 0.18, 0.25, 0.35, 0.5, 0.7, 1.0, 1.4, 2.0)
    ),
    *(Shape(law=Law.FALLEN, at=db) for db in (4.0, 7.0, 10.0, 14.0, 19.0, 25.0, 32.0, 40.0)),
    *(Shape(law=Law.FLOOR, at=db) for db in (3.0, 6.0, 10.0, 15.0, 20.0, 27.0)),
    *(Shape(law=Law.SHUT, at=s) for s in (0.09, 0.13, 0.18, 0.25, 0.35, 0.5, 0.7, 1.0, 1.4, 2.0)),
    *(Shape(law=Law.RECOVERS, at=s) for s in (0.06, 0.12, 0.25, 0.5, 1.0, 2.0)),
)
"""Where a bend is looked for: close enough together that one lying between two is missed by neither."""

LAST_BIT_PER_HZ = (2.0**-15) ** 2 / 24_000.0
"""Density of white sound whose root mean square is the last of 16 bits. [full scale squared per Hz]"""

_CLEAR_OF_LAST_BIT_DB = 12.0
"""Further down rounding without dither takes away what the other bands do not keep moving."""
_CLEAR_OF_START_S = 0.02
_CLEAR_OF_CROSSPOINT_S = 0.03
_CLEAR_DB = 4.0
_SHUTS_WITHIN_S = 0.1
_LONGEST_RECOVERY = 2.0
"""A gain that needs more than this many times what is heard of a clap is as good as steady meanwhile."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Courses:
    """Every shape for every clap of a band.

    Attributes
    ----------
    course : array, shape (n_claps, n_shapes, n_blocks)
        Change of the log expected energy per unit of the shape; zero where the
        clap does not reach far enough for it.
    bend_s : array, shape (n_claps, n_shapes)
        When the shape begins, or its time constant. [s]
    depth : array, shape (n_claps, n_shapes)
        How far the decay has fallen by then, over how far it falls until it meets the background.
    """

    course: Floats
    bend_s: Floats
    depth: Floats


def shape_courses(fit: BandFit) -> Courses:
    """Lay every shape over every clap of a band."""
    own, blocks = fit.own, fit.blocks
    edges = blocks.edges_s
    middle = 0.5 * (edges[1:] + edges[:-1])
    share = np.clip(1.0 - np.exp(own.log_noise)[:, None] / own.expectation, 0.0, 1.0)
    fallen_db = _fallen_db(fit, middle)
    ends = np.array([trace.end_s for trace in fit.traces])
    cross = np.array([fit.model(row).crosspoint_s(float(end)) for row, end in enumerate(ends)])
    depth_db = np.maximum(_at(cross, middle, fallen_db), 1.0)
    laws = [shape.law for shape in SHAPES]
    at = np.array([shape.at for shape in SHAPES])
    shuts = np.array([law is Law.SHUT for law in laws])
    recovers = np.array([law is Law.RECOVERS for law in laws])
    timed = shuts | recovers | np.array([law is Law.TIME for law in laws])
    from_floor = np.array([law is Law.FLOOR for law in laws])
    # Where each begins, on the scale of its law and on both: time and fall.
    level_db = np.where(from_floor, depth_db[:, None] - at, at)
    bend_s = np.where(timed, at, _times_of(level_db, middle, fallen_db))
    bend_db = np.where(timed, _at(bend_s, middle, fallen_db), level_db)
    past = np.where(
        timed[:, None],
        np.maximum(middle - bend_s[:, :, None], 0.0),
        np.maximum(fallen_db[:, None, :] - bend_db[:, :, None], 0.0) / DB_PER_NEPER,
    )
    past = np.where(shuts[:, None], np.minimum(past / _SHUTS_WITHIN_S, 1.0), past * share[:, None, :])
    past = np.where(recovers[:, None], np.exp(-middle / at[:, None]), past)
    last_s = np.where(shuts, ends[:, None] - _SHUTS_WITHIN_S, cross[:, None] - _CLEAR_OF_CROSSPOINT_S)
    last_s = np.where(recovers, _LONGEST_RECOVERY * ends[:, None], last_s)
    allowed = (bend_s > fit.start_s + _CLEAR_OF_START_S) & (bend_s < last_s)
    allowed &= timed | (bend_db < depth_db[:, None] - _CLEAR_DB)
    last_bit = np.log(LAST_BIT_PER_HZ * fit.band_filter.band.width_hz) + _CLEAR_OF_LAST_BIT_DB / DB_PER_NEPER
    allowed &= recovers | (_at(bend_s, middle, np.log(own.expectation)) > last_bit)
    used = (blocks.shape > 0)[:, None, :] & allowed[:, :, None]
    return Courses(course=np.where(used, -past, 0.0), bend_s=bend_s, depth=bend_db / depth_db[:, None])


def _at(time_s: Floats, middle_s: Floats, fallen_db: Floats) -> Floats:
    """Fall of each clap at times of its own, shape of ``time_s`` (n_claps, ...)."""
    pairs = zip(time_s, fallen_db, strict=True)
    return np.array([np.interp(own, middle_s, fallen) for own, fallen in pairs])


def _times_of(level_db: Floats, middle_s: Floats, fallen_db: Floats) -> Floats:
    """When each clap has fallen so far, shape of ``level_db`` (n_claps, n)."""
    pairs = zip(level_db, fallen_db, strict=True)
    return np.array([np.interp(level, fallen, middle_s) for level, fallen in pairs])


def _fallen_db(fit: BandFit, time_s: Floats) -> Floats:
    """How far each fitted decay has fallen since its start; shape (n_claps, n_times)."""
    own = fit.own
    at = np.concatenate([[fit.start_s], time_s])
    power = -np.exp(own.log_rate[:, :1]) * at
    if own.n_slopes == 2:
        power = np.logaddexp(power, own.log_ratio[:, None] - np.exp(own.log_rate[:, 1:]) * at)
    return np.asarray(DB_PER_NEPER * (power[:, :1] - power[:, 1:]))
