"""What takes quiet sound away: gates, expanders, noise suppression per band."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.faulty_takes.base import RATE_HZ, Base
from tests.benchmarks.faulty_takes.draw import Draw
from tests.benchmarks.faulty_takes.fault import Fault, everywhere
from tests.benchmarks.faulty_takes.kit import follow, in_spectrum, rms_db, under_gain

STEP = 48
"""Frames from one gain to the next: 1 ms."""


def gate(base: Base, draw: Draw) -> Fault:
    """A gate over the whole sound: shut where the level lies under a threshold above the background."""
    above_db = draw.evenly("above_background_db", dev=(5.0, 20.0), exam=(3.0, 28.0))
    hysteresis_db = draw.evenly("hysteresis_db", dev=(2.0, 6.0), exam=(0.0, 8.0))
    depth_db = draw.evenly("depth_db", dev=(12.0, 60.0), exam=(8.0, 90.0))
    level_db = rms_db(base.sound, step=STEP, over=round(draw.evenly("over_ms", dev=(5, 20), exam=(3, 30))))
    threshold_db = float(np.median(rms_db(base.noise, step=STEP))) + above_db
    wanted, is_open = np.empty_like(level_db), False
    for i, level in enumerate(level_db.tolist()):
        is_open = level > threshold_db - (hysteresis_db if is_open else 0.0)
        wanted[i] = 0.0 if is_open else -depth_db
    gain_db = -follow(
        -wanted,
        step_s=STEP / RATE_HZ,
        fall_s=draw.evenly_in_log("opens_s", dev=(0.0005, 0.004), exam=(0.0002, 0.008)),
        rise_s=draw.evenly_in_log("shuts_s", dev=(0.02, 0.3), exam=(0.01, 0.5)),
        hold_s=draw.evenly("hold_s", dev=(0.0, 0.15), exam=(0.0, 0.3)),
        start_db=depth_db,
    )
    return everywhere(base, under_gain(base.sound, gain_db, step=STEP))


def expander(base: Base, draw: Draw) -> Fault:
    """A downward expander: the lower below its threshold, the lower still."""
    ratio = draw.one_of("ratio", dev=(1.3, 1.6, 2.0, 3.0), exam=(1.2, 1.5, 1.8, 2.5, 4.0))
    under_db = draw.evenly("threshold_under_peak_db", dev=(15.0, 35.0), exam=(10.0, 42.0))
    most_db = draw.evenly("most_db", dev=(15.0, 40.0), exam=(10.0, 60.0))
    level_db = rms_db(base.sound, step=STEP, over=round(draw.evenly("over_ms", dev=(4, 15), exam=(2, 25))))
    wanted = np.clip((ratio - 1.0) * (level_db - (float(level_db.max()) - under_db)), -most_db, 0.0)
    gain_db = -follow(
        -wanted,
        step_s=STEP / RATE_HZ,
        fall_s=draw.evenly_in_log("opens_s", dev=(0.001, 0.006), exam=(0.0005, 0.01)),
        rise_s=draw.evenly_in_log("shuts_s", dev=(0.01, 0.15), exam=(0.005, 0.3)),
        start_db=float(-wanted[0]),
    )
    return everywhere(base, under_gain(base.sound, gain_db, step=STEP))


def noise_suppression(base: Base, draw: Draw) -> Fault:
    """Each bin is turned down by how little it stands over the background heard before the claps.

    Either power subtraction with an oversubtraction factor, smoothed over time, or a Wiener gain with the
    decision-directed estimate of Ephraim and Malah, IEEE Trans. Acoust. Speech Signal Process. 32
    (1984) 1109; both down to a floor.
    """
    window = draw.one_of("window", dev=(960, 1440), exam=(512, 1024, 1536, 2048))
    floor = 10.0 ** (-draw.evenly("floor_db", dev=(10.0, 25.0), exam=(8.0, 40.0)) / 20.0)
    over = draw.evenly("oversubtraction", dev=(1.0, 3.0), exam=(0.8, 5.0))
    smooth = draw.evenly("smoothing", dev=(0.3, 0.9), exam=(0.0, 0.97))
    wiener = draw.happens("wiener", chance=0.5)
    first = base.claps[0].onset

    def change(spectra: NDArray[np.complex128]) -> NDArray[np.complex128]:
        before = max(3, 2 * first // window - 2)
        noise = (np.abs(spectra[:, 1:before]) ** 2).mean(axis=1) * over
        power = np.abs(spectra) ** 2
        gain = np.empty(power.shape)
        past = np.zeros(noise.size)
        own = np.full(noise.size, floor)
        for i in range(power.shape[1]):
            now = power[:, i] / noise
            if wiener:
                prior = smooth * past + (1.0 - smooth) * np.maximum(now - 1.0, 0.0)
                own = np.maximum(prior / (1.0 + prior), floor)
                past = own**2 * now
            else:
                raw = np.sqrt(np.maximum(1.0 - 1.0 / np.maximum(now, 1e-9), floor**2))
                # Suppressors open at once, so as not to blunt what begins, and close slowly.
                own = np.where(raw > own, raw, smooth * own + (1.0 - smooth) * raw)
            gain[:, i] = own
        return spectra * gain

    return everywhere(base, in_spectrum(base.sound, change, window=window))
