"""How significant a bend has to be before it is named, or before it is suspected.

A bend needs two things: all bands together have to speak for it, and so do, less loudly, all but
the one that speaks loudest, or else it is that band's own matter. Rooms are not quite noise under
exponentials: their first reflections may be late or weak, other sound dies away in their
backgrounds, and a coder that saves bits does so close to them. There more is asked.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from roomir.decay.likelihood import Floats
from roomir.faults.shapes import SHAPES, Law


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """Least significance over all bands, and without the loudest. [standard deviations]"""

    together: float
    without: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """One limit for each place where a bend may lie.

    Attributes
    ----------
    usual, early, deep, shut, shut_early : Limit
        In the middle of a decay; where first reflections may bend it; close to the background;
        where everything is shut, and where that may be a burst that dies away.
    """

    usual: Limit
    early: Limit
    deep: Limit
    shut: Limit
    shut_early: Limit


SURE = Limits(
    usual=Limit(together=5.4, without=3.0),
    early=Limit(together=9.0, without=6.0),
    deep=Limit(together=5.5, without=3.0),
    shut=Limit(together=8.0, without=4.5),
    shut_early=Limit(together=10.0, without=6.5),
)
"""Claps in several spots that agree."""

SURE_ALONE = Limits(
    usual=Limit(together=5.0, without=5.0),
    early=Limit(together=6.6, without=6.6),
    deep=Limit(together=6.0, without=6.0),
    shut=Limit(together=7.8, without=7.8),
    shut_early=Limit(together=10.0, without=7.8),
)
"""A clap that no other confirms."""

SUSPECTED = Limits(
    usual=Limit(together=3.2, without=2.2),
    early=Limit(together=5.0, without=3.0),
    deep=Limit(together=3.5, without=1.5),
    shut=Limit(together=3.8, without=2.0),
    shut_early=Limit(together=6.5, without=4.0),
)
"""The same claps, where the sign is short of proof."""

SUSPECTED_ALONE = Limits(
    usual=Limit(together=4.0, without=2.5),
    early=Limit(together=6.6, without=5.5),
    deep=Limit(together=4.5, without=3.0),
    shut=Limit(together=6.5, without=4.0),
    shut_early=Limit(together=8.0, without=6.0),
)
"""A clap that no other confirms, where the sign is short of proof."""

_EARLY_S = 0.08
_EARLY_ONE_RESPONSE_S = 0.15
"""Until then one response may bend by itself; claps in other spots do not bend with it."""
_SHUT_EARLY_S = 0.15

_SHUTS = np.array([shape.law is Law.SHUT for shape in SHAPES])
_DEEP = np.array([shape.law is Law.FLOOR and shape.at <= 10.0 for shape in SHAPES])


def reaches(together: Floats, without: Floats, *, limits: Limits, bend_s: Floats, alike: bool) -> Floats:
    """How far each shape reaches towards its limit; 1 or more where it gets there; shape (n_shapes,).

    Parameters
    ----------
    together, without : array, shape (n_shapes,)
        Significance over all bands, and without the loudest.
    limits : Limits
        What is asked for.
    bend_s : array, shape (n_shapes,)
        When each begins. [s]
    alike : bool
        Whether all claps share one response of the room.
    """
    early = bend_s < (_EARLY_ONE_RESPONSE_S if alike else _EARLY_S)
    out = np.empty(bend_s.size)
    for where, limit in (
        (~(_SHUTS | _DEEP | early), limits.usual),
        (~(_SHUTS | _DEEP) & early, limits.early),
        (_DEEP, limits.deep),
        (_SHUTS & (bend_s >= _SHUT_EARLY_S), limits.shut),
        (_SHUTS & (bend_s < _SHUT_EARLY_S), limits.shut_early),
    ):
        out[where] = np.minimum(together[where] / limit.together, without[where] / limit.without)
    return out
