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
_MAIN_DB = 9.0
_LEAST_MAIN = 3
_LINE_OVER_LOWEST = 4.0
_LINES = ((0.012, 0.016, 4), (0.008, 0.008, 3))
"""Length of an average [s], start of a line [s] and least steps of it; the second is for very dry rooms."""


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
    late_fall_db : Levels
        Fall over the last three quarters of the free stretch. [dB]
    excess_db : Levels
        That line at the onset over the level of the first 12 ms. [dB]
    end_s : float
        When the last band has come within 6 dB of its lowest level. [s]
    """

    rise_db: Levels
    before_db: Levels
    strength_db: Levels
    late_gain_db: Levels
    fall_db_per_s: Levels
    range_db: Levels
    late_fall_db: Levels
    excess_db: Levels
    end_s: float


def free_steps(portrait: Portrait, *, period_s: float = 0.0) -> tuple[int, int]:
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
    n_everywhere : int
        Steps until something begins in any octave.
    n_mostly : int
        Steps until something begins in the octaves that make up the event;
        the same where these are fewer than three.

    Notes
    -----
    In a free decay the smoothed energy of a band never lies far above its own
    running minimum. Averages over 14 degrees of freedom scatter by 1.2 dB,
    over 40 by 0.7 dB, so chance alone makes no rise of 7 dB or 4 dB in two
    octaves at once. A faint hiss or hum that is heard only where the event
    itself is weak spoils those octaves and leaves the others free.
    """
    i0 = portrait.i_onset
    n_after = portrait.n_steps - i0
    n_skip = round(_EARLY_S / portrait.step_s)
    n_bands = len(portrait.bands)
    together = np.zeros((len(_SCALES), n_bands, n_after), dtype=bool)
    alone = np.zeros((n_bands, n_after), dtype=bool)
    for i_scale, (least_s, degrees, together_db, alone_db) in enumerate(_SCALES):
        for i_band in range(n_bands):
            n_window = portrait.window_steps(i_band, least_s=max(least_s, period_s), degrees=degrees)
            if n_after < n_skip + 2 * n_window + 2:
                continue
            smooth = portrait.smoothed(i_band, n_window=n_window)[i0:] + portrait.tiny(i_band)
            # Stationary noise has a minimum too; its common level is what counts there.
            i_common = int(_LOWEST_SHARE * smooth.size)
            common = float(np.partition(smooth, i_common)[i_common])
            lowest = np.maximum(np.minimum.accumulate(smooth[n_skip:-n_window]), common)
            gain_db = 10.0 * np.log10(smooth[n_skip + n_window :] / lowest)
            here = slice(n_skip + n_window, n_skip + n_window + gain_db.size)
            together[i_scale, i_band, here] = gain_db > together_db
            alone[i_band, here] |= gain_db > alone_db
    opening = portrait.energy[:, i0 : i0 + n_skip].mean(axis=1)
    main = opening > 10.0 ** (-_MAIN_DB / 10.0) * float(opening.max())
    n_everywhere = _first_rise(together, alone)
    if int(main.sum()) < _LEAST_MAIN:
        return n_everywhere, n_everywhere
    return n_everywhere, _first_rise(together[:, main], alone[main])


def _first_rise(together: NDArray[np.bool_], alone: NDArray[np.bool_]) -> int:
    """First step at which two bands rise on one scale, or one band far; all steps where none does."""
    hits = np.flatnonzero((together.sum(axis=1).max(axis=0) >= 2) | alone.any(axis=0))
    return int(hits[0]) if hits.size else alone.shape[1]


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
        late_fall_db=columns[6],
        excess_db=columns[7],
        end_s=float(columns[8].max()),
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
    course = portrait.smoothed(i_band, n_window=n_long)[i0 : i0 + max(n_free - n_long, 1)] + tiny
    low = float(course.min())

    n_short = portrait.window_steps(i_band, least_s=0.02, degrees=14.0)
    short = portrait.smoothed(i_band, n_window=n_short)[i0:]
    late_gain = -np.inf
    if short.size > n_early:
        late = float(short[n_early : max(n_free - n_short, n_early) + 1].max()) + tiny
        late_gain = _decibels(late / (float(short[: n_early // 2].max()) + tiny))

    fall, level_db, end = _line(portrait, i_band, n_free=n_free, low=low)
    strength = float(energy[i0 : i0 + n_early].mean()) - (0.0 if np.isnan(level_before) else level_before)
    return (
        np.inf if np.isnan(level_before) else _decibels(opening / level_before),
        _decibels(level_before / low),
        _decibels(max(strength, 0.0) + tiny),
        late_gain,
        fall,
        level_db - _decibels(low),
        _decibels(float(course[course.size // 4]) / low),
        level_db - _decibels(opening),
        end * step_s,
    )


def _line(portrait: Portrait, i_band: int, *, n_free: int, low: float) -> tuple[float, float, int]:
    """Fit a line to a band's levels until they come within 6 dB of the lowest.

    Returns
    -------
    fall_db_per_s : float
        Slope, positive for a falling one; NaN where there is no falling line. [dB/s]
    level_db : float
        The line at the onset; the lowest level where there is none. [dB re 1]
    end : int
        Step, counted from the onset, at which the levels get there.
    """
    i0, step_s = portrait.i_onset, portrait.step_s
    end = 0
    for least_s, from_s, n_least in _LINES:
        n_window = portrait.window_steps(i_band, least_s=least_s, degrees=8.0)
        course = portrait.smoothed(i_band, n_window=n_window)[i0 : i0 + max(n_free - n_window, 1)]
        begin = round(from_s / step_s)
        reached = np.flatnonzero(course[begin:] < _LINE_OVER_LOWEST * low)
        end = max(end, begin + int(reached[0]) if reached.size else course.size)
        levels_db = 10.0 * np.log10(course[begin:end] + portrait.tiny(i_band))
        if levels_db.size < n_least:
            continue
        time_s = (np.arange(begin, begin + levels_db.size) + 0.5 * n_window) * step_s
        mean_s, mean_db = float(time_s.mean()), float(levels_db.mean())
        deviation_s = time_s - mean_s
        slope = float(np.dot(deviation_s, levels_db)) / float(np.dot(deviation_s, deviation_s))
        if slope < 0.0:
            return -slope, mean_db - slope * mean_s, end
    return np.nan, _decibels(low), end


def _decibels(ratio: float) -> float:
    return 10.0 * float(np.log10(ratio))
