r"""One source heard near and far: does its level fall as the room's decay time says?

In a diffuse field the energy at distance r from a source is proportional to
:math:`1/r^2 + 1/r_c^2`, with the reverberation distance r_c (Kuttruff, "Room
Acoustics", 6th ed., chapter 5). Two takes at one gain give the difference in
level; the decay time and the volume give what it ought to be.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomir.audio.recording import Recording
from roomir.compare.levels import LEAST_SOUNDS, clap_levels_db, playing_levels_db
from roomir.errors import ParameterError
from roomir.reading.reading import Interval, Reading
from roomir.remarks import Remark
from roomir.rooms.statistics import reverberation_distance_m, sound_speed_m_per_s

Floats = NDArray[np.float64]

DIRECTIVITIES = (1.0, 2.0)
"""Q of a source alike in all directions, and of hands or an instrument in front of a body. Nobody knows a
clap's; the prediction spans both."""

LEVEL_FAULTS = frozenset(
    {
        *("clipped", "automatic-gain", "loud-part-held-down", "level-drops", "level-jumps"),
        *("faded-in", "faded-out", "tail-pulled-down"),
    }
)
"""Faults of a recording (`roomir.faults`) after which its levels mean nothing."""

WIDEST_DB = 6.0
"""An interval wider than this from end to end tells no room from another. [dB]"""

_ROOM_C = 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class NearFar:
    """A source near and far.

    Attributes
    ----------
    near_m, far_m : float
        Distances from source to microphone, as told. [m]
    reverberation_distance_m : float or None
        For a source alike in all directions; ``None`` without decay time or volume. [m]
    measured_db : float or None
        Level near over level far. [dB]
    measured_ci95_db : (float, float) or None
        Its 95 % interval, from the scatter of the sounds. [dB]
    predicted_db : (float, float) or None
        What decay time and volume say, for Q from 1 to 2. [dB]
    verdict : str
        ``"as predicted"``, ``"falls less"``, ``"falls more"`` or ``"cannot tell"``.
    sounds : str
        ``"claps"`` or ``"playing"``.
    remarks : tuple of Remark
        Why it cannot be told, or what it rests on.
    """

    near_m: float
    far_m: float
    reverberation_distance_m: float | None
    measured_db: float | None
    measured_ci95_db: Interval | None
    predicted_db: Interval | None
    verdict: str
    sounds: str
    remarks: tuple[Remark, ...]


def predicted_fall_db(*, near_m: float, far_m: float, reverberation_distance: float) -> float:
    r"""Level near over level far in a diffuse field.

    Parameters
    ----------
    near_m, far_m : float
        Distances from the source. [m]
    reverberation_distance : float
        Where direct and reverberant sound are equally strong. [m]

    Returns
    -------
    float
        :math:`10 \lg \frac{1/r_n^2 + 1/r_c^2}{1/r_f^2 + 1/r_c^2}` (Kuttruff, "Room Acoustics",
        6th ed., chapter 5). [dB]

    Examples
    --------
    Far inside the reverberation distance it is the 6 dB of a free field, far outside nothing:

    >>> round(predicted_fall_db(near_m=0.01, far_m=0.02, reverberation_distance=1.0), 1)
    6.0
    >>> round(predicted_fall_db(near_m=50.0, far_m=100.0, reverberation_distance=1.0), 1)
    0.0
    """
    reverberant = reverberation_distance**-2
    return 10.0 * math.log10((near_m**-2 + reverberant) / (far_m**-2 + reverberant))


def compare_near_far(
    near: Sequence[Recording],
    far: Sequence[Recording],
    *,
    readings: tuple[Reading, Reading],
    near_m: float,
    far_m: float,
    volume_m3: float | None,
) -> NearFar:
    """Compare the level of one source near and far with what the room's decay time says.

    Parameters
    ----------
    near, far : sequence of Recording
        Takes at one gain of claps, or of steady or repeated playing.
    readings : (Reading, Reading)
        What was read from them, in the same order.
    near_m, far_m : float
        Distances from source to microphone. [m]
    volume_m3 : float or None
        Volume of the room. [m3]

    Returns
    -------
    NearFar
        ``"cannot tell"`` with the reason where the takes do not show it.

    Raises
    ------
    ParameterError
        ``bad-distance`` if the distances are not positive, or near is not nearer.
    """
    if not (0.0 < near_m < far_m < math.inf):
        raise ParameterError(
            f"{near_m:g} m is not nearer than {far_m:g} m",
            code="bad-distance",
            remedy="give both distances in metres, the smaller one with --near-m",
        )
    claps = all(any(clap.used for take in one.takes for clap in take.claps) for one in readings)
    levels = [
        clap_levels_db(side, reading) if claps else playing_levels_db(side)
        for side, reading in zip((near, far), readings, strict=True)
    ]
    distances = _reverberation_distances(readings, volume_m3=volume_m3)
    measured, interval = _difference(*levels)
    predicted = None
    if distances is not None:
        falls = [
            predicted_fall_db(near_m=near_m, far_m=far_m, reverberation_distance=one) for one in distances
        ]
        predicted = min(falls), max(falls)
    against = [
        *_why_not(levels, distances=distances, near_m=near_m, readings=readings, volume_m3=volume_m3),
        *_too_wide(interval),
    ]
    remarks = [*against, *(() if claps else (_PLAYING,))]
    return NearFar(
        near_m=near_m,
        far_m=far_m,
        reverberation_distance_m=None if distances is None else distances[0],
        measured_db=measured,
        measured_ci95_db=interval,
        predicted_db=predicted,
        verdict="cannot tell" if against else _verdict(interval, predicted),
        sounds="claps" if claps else "playing",
        remarks=tuple(remarks),
    )


