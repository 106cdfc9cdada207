"""Two channels that do not hear the same."""

from __future__ import annotations

import numpy as np

from tests.benchmarks.faulty_takes import levels
from tests.benchmarks.faulty_takes.base import RATE_HZ, Base
from tests.benchmarks.faulty_takes.draw import Draw
from tests.benchmarks.faulty_takes.fault import Fault
from tests.benchmarks.faulty_takes.kit import Floats, amplitude


def _other(base: Base, draw: Draw, sound: Floats) -> Floats:
    """The second microphone: later, softer, with limits and a hiss of its own."""
    from scipy.signal import butter, sosfilt

    delay = round(draw.evenly("delay_s", dev=(0.0001, 0.0005), exam=(0.00005, 0.001)) * RATE_HZ)
    gain_db = draw.evenly("gain_db", dev=(-12.0, 0.0), exam=(-20.0, 3.0))
    low_hz = draw.evenly_in_log("from_hz", dev=(60.0, 400.0), exam=(40.0, 800.0))
    high_hz = draw.evenly_in_log("to_hz", dev=(5000.0, 16000.0), exam=(3000.0, 18000.0))
    limited = sosfilt(butter(2, (low_hz, high_hz), btype="band", fs=RATE_HZ, output="sos"), sound)
    late = np.concatenate([np.zeros(delay), np.asarray(limited)])[: sound.size]
    hiss_db = draw.evenly("hiss_db", dev=(-10.0, 10.0), exam=(-10.0, 20.0))
    hiss = draw.rng.standard_normal(sound.size) * float(base.noise.std()) * float(amplitude(hiss_db))
    return np.asarray((late + hiss) * float(amplitude(gain_db)))


def differing(base: Base, draw: Draw) -> Fault:
    """One microphone is worse than the other."""
    pair = np.stack([base.sound, _other(base, draw, base.sound)], axis=1)
    return Fault(sound=pair, struck=(True,) * len(base.claps))


def one_with_gain(base: Base, draw: Draw) -> Fault:
    """One of the two has automatic gain."""
    turned = (
        levels.fast_gain(base, draw) if draw.happens("fast", chance=0.5) else levels.slow_gain(base, draw)
    )
    pair = np.stack([base.sound, _other(base, draw, turned.sound)], axis=1)
    return Fault(sound=pair, struck=turned.struck)
