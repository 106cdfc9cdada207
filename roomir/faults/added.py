"""Reverberation that an app adds: sound that comes round again after the same few delays, all take long.

Reverberators of that kind are delays that feed themselves (Schroeder, J. Audio Eng. Soc. 10 (1962)
219). What goes in comes out again after each of them, claps and the background between them too,
and its autocorrelation stands up at delays that have nothing to do with one another. A flutter echo
has one delay and its multiples, and so have hum and machines.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from roomir.audio.recording import Sound
from roomir.bands.fourier import rfft
from roomir.claps.clap import Clap
from roomir.decay.band_fit import BandFit
from roomir.decay.heard import HeardClap
from roomir.decay.likelihood import Floats
from roomir.faults.fault import Fault
from roomir.remarks import Remark

SURE = 4.5
"""Height of a peak from which a delay is believed. Clean backgrounds and decays reach 4.6 once and 3.6
three times over; noise of one machine in a box of bare walls 4.5 and 3.7. [standard deviations]"""

LEAST_DELAYS = 3
"""So many unrelated delays no machine has."""

LEAST_DELAYS_OF_DECAYS = 4
"""So many unrelated delays no room has: a box has three pairs of walls."""

_DELAYS_S = (0.015, 0.075)
_BESIDE_S = 0.005
_LOWEST_HZ = 700.0
_HIGHEST_SHARE = 0.4
_SMOOTH_HZ = 400.0
_PIECE_S = 0.68
_LEAST_PIECE_S = 0.15
_LEAST_S = 0.4
_MOST_PIECES = 12
_LATE_S = 0.05
_EVEN_S = 0.03
_HIGHEST = 3.0
_RELATED = 0.02
_STANDS_STILL = 0.5
_MEDIAN_OF_NORMAL = 0.6745


def find_added(
    sound: Sound,
    quiet_s: Sequence[tuple[float, float]],
    decays_s: Sequence[tuple[float, float]] = (),
    *,
    take: int,
) -> list[Fault]:
    """Name reverberation that comes round in the background of one take, or in its decays.

    Parameters
    ----------
    sound : Sound
        The take.
    quiet_s : sequence of (float, float)
        Stretches without any event or decay. [s]
    decays_s : sequence of (float, float)
        Stretches in which claps die away, behind their first reflections. [s]
    take : int
        Which recording.
    """
    rate = sound.sample_rate_hz
    where, delays_s = "the background", repeated_delays(_pieces(sound, quiet_s), rate=rate)
    if len(delays_s) < LEAST_DELAYS:
        even = [_evened(piece, rate=rate) for piece in _pieces(sound, decays_s)]
        where, delays_s = "the late decay", repeated_delays(even, rate=rate)
        if len(delays_s) < LEAST_DELAYS_OF_DECAYS:
            return []
    after = ", ".join(f"{1000.0 * delay:.1f}" for delay in delays_s[:4])
    return [
        Fault(
            remark=Remark(
                code="added-reverberation",
                says=f"even {where} comes round again after {after} ms: an app has possibly added"
                " reverberation, and the decay reads too long",
                remedy="switch off reverb, space and sound effects, or use a plain audio recorder",
            ),
            take=take,
        )
    ]


def decay_stretches(
    claps: Sequence[Clap], heard: Sequence[tuple[int, HeardClap]], fits: Sequence[BandFit | None]
) -> list[tuple[float, float]]:
    """Stretches of one take in which its claps die away in most bands, without the first 50 ms. [s]."""
    out = []
    for row, clap in heard:
        ends_s = []
        for fit in fits:
            if fit is not None and row in fit.rows:
                own = int(np.flatnonzero(fit.rows == row)[0])
                ends_s.append(fit.model(own).crosspoint_s(fit.traces[own].end_s))
        if ends_s:
            onset_s = claps[clap.place].onset_s
            out.append((onset_s + _LATE_S, onset_s + sorted(ends_s)[len(ends_s) // 2]))
    return out


def repeated_delays(pieces: Sequence[Floats], *, rate: int) -> list[float]:
    """Unrelated delays after which sound repeats itself, the clearest first. [s].

    Parameters
    ----------
    pieces : sequence of array, shape (n,)
        Steady sound.
    rate : int
        Its rate. [Hz]

    Notes
    -----
    The autocorrelation of a steady sound whose spectrum is made flat scatters
    about zero as a normal variable does. In a room it scatters wider at short
    delays, so its spread is taken from the 5 ms on either side, by the median,
    which single peaks leave alone.
    """
    if sum(piece.size for piece in pieces) < _LEAST_S * rate:
        return []
    n = 1 << (round(_PIECE_S * rate) - 1).bit_length()
    step_hz = rate / n
    low, high = round(_LOWEST_HZ / step_hz), round(_HIGHEST_SHARE * n)
    width = max(3, round(_SMOOTH_HZ / step_hz))
    power = np.zeros(n // 2 + 1)
    for piece in pieces:
        size = float(np.sqrt(np.mean(np.square(piece))))
        spectrum = rfft(piece.astype(np.float32) * (_window(piece.size) / np.float32(size)), n)
        power += np.square(spectrum.real) + np.square(spectrum.imag)
    sums = np.cumsum(np.pad(power, (width // 2 + 1, width - width // 2 - 1), mode="edge"))
    flat = power / np.maximum((sums[width:] - sums[:-width])[: power.size] / width, 1e-300) - 1.0
    # Tones of a hum stand higher: they would make delays of their own.
    flat = np.minimum(flat, _HIGHEST)
    flat[:low] = 0.0
    flat[high:] = 0.0
    heights = _heights(np.fft.irfft(flat, n), rate=rate)
    first = round(_DELAYS_S[0] * rate)
    found: list[float] = []
    high_ones = np.flatnonzero(heights >= SURE)
    for i in high_ones[np.argsort(heights[high_ones])[::-1]]:
        delay = (first + int(i)) / rate
        if not any(_related(delay, other) for other in found):
            found.append(delay)
    return found


@lru_cache(maxsize=4)
def _window(n: int) -> NDArray[np.float32]:
    """Hann's; most pieces are equally long."""
    return np.hanning(n).astype(np.float32)


