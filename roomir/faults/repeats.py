"""Blocks that a recorder wrote twice."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomir.audio.recording import Samples
from roomir.faults.heard import Finding, Heard, end_clean_part
from roomir.remarks import Remark

_TAPS = np.array([0x9E3779B1, 0x85EBCA77, 0xC2B2AE3D, 0x27D4EB2F, 0x165667B1, 0x9E3779B9], dtype=np.uint64)
_LEAST_S = 0.003
_LEAST_MATCHES = 6
_LEAST_VALUES = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeat:
    """Sound that was written twice: where it stands the second time, and how long after the first."""

    first: int
    stop: int
    lag: int


def find_repeats(heard: Heard) -> list[Finding]:
    """Name a clap in whose decay a block of sound stands twice."""
    repeat = find_repeat(heard.samples[:, 0], rate_hz=heard.rate_hz)
    if repeat is None or repeat.stop <= heard.onset or repeat.first >= heard.stop:
        return []
    length_ms = 1000.0 * (repeat.stop - repeat.first) / heard.rate_hz
    after_ms = 1000.0 * max(heard.after_s(repeat.first), 0.0)
    remark = Remark(
        code="repeated-block",
        says=f"{after_ms:.0f} ms after the clap the recorder wrote {length_ms:.0f} ms of sound a second"
        " time; only what comes before it can be read",
        remedy="close other apps while recording, and record again",
    )
    return [end_clean_part(heard, frame=repeat.first, remark=remark, is_loss=True)]


def find_repeat(sound: Samples, *, rate_hz: int) -> Repeat | None:
    """Find the longest stretch of one channel that is equal, sample by sample, to an earlier one.

    Parameters
    ----------
    sound : Samples, shape (n,)
        One channel.
    rate_hz : int
        Frames per second. [Hz]

    Notes
    -----
    One place in sixteen, chosen by the value that stands there, so that a
    repeated block brings its places with it, is given a number made of six
    samples. Equal numbers at one and the same distance lead to the block.
    A few values that come again and again, as in coarse steps, are no block.
    """
    if sound.size < 64:
        return None
    bits = np.ascontiguousarray(sound).view(np.uint32)
    n = bits.size - _TAPS.size
    chosen = (bits[:n] * np.uint32(0x9E3779B1)) >> np.uint32(28)
    places = np.flatnonzero((chosen == 0) & (bits[:n] != 0))
    key = np.zeros(places.size, dtype=np.uint64)
    for i, tap in enumerate(_TAPS):
        key = key * np.uint64(31) + bits[places + i] * tap
    order = np.argsort(key)
    equal = np.flatnonzero(key[order][1:] == key[order][:-1])
    if equal.size < _LEAST_MATCHES:
        return None
    one, other = places[order[equal]], places[order[equal + 1]]
    later, lag = np.maximum(one, other), np.abs(one - other)
    lags, counts = np.unique(lag, return_counts=True)
    for i in np.argsort(counts)[::-1][:4]:
        if counts[i] < _LEAST_MATCHES:
            return None
        repeat = _longest_run(sound, lag=int(lags[i]), around=later[lag == lags[i]])
        if repeat is not None and repeat.stop - repeat.first >= _LEAST_S * rate_hz:
            return repeat
    return None


def _longest_run(sound: Samples, *, lag: int, around: NDArray[np.intp]) -> Repeat | None:
    differs = np.flatnonzero(sound[lag:] != sound[:-lag]) + lag
    bounds = np.concatenate([[lag - 1], differs, [sound.size]])
    after = np.searchsorted(bounds, around)
    after = after[(after > 0) & (after < bounds.size)]
    best = int(after[np.argmax(bounds[after] - bounds[after - 1])])
    first, stop = int(bounds[best - 1]) + 1, int(bounds[best])
    if np.unique(sound[first:stop]).size < _LEAST_VALUES:
        return None
    return Repeat(first=first, stop=stop, lag=lag)
