"""How a change is judged by its interval, and several changes together."""

from __future__ import annotations

import math
from dataclasses import dataclass

JUST_NOTICEABLE = 0.05
"""Just noticeable difference of a reverberation time (ISO 3382-1:2009, Table A.1, given there for EDT)."""

SIGNIFICANT = 0.05
"""Of twenty rooms in which nothing was changed, one at most is called changed."""

RULED_OUT = 0.10
"""A headline says that no change was found only where one of a tenth would have shown: the nominal
accuracy of a survey in octaves (ISO 3382-2:2008, Table 1)."""

VERDICTS = ("shorter", "longer", "within 5 percent", "cannot tell")

MOST_MORE_SPOTS = 30
"""More than this nobody records for one answer."""


def verdict_of(log_ratio: float, *, half_width: float) -> str:
    """Judge a change by its 95 % interval, both on the logarithm of the ratio.

    Parameters
    ----------
    log_ratio : float
        Logarithm of after over before.
    half_width : float
        Half of its interval.

    Returns
    -------
    str
        One of `VERDICTS`.

    Examples
    --------
    >>> verdict_of(-0.20, half_width=0.05), verdict_of(0.01, half_width=0.03)
    ('shorter', 'within 5 percent')
    >>> verdict_of(-0.03, half_width=0.01), verdict_of(0.03, half_width=0.06)
    ('within 5 percent', 'cannot tell')
    """
    low, high = log_ratio - half_width, log_ratio + half_width
    if low >= math.log1p(-JUST_NOTICEABLE) and high <= math.log1p(JUST_NOTICEABLE):
        return "within 5 percent"
    if high < 0.0:
        return "shorter"
    return "longer" if low > 0.0 else "cannot tell"


@dataclass(frozen=True, slots=True, kw_only=True)
class MoreSpots:
    """How many more spots would settle an open verdict, if the means stay where they are.

    ``None`` where more than `MOST_MORE_SPOTS` would be needed.
    """

    after_only: int | None
    on_each_side: int | None


def adjusted(p_values: list[float]) -> list[float]:
    """Adjust p-values for their number after Holm (Scand. J. Stat. 6 (1979) 65-70).

    Parameters
    ----------
    p_values : list of float
        One for each question asked.

    Returns
    -------
    list of float
        In the order given; each may be held against 5 % as if it were the only one.

    Examples
    --------
    >>> [round(p, 3) for p in adjusted([0.01, 0.04, 0.03])]
    [0.03, 0.06, 0.06]
    """
    out = [0.0] * len(p_values)
    running = 0.0
    for rank, place in enumerate(sorted(range(len(p_values)), key=p_values.__getitem__)):
        running = max(running, min(1.0, (len(p_values) - rank) * p_values[place]))
        out[place] = running
    return out
