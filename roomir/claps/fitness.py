"""What the octaves of a stretch say about an event: how it rises, falls, and what breaks in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomir.claps.portrait import Portrait

Levels = NDArray[np.float64]

_EARLY_S = 0.04
"""Within this time after the onset lie direct sound and strong reflections. [s]"""

_SCALES = ((0.02, 14.0, 7.0, 10.0), (0.05, 40.0, 4.0, 7.0))
"""Length [s] and degrees of freedom of an average, rise in two octaves and in one that tells. [dB]"""

_LOWEST_SHARE = 0.3
_LINE_FROM_S = 0.016
_LINE_OVER_LOWEST = 4.0
_LINE_STEPS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """The course of an event per octave of its portrait, shape (n_bands,) each.

    Attributes
    ----------
    rise_db : Levels
        First 12 ms over what came before; infinite where nothing came before. [dB]
    before_db : Levels
        What came before over the lowest level of the stretch; NaN where nothing did. [dB]
    strength_db : Levels
        Level of the first 40 ms without what came before. [dB re 1]
    late_gain_db : Levels
        Highest level later than 40 ms over that of the first 40 ms. [dB]
    fall_db_per_s : Levels
        Slope of a line through the decay, positive for a falling one; NaN
        where too little of it is seen. [dB/s]
    range_db : Levels
        That line at the onset over the lowest level of the stretch; 0 where there is no line. [dB]
    end_s : float
        When the last band has come within 6 dB of its lowest level. [s]
    """

    rise_db: Levels
    before_db: Levels
    strength_db: Levels
    late_gain_db: Levels
    fall_db_per_s: Levels
    range_db: Levels
    end_s: float


def free_steps(portrait: Portrait, *, period_s: float = 0.0) -> tuple[int, int, int]:
    """Count the steps after the onset until something else begins, or all of them.

    Parameters
    ----------
    portrait : Portrait
        The stretch.
    period_s : float, default 0
        Distance of repeating echoes, over which a level has to be averaged
        before it falls steadily. [s]

    Returns
    -------
    tuple of three int
        Steps until something begins in any octave, in two of them, in half of them.

    Notes
    -----
    In a free decay the smoothed energy of a band never lies far above its own
    running minimum. Averages over 14 degrees of freedom scatter by 1.2 dB,
    over 40 by 0.7 dB, so chance alone makes no rise of 7 dB or 4 dB in two
    octaves at once. What is heard in one octave only, a hiss or a hum, spoils
    that octave and leaves the others free.
    """
    i0 = portrait.i_onset
    n_after = portrait.n_steps - i0
    n_skip = round(_EARLY_S / portrait.step_s)
    n_bands = len(portrait.bands)
    rising = np.zeros((len(_SCALES), n_bands, n_after), dtype=bool)
    alone = np.zeros(n_after, dtype=bool)
    for i_scale, (least_s, degrees, together_db, alone_db) in enumerate(_SCALES):
        for i_band in range(n_bands):
            n_window = portrait.window_steps(i_band, least_s=max(least_s, period_s), degrees=degrees)
            if n_after < n_skip + 2 * n_window + 2:
                continue
            smooth = portrait.smoothed(i_band, n_window=n_window)[i0:] + portrait.tiny(i_band)
            # Stationary noise has a minimum too; its common level is what counts there.
            common = float(np.quantile(smooth, _LOWEST_SHARE))
            lowest = np.maximum(np.minimum.accumulate(smooth[n_skip:-n_window]), common)
            gain_db = 10.0 * np.log10(smooth[n_skip + n_window :] / lowest)
            here = slice(n_skip + n_window, n_skip + n_window + gain_db.size)
            rising[i_scale, i_band, here] = gain_db > together_db
            alone[here] |= gain_db > alone_db
    together = rising.sum(axis=1).max(axis=0)
    in_two = _first(together >= 2, n_after)
    return (
        min(in_two, _first(alone, n_after)),
        in_two,
        _first(together >= max(3, (n_bands + 1) // 2), n_after),
    )


def _first(hits: NDArray[np.bool_], otherwise: int) -> int:
    places = np.flatnonzero(hits)
    return int(places[0]) if places.size else otherwise


def follow(portrait: Portrait, *, n_free: int) -> Course:
    """Measure the course of an event over its free steps."""
    courses = [_follow_band(portrait, i_band, n_free=n_free) for i_band in range(len(portrait.bands))]
    columns = np.array(courses, dtype=np.float64).T
    return Course(
        rise_db=columns[0],
        before_db=columns[1],
        strength_db=columns[2],
        late_gain_db=columns[3],
        fall_db_per_s=columns[4],
        range_db=columns[5],
        end_s=float(columns[6].max()),
    )


def _follow_band(portrait: Portrait, i_band: int, *, n_free: int) -> tuple[float, ...]:
    """One band's share of :class:`Course`, in its order."""
    i0, step_s, tiny = portrait.i_onset, portrait.step_s, portrait.tiny(i_band)
    energy = portrait.energy[i_band]
    n_early = round(_EARLY_S / step_s)
    opening = float(energy[i0 : i0 + 3].mean()) + tiny
    # Three steps are left out: the filter sounds before the onset too.
    before = energy[max(i0 - round(0.06 / step_s), 0) : max(i0 - 3, 0)]
    level_before = float(before.mean()) + tiny if before.size >= 3 else np.nan

    n_long = min(portrait.window_steps(i_band, least_s=0.05, degrees=14.0), max(n_free // 2, 1))
    low = float(portrait.smoothed(i_band, n_window=n_long)[i0 : i0 + max(n_free - n_long, 1)].min()) + tiny

    n_short = portrait.window_steps(i_band, least_s=0.02, degrees=14.0)
    short = portrait.smoothed(i_band, n_window=n_short)[i0:]
    late_gain = -np.inf
    if short.size > n_early:
        late = float(short[n_early : max(n_free, n_early + 1)].max()) + tiny
        late_gain = _decibels(late / (float(short[: n_early // 2].max()) + tiny))

    n_line = portrait.window_steps(i_band, least_s=0.012, degrees=8.0)
    course = portrait.smoothed(i_band, n_window=n_line)[i0 : i0 + max(n_free - n_line, 1)] + tiny
    begin = round(_LINE_FROM_S / step_s)
    reached = np.flatnonzero(course[begin:] < _LINE_OVER_LOWEST * low)
    end = begin + int(reached[0]) if reached.size else course.size
    fall, range_db = np.nan, 0.0
    if end - begin >= _LINE_STEPS:
        time_s = (np.arange(begin, end) + 0.5 * n_line) * step_s
        slope, level_db = np.polyfit(time_s, 10.0 * np.log10(course[begin:end]), 1)
        fall, range_db = -float(slope), float(level_db) - _decibels(low)
    strength = float(energy[i0 : i0 + n_early].mean()) - (0.0 if np.isnan(level_before) else level_before)
    return (
        np.inf if np.isnan(level_before) else _decibels(opening / level_before),
        _decibels(level_before / low),
        _decibels(max(strength, 0.0) + tiny),
        late_gain,
        fall,
        range_db,
        end * step_s if end > begin else 0.0,
    )


def _decibels(ratio: float) -> float:
    return 10.0 * float(np.log10(ratio))
