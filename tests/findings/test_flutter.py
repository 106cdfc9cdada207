"""A row of echoes between bare walls is found, at its spacing; a diffuse decay has none.

Rooms are drawn at random (`tests.findings.sounds`) or simulated by an independent program of image sources,
pyroomacoustics. All values are invented.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from roomir.findings.envelope import window_statistics
from roomir.synth.decay import Slope
from tests.findings.sounds import RATE_HZ, findings_of, response, with_flutter

pra = pytest.importorskip("pyroomacoustics")

C = 343.0  # of the simulator


def fluttering(seed, *, spacing_s, strength_db=-3.0, decay_time_s=0.6, spots=1, **which):
    rng = np.random.default_rng(seed)
    rooms = [
        with_flutter(
            response(rng, decay_time_s=decay_time_s),
            rng,
            spacing_s=spacing_s,
            strength_db=strength_db,
            decay_time_s=decay_time_s,
        )
        for _ in range(spots)
    ]
    return findings_of(rooms, rng, **which).flutter


@pytest.mark.parametrize("spacing_s", [0.0117, 0.0204, 0.0352])
@pytest.mark.parametrize("decay_time_s", [0.4, 1.0])
def test_a_flutter_three_decibels_below_the_decay_is_found_at_its_spacing(spacing_s, decay_time_s):
    flutter = fluttering(1, spacing_s=spacing_s, decay_time_s=decay_time_s)

    assert flutter is not None
    assert flutter.spacing_s == pytest.approx(spacing_s, rel=0.03)
    assert {band.nominal_hz for band in flutter.bands if band.found} >= {2000.0, 4000.0}


def test_its_strength_is_that_of_the_echoes_over_the_decay_between_them():
    # The mean over rooms, bands and two strengths; a single one scatters by 1 to 2 dB.
    for strength_db in (-3.0, 3.0):
        found = [
            fluttering(seed, spacing_s=0.025, strength_db=strength_db, decay_time_s=0.8).strength_db
            for seed in range(4)
        ]
        assert np.mean(found) == pytest.approx(strength_db, abs=1.5)


def test_two_slopes_and_strong_early_reflections_are_no_flutter():
    for seed in range(8):
        rng = np.random.default_rng([7, seed])
        second = Slope(decay_time_s=0.9, level_db=-15.0) if seed % 2 else None
        room = response(rng, decay_time_s=0.4, second=second, n_early=20)
        assert findings_of([room], rng).flutter is None


def box(size_m, alphas, *, source_m, ear_m, duration_s=0.6):
    names = ("west", "east", "south", "north", "floor", "ceiling")
    materials = {name: pra.Material(alpha) for name, alpha in zip(names, alphas, strict=True)}
    room = pra.ShoeBox(
        size_m, fs=RATE_HZ, materials=materials, max_order=math.ceil(duration_s * C / min(size_m)) // 2
    )
    room.add_source(source_m)
    room.add_microphone(ear_m)
    room.compute_rir()
    return room.rir[0][0][: round(duration_s * RATE_HZ)]


BARE_SIDES = (0.5, 0.5, 0.03, 0.03, 0.5, 0.5)
"""North and south bare, all else absorbs half."""


def test_two_bare_walls_of_a_simulated_box_flutter_at_twice_their_distance():
    rng = np.random.default_rng(3)
    size_m = (5.1, 3.3, 2.4)
    rooms = [
        box(size_m, BARE_SIDES, source_m=(1.2, 0.8, 1.2), ear_m=(3.6, 2.3, 1.5)),
        box(size_m, BARE_SIDES, source_m=(1.0, 2.5, 1.1), ear_m=(3.9, 1.2, 1.6)),
    ]
    flutter = findings_of(rooms, rng, dimensions_m=size_m).flutter

    assert flutter is not None
    assert flutter.spacing_s == pytest.approx(2.0 * 3.3 / C, rel=0.03)
    assert flutter.distance_m == pytest.approx(3.3, rel=0.03)
    assert [(pair.along, pair.midway) for pair in flutter.pairs] == [("width", False)]


def test_midway_between_the_walls_echoes_come_twice_as_often():
    rng = np.random.default_rng(4)
    size_m = (5.6, 3.9, 2.5)
    room = box(size_m, BARE_SIDES, source_m=(1.2, 1.95, 1.2), ear_m=(3.6, 1.95, 1.5))
    flutter = findings_of([room], rng, dimensions_m=size_m).flutter

    assert flutter is not None
    assert flutter.spacing_s == pytest.approx(3.9 / C, rel=0.03)
    assert flutter.double_m == pytest.approx(3.9, rel=0.03)
    assert ("width", True) in [(pair.along, pair.midway) for pair in flutter.pairs]


def test_the_early_reflections_of_a_small_absorbing_box_are_no_flutter():
    for seed, size_m in enumerate(((3.1, 2.4, 2.3), (4.2, 3.4, 2.5), (2.6, 2.2, 2.4))):
        rng = np.random.default_rng([5, seed])
        room = box(size_m, (0.35,) * 6, source_m=(0.7, 0.8, 1.1), ear_m=(1.9, 1.6, 1.6), duration_s=0.4)
        assert findings_of([room], rng).flutter is None


def test_energy_in_a_short_window_is_exponential_and_in_a_long_one_has_bt_degrees():
    # Bendat and Piersol, "Random Data": relative variance of a mean square 1/BT, for BT large.
    assert window_statistics(window_bt=0.01, step_bt=1.0)[1] == pytest.approx(1.0, rel=0.01)
    assert window_statistics(window_bt=200.0, step_bt=100.0)[1] == pytest.approx(200.0, rel=0.02)


def test_windows_are_as_alike_as_noise_says():
    rng = np.random.default_rng(6)
    n, share = 2**18, 4
    spectrum = np.zeros(n, dtype=complex)
    spectrum[: n // share] = rng.standard_normal((n // share, 2)) @ (1.0, 1j)
    power = np.abs(np.fft.ifft(spectrum)) ** 2
    # B = 1/4 per sample: windows of 8 samples have BT 2, steps of 4 have 1.
    energy = np.convolve(power, np.ones(8), mode="valid")[::4]
    energy = energy / energy.mean() - 1.0
    alike, shape = window_statistics(window_bt=2.0, step_bt=1.0)

    assert 1.0 / np.mean(energy**2) == pytest.approx(shape, rel=0.05)
    assert np.mean(energy[1:] * energy[:-1]) / np.mean(energy**2) == pytest.approx(alike[1], abs=0.03)
