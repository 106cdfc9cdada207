"""Two microphones that do not tell the same decay: one of them had its level changed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from roomir.bands.filters import fast_length
from roomir.bands.fourier import rfft
from roomir.faults.fault import Fault
from roomir.faults.heard import Heard
from roomir.faults.octaves import OctaveRuns
from roomir.remarks import Remark

_LOWEST_HZ = 400.0
_SKIPPED = 2
_OVER_NOISE = 5.0
_LEAST_OCTAVES = 3
_LEAST_FRAMES = 6
_FARTHEST_S = 0.05

LATE_S = 0.01
"""Delay between two channels that no recorder's pair of microphones has: sound goes 3.4 m in it. [s]"""

LEAST_LIKENESS = 0.3
"""Cross-correlation from which two channels are believed to hear the same clap."""

LEAST_DB = 2.5
"""Level by which the distance of two channels may change over a decay. Unlike spots, unlike microphones
and unlike directions kept within 1.7 dB over the takes looked at. [dB]"""


def channel_drift_db(runs: OctaveRuns) -> NDArray[np.float64] | None:
    """Change of each further channel's level against the first one's from early to late decay. [dB]

    The mean over the octaves from 500 Hz up, in which both stand 7 dB over
    their background, which is taken off; NaN where too little of them does, and
    None for one channel.
    """
    power = runs.power[[octave.exact_hz > _LOWEST_HZ for octave in runs.octaves]]
    if power.shape[1] < 2 or power.shape[2] < 2 * _LEAST_FRAMES:
        return None
    noise = np.median(power[:, :, -max(power.shape[2] // 5, 5) :], axis=2)[:, :, np.newaxis]
    over = power > _OVER_NOISE * noise + 1e-30
    level_db = 10.0 * np.log10(np.maximum(power - noise, 1e-30))
    out = np.full(power.shape[1] - 1, np.nan)
    for channel in range(1, power.shape[1]):
        both = over[:, channel] & over[:, 0]
        both[:, :_SKIPPED] = False
        count = both.sum(axis=0)
        apart = np.where(both, level_db[:, channel] - level_db[:, 0], 0.0).sum(axis=0)
        mean = apart[count >= _LEAST_OCTAVES] / count[count >= _LEAST_OCTAVES]
        if mean.size >= _LEAST_FRAMES:
            third = max(mean.size // 3, 2)
            out[channel - 1] = float(mean[-third:].mean() - mean[:third].mean())
    return out


def channel_delay_s(heard: Heard) -> NDArray[np.float64] | None:
    """How much later than the first channel each further one hears a clap; NaN where they are unlike. [s]

    The peak of the cross-correlation of the changes around the beginning of the clap; None for one channel.
    """
    if heard.samples.shape[1] < 2:
        return None
    reach = round(_FARTHEST_S * heard.rate_hz)
    around = heard.samples[max(heard.onset - reach, 0) : heard.onset + 2 * reach]
    change = np.diff(around, axis=0).T
    n = fast_length(2 * change.shape[1])
    spectra = rfft(change, n)
    size = np.sqrt(np.square(change, dtype=np.float64).sum(axis=1))
    out = np.full(len(change) - 1, np.nan)
    for channel in range(1, len(change)):
        likeness = np.fft.irfft(spectra[channel] * np.conj(spectra[0]), n)
        likeness /= max(float(size[0] * size[channel]), 1e-30)
        best = int(np.abs(likeness).argmax())
        if abs(likeness[best]) > LEAST_LIKENESS:
            out[channel - 1] = (best if best < n // 2 else best - n) / heard.rate_hz
    return out


def find_late_channels(delays_s: Sequence[NDArray[np.float64]], *, take: int) -> list[Fault]:
    """Name a take in which one channel comes later than any pair of microphones hears a clap."""
    if not delays_s:
        return []
    table = np.array(delays_s)
    heard = (~np.isnan(table)).sum(axis=0) > len(table) / 2
    late = [(float(np.nanmedian(table[:, i])), i) for i in np.flatnonzero(heard)]
    delay_s, channel = max(late, key=lambda entry: abs(entry[0]), default=(0.0, 0))
    if abs(delay_s) < LATE_S:
        return []
    return [
        Fault(
            remark=Remark(
                code="channels-apart",
                says=f"channel {channel + 2} comes {1000.0 * abs(delay_s):.0f} ms"
                f" {'later' if delay_s > 0 else 'earlier'} than channel 1, as if its microphone stood"
                f" {343.0 * abs(delay_s):.0f} m away: the beginning of each decay is heard twice",
                remedy="read one channel by itself with --channel",
            ),
            take=take,
        )
    ]


def find_unlike_channels(drifts_db: Sequence[NDArray[np.float64]], *, take: int) -> list[Fault]:
    """Name a take in whose claps one channel falls otherwise than the first does, by the median clap."""
    if not drifts_db:
        return []
    table = np.array(drifts_db)
    known = ~np.isnan(table)
    worst = max(
        ((float(np.median(table[known[:, i], i])), i) for i in range(table.shape[1]) if known[:, i].any()),
        key=lambda entry: abs(entry[0]),
        default=(0.0, 0),
    )
    drift_db, channel = worst
    if abs(drift_db) < LEAST_DB:
        return []
    return [
        Fault(
            remark=Remark(
                code="channels-disagree",
                says=f"channel {channel + 2} falls {'less' if drift_db > 0 else 'more'} than channel 1 while"
                f" the claps die away, by {abs(drift_db):.0f} dB: the level of one of them was changed",
                remedy="read one channel by itself with --channel, and switch automatic level off",
            ),
            take=take,
        )
    ]
