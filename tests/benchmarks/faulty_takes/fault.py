"""What a fault makes of a clean take."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from tests.benchmarks.faulty_takes.base import RATE_HZ, Base
from tests.benchmarks.faulty_takes.draw import Draw
from tests.benchmarks.faulty_takes.kit import Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fault:
    """A faulty sound before it is stored.

    Attributes
    ----------
    sound : array, shape (n,) or (n, 2)
        What the recorder would store.
    struck : tuple of bool
        Which claps of the base the fault has reached.
    rate_hz : int
        The rate that the file will say. [Hz]
    """

    sound: Floats
    struck: tuple[bool, ...]
    rate_hz: int = RATE_HZ


MakeFault = Callable[[Base, Draw], Fault]


def everywhere(base: Base, sound: Floats) -> Fault:
    """A fault that strikes every clap."""
    return Fault(sound=sound, struck=(True,) * len(base.claps))


def to_peak(sound: Floats, base: Base) -> Floats:
    """Bring the largest magnitude back to what the clean take had."""
    return np.asarray(sound * (float(np.abs(base.sound).max()) / float(np.abs(sound).max())))