def _heights(correlation: Floats, *, rate: int) -> Floats:
    """Autocorrelation over its own spread around each delay, from the first delay asked to the last."""
    first, last = (round(delay * rate) for delay in _DELAYS_S)
    n_beside = round(_BESIDE_S * rate)
    around = np.abs(correlation[first - n_beside : last + n_beside])
    middles = np.arange(n_beside, around.size - n_beside + 1, n_beside)
    spread = [float(np.median(around[m - n_beside : m + n_beside])) for m in middles]
    at = np.interp(np.arange(n_beside, n_beside + last - first), middles, spread)
    return correlation[first:last] * _MEDIAN_OF_NORMAL / np.maximum(at, 1e-300)


def _pieces(sound: Sound, stretches_s: Sequence[tuple[float, float]]) -> list[Floats]:
    """Pieces of the stretches, the first ones of each first."""
    rate = sound.sample_rate_hz
    n, least = round(_PIECE_S * rate), round(_LEAST_PIECE_S * rate)
    starts = sorted(
        (k, start + k * n, min(start + (k + 1) * n, stop))
        for start, stop in ((round(a * rate), min(round(b * rate), sound.n_frames)) for a, b in stretches_s)
        for k in range(max(stop - start - least, -1) // n + 1)
    )
    out = []
    for _, start, stop in starts:
        piece = sound.stretch(start=start, stop=stop).mean(axis=1)
        if _is_lively(piece):
            out.append(piece)
            if len(out) == _MOST_PIECES:
                break
    return out


def _evened(piece: Floats, *, rate: int) -> Floats:
    """A decay with its own level taken off, so that it goes on as loud as it began."""
    change = np.diff(piece)
    n = round(_EVEN_S * rate)
    sums = np.concatenate([[0.0], np.cumsum(np.square(change, dtype=np.float64))])
    power = (sums[n:] - sums[:-n]) / n
    level = np.interp(np.arange(change.size), np.arange(power.size) + n // 2, power)
    return np.asarray(change / np.sqrt(np.maximum(level, 1e-30)))


def _is_lively(piece: Floats) -> bool:
    """Whether it is a background: silence, the last bit or samples written again repeat by themselves."""
    return bool(np.mean(piece[1:] == piece[:-1]) < _STANDS_STILL)


def _related(delay: float, other: float) -> bool:
    """Whether one is a multiple of the other, or three halves of it: multiples of one delay."""
    ratio = max(delay, other) / min(delay, other)
    return any(abs(ratio * part - round(ratio * part)) < _RELATED * part for part in (1, 2))
