"""Single numbers over several bands: the mid-frequency mean and the bass ratio."""

from __future__ import annotations

import math
from collections.abc import Sequence

from roomir.bands.band import OCTAVE_RATIO, REFERENCE_HZ
from roomir.reading.reading import BandFigures, MidFigures, RoomBand


def mid_figures(bands: Sequence[RoomBand]) -> MidFigures:
    """T_mid of ISO 3382-1:2009, mean of the 500 Hz and 1 kHz octaves; their errors are taken as unrelated."""
    halves = [_octave_members(bands, octave_hz=OCTAVE_RATIO**x * REFERENCE_HZ) for x in (-1, 0)]
    if not all(halves):
        return MidFigures()
    members = [figures for half in halves for figures in half]
    n = len(members)
    time_s = sum(figures.decay_time_s or 0.0 for figures in members) / n
    arms: list[list[float]] = [[], []]
    for figures in members:
        if figures.ci95_s is None or figures.decay_time_s is None:
            return MidFigures(decay_time_s=time_s)
        for side in (0, 1):
            arms[side].append(figures.ci95_s[side] - figures.decay_time_s)
    t20s = [figures.t20_s for figures in members if figures.t20_s is not None]
    return MidFigures(
        decay_time_s=time_s,
        ci95_s=(time_s - math.hypot(*arms[0]) / n, time_s + math.hypot(*arms[1]) / n),
        t20_s=sum(t20s) / n if len(t20s) == n else None,
    )


def bass_ratio(bands: Sequence[RoomBand]) -> float | None:
    """(T125 + T250) / (T500 + T1000), common practice after Beranek."""
    means = []
    for x in (-3, -2, -1, 0):
        members = _octave_members(bands, octave_hz=OCTAVE_RATIO**x * REFERENCE_HZ)
        if not members:
            return None
        means.append(sum(figures.decay_time_s or 0.0 for figures in members) / len(members))
    return (means[0] + means[1]) / (means[2] + means[3])


def _octave_members(bands: Sequence[RoomBand], *, octave_hz: float) -> list[BandFigures]:
    """Return the bands that make up one octave: itself, or its three thirds; empty where one is missing."""
    members = [
        band.figures
        for band in bands
        if abs(math.log(band.figures.band.exact_hz / octave_hz)) < 0.5 * math.log(OCTAVE_RATIO)
    ]
    whole = members and len(members) == members[0].band.fraction
    return members if whole and all(figures.decay_time_s is not None for figures in members) else []
