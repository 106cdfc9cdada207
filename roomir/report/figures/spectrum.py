"""The spectrogram of a take, of bounded size however long the take is."""

from __future__ import annotations

import math
import tempfile
from dataclasses import dataclass
from itertools import chain
from types import ModuleType

import numpy as np
from numpy.typing import NDArray

from roomir.audio.recording import Sound

Floats = NDArray[np.float32]

LOWEST_HZ = 44.0
"""Where the lowest octave begins. [Hz]"""
HIGHEST_HZ = 11_300.0
"""Where the highest octave ends. [Hz]"""

MOST_COLUMNS = 900
"""More than a phone's screen has pixels beside the labels."""

_ROWS_PER_OCTAVE = 12
_WINDOW_S = 0.043
_SHORTEST_HOP = 32
_BLOCK_WINDOWS = 128
_DEEPEST_DB = 90.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spectrogram:
    """Levels of a sound over time and frequency.

    Attributes
    ----------
    level_db : array of float32, shape (n_rows, n_columns)
        Low frequencies first, re the loudest, at least -90; the highest of all
        moments of a column, so that a clap is seen however long the take. [dB]
    duration_s : float
        Time that the columns share. [s]
    octaves : float
        Octaves above `LOWEST_HZ` that the rows share.
    """

    level_db: Floats
    duration_s: float
    octaves: float


def spectrogram(sound: Sound) -> Spectrogram:
    """Analyse a sound block by block.

    Parameters
    ----------
    sound : Sound
        Of any length and any number of channels, whose powers are averaged.

    Returns
    -------
    Spectrogram
        At most `MOST_COLUMNS` wide.
    """
    rate = sound.sample_rate_hz
    n_fft = 2 ** max(6, round(math.log2(_WINDOW_S * rate)))
    hop = max(_SHORTEST_HOP, min(n_fft // 2, sound.n_frames // MOST_COLUMNS))
    per_column = max(1, math.ceil(sound.n_frames / hop / MOST_COLUMNS))
    highest_hz = min(HIGHEST_HZ, rate / 2)
    octaves = math.log2(highest_hz / LOWEST_HZ)
    rows = _rows(n_fft=n_fft, rate=rate, octaves=octaves)
    power = np.zeros((rows.shape[0], math.ceil(sound.n_frames / hop / per_column)), dtype=np.float32)
    librosa = _librosa()
    # Centred windows: the first and the last reach half their length beyond the sound.
    waiting = silence = np.zeros((n_fft // 2, sound.n_channels), dtype=np.float32)
    n_done = 0
    for block in chain(sound.blocks(n_frames=_BLOCK_WINDOWS * n_fft), [silence]):
        waiting = np.concatenate([waiting, block])
        n_windows = 1 + (waiting.shape[0] - n_fft) // hop
        if n_windows < 1:
            continue
        short = librosa.stft(waiting.T, n_fft=n_fft, hop_length=hop, center=False)
        level = rows @ np.mean(np.square(np.abs(short)), axis=0)
        columns = np.minimum((n_done + np.arange(n_windows)) // per_column, power.shape[1] - 1)
        firsts = np.flatnonzero(np.diff(columns, prepend=-1))
        highest = np.maximum.reduceat(level, firsts, axis=1)
        power[:, columns[firsts]] = np.maximum(power[:, columns[firsts]], highest)
        n_done += n_windows
        waiting = waiting[n_windows * hop :]
    loudest = float(power.max(initial=0.0))
    level_db = (
        librosa.power_to_db(power, ref=loudest, amin=loudest * 1e-12, top_db=_DEEPEST_DB)
        if loudest > 0.0
        else np.full(power.shape, -_DEEPEST_DB, dtype=np.float32)
    )
    return Spectrogram(level_db=level_db, duration_s=sound.n_frames / rate, octaves=octaves)


def _rows(*, n_fft: int, rate: int, octaves: float) -> Floats:
    """Share of each bin in each row, shape (n_rows, n_bins): a row holds all the power of a narrow band."""
    n_rows = max(1, round(octaves * _ROWS_PER_OCTAVE))
    edges_hz = LOWEST_HZ * 2.0 ** np.linspace(0.0, octaves, n_rows + 1)
    apart_hz = rate / n_fft
    bins_hz = apart_hz * np.arange(n_fft // 2 + 1)
    low_hz = np.maximum(edges_hz[:-1, np.newaxis], bins_hz - apart_hz / 2)
    high_hz = np.minimum(edges_hz[1:, np.newaxis], bins_hz + apart_hz / 2)
    return np.asarray(np.maximum(high_hz - low_hz, 0.0) / apart_hz, dtype=np.float32)


def _librosa() -> ModuleType:
    """Load librosa, which compiles parts of itself on its first run and wants to keep them somewhere."""
    import librosa

    try:
        librosa.stft  # noqa: B018  (its parts are loaded when first asked for)
    except RuntimeError as error:
        if "cache" not in str(error):
            raise
        # Neither beside the package nor at home is anything writable, so it gets a folder of its own.
        import numba

        with tempfile.TemporaryDirectory(prefix="roomir-") as folder:
            numba.config.CACHE_DIR = folder  # type: ignore[attr-defined]  # made at run time
            librosa.stft  # noqa: B018
    return librosa