_PLAYING = Remark(
    code="level-of-playing",
    says="no claps were found, so the level is that of the playing, which nobody keeps quite alike",
    remedy="clap instead, or play the same few chords as evenly as you can",
)


def _verdict(interval: Interval | None, predicted: Interval | None) -> str:
    if interval is None or predicted is None:
        return "cannot tell"
    if interval[1] < predicted[0]:
        return "falls less"
    return "falls more" if interval[0] > predicted[1] else "as predicted"


def _reverberation_distances(
    readings: tuple[Reading, Reading], *, volume_m3: float | None
) -> tuple[float, ...] | None:
    # Farther from the source more of the room is heard: that take's decay time comes first.
    times = [one.mid.decay_time_s for one in (readings[1], readings[0]) if one.mid.decay_time_s is not None]
    if volume_m3 is None or not times:
        return None
    speed = sound_speed_m_per_s(temperature_c=_ROOM_C)
    return tuple(
        reverberation_distance_m(
            volume_m3=volume_m3, decay_time_s=times[0], sound_speed=speed, directivity=directivity
        )
        for directivity in DIRECTIVITIES
    )


def _why_not(
    levels: list[Floats],
    *,
    distances: tuple[float, ...] | None,
    near_m: float,
    readings: tuple[Reading, Reading],
    volume_m3: float | None,
) -> list[Remark]:
    out = []
    if distances is None:
        missing = "the volume of the room" if volume_m3 is None else "a decay time at 500 Hz and 1 kHz"
        out.append(
            Remark(
                code="no-reverberation-distance",
                says=f"without {missing} nothing can be predicted",
                remedy="give --volume or --dimensions" if volume_m3 is None else "let the takes hold claps",
            )
        )
    elif near_m >= distances[-1]:
        out.append(
            Remark(
                code="both-beyond",
                says=f"both microphones stood beyond the reverberation distance ({distances[0]:.2f} m),"
                " where the level is alike everywhere",
                remedy=f"put the near microphone within {0.5 * distances[0]:.1f} m of the source",
            )
        )
    if min(map(len, levels)) < LEAST_SOUNDS:
        out.append(
            Remark(
                code="too-few-sounds",
                says=f"{len(levels[0])} sounds near and {len(levels[1])} far are too few to know a level by",
                remedy=f"clap at least {LEAST_SOUNDS} times, better six, in each place",
            )
        )
    remarks = [
        remark
        for one in readings
        for take in one.takes
        for remark in (*take.concerns, *(found for clap in take.claps for found in clap.concerns))
    ]
    if any(remark.code in LEVEL_FAULTS for remark in remarks):
        out.append(
            Remark(
                code="levels-not-kept",
                says="a take is clipped, or its recorder changed the level, so levels cannot be compared",
                remedy="record both again at one fixed gain that nothing reaches the top of",
            )
        )
    return out


def _too_wide(interval: Interval | None) -> list[Remark]:
    if interval is None or interval[1] - interval[0] <= WIDEST_DB:
        return []
    return [
        Remark(
            code="levels-scatter",
            says=f"the sounds differ so much among themselves that the fall is known only to within"
            f" {interval[1] - interval[0]:.0f} dB",
            remedy="clap more often and as evenly as you can",
        )
    ]


def _difference(near_db: Floats, far_db: Floats) -> tuple[float | None, Interval | None]:
    """Mean level near over mean level far, with Welch's interval."""
    if not near_db.size or not far_db.size:
        return None, None
    difference = float(near_db.mean() - far_db.mean())
    if min(near_db.size, far_db.size) < 2:
        return difference, None
    from scipy.special import stdtrit

    variances = [float(one.var(ddof=1)) / one.size for one in (near_db, far_db)]
    if sum(variances) == 0.0:
        return difference, (difference, difference)
    dof = sum(variances) ** 2 / sum(
        v**2 / (one.size - 1) for v, one in zip(variances, (near_db, far_db), strict=True)
    )
    half = float(stdtrit(dof, 0.975)) * math.sqrt(sum(variances))
    return difference, (difference - half, difference + half)
