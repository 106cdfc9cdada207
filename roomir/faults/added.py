"""Reverberation that an app adds: sound that comes round again after the same few delays, all take long.

Reverberators of that kind are delays that feed themselves (Schroeder, J. Audio Eng. Soc. 10 (1962)
219). What goes in comes out again after each of them, the background between the claps too, and its
autocorrelation stands up at delays that have nothing to do with one another. A flutter echo has one
delay and its multiples, and so have hum and machines.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from roomir.audio.recording import Sound
from roomir.bands.filters import fast_length
from roomir.decay.likelihood import Floats
from roomir.faults.fault import Fault
from roomir.remarks import Remark

SURE = 5.0
"""Height of a peak from which a delay is believed. [standard deviations]"""

LEAST_DELAYS = 3
"""So many unrelated delays no room has, and no machine."""

_DELAYS_S = (0.015, 0.075)
_LOWEST_HZ = 700.0
_HIGHEST_SHARE = 0.4
_SMOOTH_HZ = 400.0
_PIECE_S = 0.7
_LEAST_PIECE_S = 0.4
_MOST_PIECES = 3
_RELATED = 0.02
_STANDS_STILL = 0.5


def find_added(sound: Sound, quiet_s: Sequence[tuple[float, float]], *, take: int) -> list[Fault]:
    """Name reverberation that comes round in the background of one take.

    Parameters
    ----------
    sound : Sound
        The take.
    quiet_s : sequence of (float, float)
        Stretches without any event or decay. [s]
    take : int
        Which recording.
    """
    rate = sound.sample_rate_hz
    pieces = [
        sound.stretch(start=round(start * rate), stop=round(min(stop, start + _PIECE_S) * rate)).mean(axis=1)
        for start, stop in quiet_s
        if stop - start >= _LEAST_PIECE_S
    ]
    pieces = [piece for piece in pieces if _is_lively(piece)][:_MOST_PIECES]
    delays_s = repeated_delays(pieces, rate=rate) if pieces else []
    if len(delays_s) < LEAST_DELAYS:
        return []
    after = ", ".join(f"{1000.0 * delay:.1f}" for delay in delays_s[:4])
    return [
        Fault(
            remark=Remark(
                code="added-reverberation",
                says=f"even the background comes round again after {after} ms: an app has possibly added"
                " reverberation, and the decay reads too long",
                remedy="switch off reverb, space and sound effects, or use a plain audio recorder",
            ),
            take=take,
        )
    ]


def repeated_delays(pieces: Sequence[Floats], *, rate: int) -> list[float]:
    """Unrelated delays after which sound repeats itself, the clearest first. [s].

    Parameters
    ----------
    pieces : sequence of array, shape (n,)
        Steady sound.
    rate : int
        Its rate. [Hz]
    """
    n = fast_length(max(piece.size for piece in pieces))
    total = np.zeros(n)
    for piece in pieces:
        power = np.abs(np.fft.rfft(piece * np.hanning(piece.size), n)) ** 2
        step_hz = rate / n
        width = max(3, round(_SMOOTH_HZ / step_hz))
        sums = np.cumsum(np.pad(power, (width // 2 + 1, width - width // 2 - 1), mode="edge"))
        flat = power / np.maximum((sums[width:] - sums[:-width])[: power.size] / width, 1e-300) - 1.0
        low, high = round(_LOWEST_HZ / step_hz), round(_HIGHEST_SHARE * n)
        flat[:low] = 0.0
        flat[high:] = 0.0
        total += np.fft.irfft(flat, n)
    first, last = (round(delay * rate) for delay in _DELAYS_S)
    heights = total[first:last] / float(np.std(total[first:last]))
    found: list[float] = []
    for i in np.argsort(heights)[::-1]:
        if heights[i] < SURE:
            break
        delay = (first + int(i)) / rate
        if not any(_related(delay, other) for other in found):
            found.append(delay)
    return found


def _is_lively(piece: Floats) -> bool:
    """Whether it is a background: silence, the last bit or samples written again repeat by themselves."""
    return bool(np.mean(piece[1:] == piece[:-1]) < _STANDS_STILL)


def _related(delay: float, other: float) -> bool:
    """Whether one is a multiple of the other, or three halves of it: multiples of one delay."""
    ratio = max(delay, other) / min(delay, other)
    return any(abs(ratio * part - round(ratio * part)) < _RELATED * part for part in (1, 2))
