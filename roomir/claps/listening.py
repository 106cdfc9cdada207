"""How long to listen after a clap: until every band has sunk, and no longer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from roomir.audio.recording import Sound
from roomir.claps.clap import Clap

LONGEST_S = 15.0
"""No small room needs more; what follows is background that may have changed. [s]"""

_SHORTEST_S = 1.2
_LENGTHS = 2.4
_ON_TOP_S = 0.5
_BLOCK_S = 0.01
_SMOOTH = 3
_LOOK_S = 15.0
_HALF = 12
_PLATEAU = 2 * _HALF
_LEVEL = 0.35
_DROP = 0.25


def with_listening_lengths(sound: Sound, claps: Sequence[Clap]) -> list[Clap]:
    """Work out once how long to listen to each clap that is used."""
    return [
        replace(clap, listening_s=listening_length_s(sound, clap)) if clap.used else clap for clap in claps
    ]


def listening_length_s(sound: Sound, clap: Clap) -> float:
    """Length of sound after the onset that the analysis needs. [s].

    The slower bands may still ring when the sum of all has sunk into the
    background, and the background needs as much time as the decay to be
    known: twice the time that the sum can be followed, in a differenced
    (brighter) and a plain version, whichever is longer.
    """
    if clap.listening_s is not None:
        return clap.listening_s
    rate = sound.sample_rate_hz
    stop = min(clap.stop, clap.onset + round(_LOOK_S * rate))
    stretch = sound.stretch(start=clap.onset, stop=stop)
    n = max(1, round(_BLOCK_S * rate))
    n_blocks = stretch.shape[0] // n
    if n_blocks < 10:
        return LONGEST_S
    mono = stretch[: n_blocks * n]
    power = np.einsum("ij,ij->i", mono, mono).reshape(n_blocks, n).sum(axis=1)
    n_steady = _background_ends_after(power)
    mono, power, n_blocks = mono[: n_steady * n], power[:n_steady], n_steady
    longest = _sinks_after(power)
    low = mono.sum(axis=1).reshape(n_blocks, n)
    # The sum of a block is a crude low-pass filter: below a hundred hertz.
    longest = max(longest, _sinks_after(np.square(low.sum(axis=1))))
    length_s = float(np.clip(_LENGTHS * longest * _BLOCK_S + _ON_TOP_S, _SHORTEST_S, LONGEST_S))
    return min(length_s, n_steady * _BLOCK_S) if n_steady * n < stretch.shape[0] - n else length_s


def sinks_after_s(length_s: float) -> float:
    """When the sum of all bands has sunk at the latest, after the onset, given that length. [s]."""
    return max(length_s - _ON_TOP_S, 0.0) / _LENGTHS


def _background_ends_after(power: np.ndarray) -> int:
    """Blocks until the background itself stops: a gate, a fade, or silence put behind the recording.

    What stops is told from a decay by what came before: a level that no longer falls.
    """
    if power.size < 2 * _PLATEAU:
        return int(power.size)
    total = np.concatenate([[0.0], np.cumsum(power)])
    mean = (total[_HALF:] - total[:-_HALF]) / _HALF
    # Half a plateau, the other half, and what follows them.
    first, second, after = mean[: -2 * _HALF], mean[_HALF:-_HALF], mean[2 * _HALF :]
    level = np.abs(np.log(np.maximum(second, 1e-300) / np.maximum(first, 1e-300))) < _LEVEL
    stops = level & (after < _DROP * second)
    # The peak itself is no plateau.
    stops[: max(0, int(power.argmax()) + _HALF)] = False
    where = np.flatnonzero(stops)
    return int(where[0]) + 2 * _HALF if where.size else int(power.size)


def _sinks_after(power: np.ndarray) -> int:
    """Blocks until the smoothed power last stands 3 dB over its own floor."""
    smooth = np.convolve(power, np.ones(_SMOOTH) / _SMOOTH, mode="same")
    peak = int(smooth.argmax())
    floor = float(np.quantile(smooth[peak:], 0.25)) if smooth.size - peak > 8 else 0.0
    sunk = np.flatnonzero(smooth[peak:] < 2.0 * floor)
    return peak + (int(sunk[0]) if sunk.size else smooth.size - peak)
