"""How many digits a number may show: as many as its interval supports, and no more.

A rounded number is a claim, so every screen, page and figure takes its
digits from here.
"""

from __future__ import annotations

import math

MISSING = "-"
"""What stands where a figure is withheld."""

MOST_DECIMALS = 3
"""A millisecond; no room is known better by ear, clap or standard."""


def decimals_for(half_width: float) -> int:
    """Decimals that an interval of this half-width supports.

    One significant digit of the half-width is kept, two where it begins with
    a 1, since cutting 0.14 to 0.1 would throw a third of it away.

    Parameters
    ----------
    half_width : float
        Half the width of the interval, in the unit of the number.

    Returns
    -------
    int
        Between 0 and `MOST_DECIMALS`.

    Examples
    --------
    >>> [decimals_for(h) for h in (3.0, 0.4, 0.14, 0.04, 0.014, 0.0)]
    [0, 1, 2, 2, 3, 3]
    """
    if half_width <= 0.0:
        return MOST_DECIMALS
    exponent = math.floor(math.log10(half_width))
    begins_with_one = half_width / 10.0**exponent < 2.0
    return min(max(begins_with_one - exponent, 0), MOST_DECIMALS)


def decimals_without_interval(value: float) -> int:
    """Decimals for a number that comes without an interval: two significant digits.

    Examples
    --------
    >>> [decimals_without_interval(v) for v in (12.3, 1.23, 0.123)]
    [0, 1, 2]
    """
    if value == 0.0:
        return 1
    return min(max(1 - math.floor(math.log10(abs(value))), 0), MOST_DECIMALS)


def decimals_of(value: float, *, interval: tuple[float, float] | None) -> int:
    """Decimals for a number with its interval, or with none.

    Examples
    --------
    >>> decimals_of(0.8812, interval=(0.84, 0.92)), decimals_of(0.8812, interval=None)
    (2, 2)
    """
    if interval is None:
        return decimals_without_interval(value)
    return decimals_for((interval[1] - interval[0]) / 2.0)


def rounded(value: float | None, *, decimals: int) -> str:
    """Write ``value`` with that many decimals, or the sign for a withheld figure.

    Examples
    --------
    >>> rounded(0.8812, decimals=2), rounded(-0.04, decimals=1), rounded(None, decimals=2)
    ('0.88', '0.0', '-')
    """
    if value is None:
        return MISSING
    text = f"{value:.{decimals}f}"
    return text.removeprefix("-") if float(text) == 0.0 else text


def rounded_outwards(interval: tuple[float, float], *, decimals: int) -> tuple[str, str]:
    """Write both ends of an interval so that rounding never makes it narrower.

    Examples
    --------
    >>> rounded_outwards((0.8447, 0.9172), decimals=2)
    ('0.84', '0.92')
    """
    step = 10.0**decimals
    # The twelfth digit is noise of the arithmetic: 0.84 * 100 must not become 85.
    low = math.floor(round(interval[0] * step, 9)) / step
    high = math.ceil(round(interval[1] * step, 9)) / step
    return rounded(low, decimals=decimals), rounded(high, decimals=decimals)


def significant(value: float | None, *, digits: int) -> str:
    """Write ``value`` with that many significant digits, never in powers of ten.

    Examples
    --------
    >>> significant(318.4, digits=2), significant(0.0634, digits=2), significant(None, digits=2)
    ('320', '0.063', '-')
    """
    if value is None:
        return MISSING
    if value == 0.0:
        return "0"
    decimals = digits - 1 - math.floor(math.log10(abs(value)))
    return f"{round(value, decimals):.{max(decimals, 0)}f}"
