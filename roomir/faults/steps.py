"""How coarse the steps are in which a sound was written down."""

from __future__ import annotations

import numpy as np

from roomir.audio.recording import Samples

_LOOK = 4096


def quantisation_step(sound: Samples) -> float:
    """Least difference between neighbouring samples that are not equal; 0 where none differ.

    Parameters
    ----------
    sound : Samples, shape (n,)
        One channel; its first and its last few thousand samples are looked at, and all of them where
        these are silent.
    """
    change = np.abs(np.concatenate([np.diff(sound[:_LOOK]), np.diff(sound[-_LOOK:])]))
    if not change.any():
        change = np.abs(np.diff(sound))
    moving = change[change > 0.0]
    return float(moving.min()) if moving.size else 0.0
