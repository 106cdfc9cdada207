"""Finding a few seconds of the same chords in two recordings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomir.audio.recording import Recording, Sound
from roomir.compare.passages import Passage, SamePassage

Floats = NDArray[np.float64]

ALIKE = 0.75
"""Least correlation of two passages, pitch by pitch and tenth of a second by tenth."""

LENGTH_S = 4.0
"""A few chords. [s]"""

_FRAME_S = 0.1
_HOP = 5
"""Frames from one passage that is tried to the next."""
_LOWEST_HZ = 110.0
_SEMITONES = 48
_LONGEST_S = 180.0
_LOUD_DB = -25.0
"""Passages fainter than this re the loudest one of their recording are background. [dB]"""
_MOVES = 0.97
"""A passage whose frames are more alike than this is one tone that hums, not chords."""
_TONAL_DB = 6.0
"""How far the pitches of a chord stand out of their neighbours; speech and noise stay below. [dB]"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Windows:
    """Passages of one recording, one row each, and where they start. [s]"""

    shapes: Floats
    starts_s: Floats


def find_same_chords(before: Sequence[Recording], after: Sequence[Recording]) -> SamePassage | None:
    """Find the passage that two sets of recordings have in common.

    Parameters
    ----------
    before, after : sequence of Recording
        Recordings of both states; of each the first three minutes are searched.

    Returns
    -------
    SamePassage or None
        The pair of passages most alike; ``None`` where none is alike enough.
    """
    best: tuple[float, SamePassage] | None = None
    sides = [[_windows(recording.sound) for recording in side] for side in (before, after)]
    for i, here in enumerate(sides[0]):
        for j, there in enumerate(sides[1]):
            if not here.starts_s.size or not there.starts_s.size:
                continue
            likeness = here.shapes @ there.shapes.T
            row, column = np.unravel_index(int(np.argmax(likeness)), likeness.shape)
            if likeness[row, column] < ALIKE or (best is not None and best[0] >= likeness[row, column]):
                continue
            one, other = (
                Passage(take=take, name=side[take].source_name, start_s=float(start_s), length_s=LENGTH_S)
                for side, take, start_s in (
                    (before, i, here.starts_s[row]),
                    (after, j, there.starts_s[column]),
                )
            )
            best = float(likeness[row, column]), SamePassage(kind="chords", before=one, after=other)
    return None if best is None else best[1]


def _windows(sound: Sound) -> _Windows:
    """Cut a recording into passages that hold chords."""
    levels = _pitch_levels_db(sound)
    n = round(LENGTH_S / _FRAME_S)
    shapes, starts_s, loudness = [], [], []
    for first in range(0, levels.shape[0] - n + 1, _HOP):
        window = levels[first : first + n]
        loudness.append(float(np.log10(np.mean(10.0 ** (window / 10.0))) * 10.0))
        starts_s.append(first * _FRAME_S)
        # What is loud overall is not what is played: each frame keeps only which pitches stand out.
        relative = np.maximum(window - window.mean(axis=1, keepdims=True), 0.0)
        shapes.append(relative)
    keep = [
        i for i, shape in enumerate(shapes) if loudness[i] > max(loudness) + _LOUD_DB and _is_played(shape)
    ]
    flat = np.array([shapes[i].ravel() / np.linalg.norm(shapes[i]) for i in keep])
    return _Windows(
        shapes=flat.reshape(len(keep), n * _SEMITONES), starts_s=np.array([starts_s[i] for i in keep])
    )


def _is_played(shape: Floats) -> bool:
    """Whether pitches stand out in a passage, and change."""
    standing_out_db = np.median(np.sort(shape, axis=1)[:, -3:].mean(axis=1) - np.median(shape, axis=1))
    if standing_out_db < _TONAL_DB:
        return False
    unit = shape / np.maximum(np.linalg.norm(shape, axis=1, keepdims=True), 1e-12)
    return float(np.median(unit @ unit.mean(axis=0))) < _MOVES


def _pitch_levels_db(sound: Sound) -> Floats:
    """Level of every semitone in every tenth of a second, shape (n_frames, n_semitones). [dB]"""
    rate = sound.sample_rate_hz
    stretch = sound.stretch(start=0, stop=round(_LONGEST_S * rate)).astype(np.float64)
    if not stretch.size:
        return np.empty((0, _SEMITONES))
    mono = stretch[:, int(np.argmax((stretch**2).sum(axis=0)))]
    hop, length = round(_FRAME_S * rate), round(3.0 * _FRAME_S * rate)
    n = max((mono.size - length) // hop + 1, 0)
    edges_hz = _LOWEST_HZ * 2.0 ** ((np.arange(_SEMITONES + 1) - 0.5) / 12.0)
    edges = np.searchsorted(np.fft.rfftfreq(length, 1.0 / rate), edges_hz)
    window = np.hanning(length)
    out = np.empty((n, _SEMITONES))
    for frame in range(n):
        power = np.abs(np.fft.rfft(window * mono[frame * hop : frame * hop + length])) ** 2
        total = np.concatenate([[0.0], np.cumsum(power)])
        width = np.maximum(np.diff(edges), 1)
        out[frame] = 10.0 * np.log10((total[edges[:-1] + width] - total[edges[:-1]]) / width + 1e-12)
    return out
