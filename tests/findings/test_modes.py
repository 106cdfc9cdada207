"""The tones of a room stand beside its modes, each with its own decay time. All values invented."""

from __future__ import annotations

import math

import numpy as np
import pytest

from roomir.rooms.modes import box_modes
from tests.findings.sounds import RATE_HZ, findings_of
from tests.findings.test_flutter import C, box

SIZE_M = (4.6, 3.4, 2.5)


def ringing(rng, *, decay_times_s, highest_hz, duration_s=3.0):
    """A clap whose room is nothing but damped tones at the box's modes, and a diffuse decay above."""
    time_s = np.arange(round(duration_s * RATE_HZ)) / RATE_HZ
    sound = np.zeros(time_s.size)
    for mode in box_modes(SIZE_M, sound_speed=343.2, highest_hz=highest_hz):
        phase = rng.uniform(0.0, 2.0 * math.pi)
        wave = np.cos(2.0 * math.pi * mode.frequency_hz * time_s + phase)
        sound += wave * 10.0 ** (-3.0 * time_s / decay_times_s(mode))
    hiss = rng.standard_normal(time_s.size) * 10.0 ** (-3.0 * time_s / 0.6)
    spectrum = np.fft.rfft(hiss)
    spectrum[np.fft.rfftfreq(time_s.size, 1.0 / RATE_HZ) < highest_hz] = 0.0
    sound = 0.05 * sound + 0.2 * np.fft.irfft(spectrum, time_s.size)
    sound[0] += 8.0
    return sound


def test_single_tones_are_found_with_their_own_decay_times():
    rng = np.random.default_rng(1)
    times_s = {}

    def own(mode):
        return times_s.setdefault(mode.orders, float(rng.uniform(0.8, 1.6)))

    rooms = [ringing(rng, decay_times_s=own, highest_hz=95.0) for _ in range(3)]
    modes = findings_of(rooms, rng, dry=np.ones(1), background_db=-80.0, dimensions_m=SIZE_M).modes

    assert modes is not None
    assert modes.width_hz == pytest.approx(2.2 / 1.2, rel=0.35)
    low = [one for one in modes.heard if one.frequency_hz < 80.0]
    heard = {one.modes[0].orders: one for one in low if len(one.modes) == 1}
    assert {(1, 0, 0), (0, 1, 0), (1, 1, 0), (0, 0, 1)} <= heard.keys()
    for orders, one in heard.items():
        assert one.frequency_hz == pytest.approx(one.modes[0].frequency_hz, abs=0.7)
        assert one.decay_time_s == pytest.approx(times_s[orders], rel=0.25)


def test_the_axial_modes_of_a_simulated_box_are_heard():
    rng = np.random.default_rng(2)
    rooms = [
        box(SIZE_M, (0.12,) * 6, source_m=(0.5, 0.5, 0.4), ear_m=ear, duration_s=0.8)
        for ear in ((3.9, 2.6, 2.0), (4.1, 0.6, 1.9))
    ]
    modes = findings_of(rooms, rng, dry=np.ones(1), background_db=-80.0, dimensions_m=SIZE_M).modes

    assert modes is not None
    for hz in (0.5 * C / SIZE_M[0], 0.5 * C / SIZE_M[1]):
        nearest = min(modes.heard, key=lambda one: abs(one.frequency_hz - hz))
        assert nearest.frequency_hz == pytest.approx(hz, abs=1.0)
        assert nearest.modes[0].kind == "axial"


def test_modes_closer_than_their_width_are_one_peak():
    rng = np.random.default_rng(3)
    # 100.9 Hz (0, 2, 0) and 101.4 Hz (2, 0, 1): half a hertz apart, each 2 Hz wide.
    rooms = [ringing(rng, decay_times_s=lambda _: 1.1, highest_hz=104.0) for _ in range(2)]
    modes = findings_of(rooms, rng, dry=np.ones(1), background_db=-80.0, dimensions_m=SIZE_M).modes

    (peak,) = [one for one in modes.heard if 99.0 < one.frequency_hz < 103.0]
    assert {(0, 2, 0), (2, 0, 1)} <= {mode.orders for mode in peak.modes}


def test_without_dimensions_there_are_no_modes():
    rng = np.random.default_rng(4)
    room = ringing(rng, decay_times_s=lambda _: 1.0, highest_hz=80.0, duration_s=2.0)

    assert findings_of([room], rng, dry=np.ones(1)).modes is None
