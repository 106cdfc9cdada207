"""How long to listen after a clap: until every band has sunk, and no longer."""

from __future__ import annotations

import numpy as np

from roomir.audio.recording import Sound
from roomir.claps.clap import Clap

LONGEST_S = 15.0
"""No small room needs more; what follows is background that may have changed. [s]"""

_SHORTEST_S = 1.2
_BLOCK_S = 0.01
_SMOOTH = 3
_LOOK_S = 15.0


def listening_length_s(sound: Sound, clap: Clap) -> float:
    """Length of sound after the onset that the analysis needs. [s].

    The slower bands may still ring when the sum of all has sunk into the
    background, and the background needs as much time as the decay to be
    known: twice the time that the sum can be followed, in a differenced
    (brighter) and a plain version, whichever is longer.
    """
    rate = sound.sample_rate_hz
    stop = min(clap.stop, clap.onset + round(_LOOK_S * rate))
    stretch = sound.stretch(start=clap.onset, stop=stop)
    n = max(1, round(_BLOCK_S * rate))
    n_blocks = stretch.shape[0] // n
    if n_blocks < 10:
        return LONGEST_S
    mono = stretch[: n_blocks * n]
    power = np.einsum("ij,ij->i", mono, mono).reshape(n_blocks, n).sum(axis=1)
    longest = _sinks_after(power)
    low = mono.sum(axis=1).reshape(n_blocks, n)
    # The sum of a block is a crude low-pass filter: below a hundred hertz.
    longest = max(longest, _sinks_after(np.square(low.sum(axis=1))))
    return float(np.clip(2.4 * longest * _BLOCK_S + 0.5, _SHORTEST_S, LONGEST_S))


def _sinks_after(power: np.ndarray) -> int:
    """Blocks until the smoothed power last stands 3 dB over its own floor."""
    smooth = np.convolve(power, np.ones(_SMOOTH) / _SMOOTH, mode="same")
    peak = int(smooth.argmax())
    floor = float(np.quantile(smooth[peak:], 0.25)) if smooth.size - peak > 8 else 0.0
    sunk = np.flatnonzero(smooth[peak:] < 2.0 * floor)
    return peak + (int(sunk[0]) if sunk.size else smooth.size - peak)
