"""The box room against an independent simulator of image sources, and both against Norris and Eyring.

The twin is pyroomacoustics (Scheibler, Bezzam and Dokmanic, "Pyroomacoustics: a Python package for audio room
simulation and array processing algorithms", ICASSP 2018). Only its images are used; every decay time here is
the slope of a backward-integrated response (M. R. Schroeder, J. Acoust. Soc. Am. 37 (1965) 409-412), fitted
in this file. The rooms are invented.
"""

import math

import numpy as np
import pytest

from roomir.rooms.statistics import eyring_decay_time_s, sabine_decay_time_s
from roomir.synth.box import BoxRoom, box_response

pra = pytest.importorskip("pyroomacoustics")

RATE = 16_000
C = 343.0  # the twin's fixed speed
SOURCE, EAR = (1.2, 1.3, 1.1), (3.6, 2.9, 2.2)
WALLS = ("west", "east", "south", "north", "floor", "ceiling")


def ours(size_m, alphas, *, duration_s, jitter_m=0.0, ear=EAR):
    surfaces = {wall: (alpha,) * 8 for wall, alpha in zip(WALLS, alphas, strict=True)}
    room = BoxRoom(length_m=size_m[0], width_m=size_m[1], height_m=size_m[2], **surfaces)
    return box_response(
        room,
        source_m=SOURCE,
        microphone_m=ear,
        sample_rate_hz=RATE,
        duration_s=duration_s,
        sound_speed_m_per_s=C,
        rng=np.random.default_rng(5),
        jitter_m=jitter_m,
    )


def theirs(size_m, alphas, *, duration_s, ear=EAR):
    materials = {wall: pra.Material(alpha) for wall, alpha in zip(WALLS, alphas, strict=True)}
    order = math.ceil(duration_s * C / min(size_m)) + 1
    room = pra.ShoeBox(list(size_m), fs=RATE, materials=materials, max_order=order, air_absorption=False)
    room.add_source(list(SOURCE))
    room.add_microphone(list(ear))
    room.compute_rir()
    # Its fractional-delay filters begin 40 samples before each arrival.
    response = room.rir[0][0][pra.constants.get("frac_delay_length") // 2 :]
    n = round(duration_s * RATE)
    return np.pad(response, (0, max(n - response.size, 0)))[:n]


def mid_band(response):
    """Where both are meant to agree: above the high pass here, below both filters' edges at the top."""
    from scipy.signal import butter, sosfiltfilt

    return sosfiltfilt(butter(4, (250.0, 5000.0), btype="bandpass", fs=RATE, output="sos"), response)


def decay_db(response):
    energy = np.cumsum(response[::-1] ** 2)[::-1]
    return 10.0 * np.log10(energy / energy[0])


def t20_s(response):
    level_db = decay_db(response)
    fit = np.flatnonzero((level_db <= -5.0) & (level_db >= -25.0))
    return -60.0 / np.polyfit(fit / RATE, level_db[fit], 1)[0]


UNEVEN = (0.05, 0.30, 0.10, 0.20, 0.15, 0.40)


@pytest.mark.parametrize("alphas", [(0.2,) * 6, UNEVEN])
def test_the_early_response_is_the_twins_sample_by_sample(alphas):
    a, b = (mid_band(f((5.0, 4.4, 3.8), alphas, duration_s=0.12)) for f in (ours, theirs))
    assert np.corrcoef(a, b)[0, 1] > 0.98
    assert np.sum(a**2) == pytest.approx(np.sum(b**2), rel=0.03)


@pytest.mark.parametrize("alphas", [(0.2,) * 6, UNEVEN])
def test_the_whole_decay_is_the_twins(alphas):
    size_m, duration_s = (5.0, 4.4, 3.8), 0.6
    a, b = (mid_band(f(size_m, alphas, duration_s=duration_s)) for f in (ours, theirs))
    upper = slice(0, round(0.3 * RATE))
    assert np.max(np.abs(decay_db(a)[upper] - decay_db(b)[upper])) < 0.2
    assert t20_s(a) == pytest.approx(t20_s(b), rel=0.01)


def test_jitter_leaves_the_energy_of_the_decay_alone():
    size_m, duration_s = (5.0, 4.4, 3.8), 0.6
    still, moved = (
        mid_band(ours(size_m, (0.2,) * 6, duration_s=duration_s, jitter_m=jitter_m))
        for jitter_m in (0.0, 0.04)
    )
    assert t20_s(moved) == pytest.approx(t20_s(still), rel=0.05)
    assert np.sum(moved**2) == pytest.approx(np.sum(still**2), rel=0.15)


@pytest.mark.parametrize("alpha", [0.1, 0.2, 0.3])
def test_an_even_nearly_cubic_room_rings_no_shorter_than_eyring_and_at_most_a_tenth_longer(alpha):
    # In an empty box the sound that skims along a wall meets walls less often than the mean free path says,
    # so image sources ring somewhat longer than Eyring allows (E. A. Lehmann and A. M. Johansson, J. Acoust.
    # Soc. Am. 124 (2008) 269-277); both simulators gave 4 to 6 %.
    size_m = (4.7, 4.2, 3.9)
    volume_m3, surface_m2 = math.prod(size_m), 2 * (4.7 * 4.2 + 4.7 * 3.9 + 4.2 * 3.9)
    eyring_s = eyring_decay_time_s(
        volume_m3=volume_m3, surface_m2=surface_m2, mean_absorption=alpha, sound_speed=C
    )
    for simulate in (ours, theirs):
        times_s = [
            t20_s(mid_band(simulate(size_m, (alpha,) * 6, duration_s=0.9 * eyring_s, ear=ear)))
            for ear in (EAR, (3.1, 3.3, 2.9), (0.7, 3.5, 1.6))
        ]
        assert 0.99 <= np.mean(times_s) / eyring_s <= 1.1


def test_a_hard_even_room_decays_in_its_images_as_sabine_says():
    size_m, alpha = (4.7, 4.2, 3.9), 0.03
    volume_m3, surface_m2 = math.prod(size_m), 2 * (4.7 * 4.2 + 4.7 * 3.9 + 4.2 * 3.9)
    sabine_s = sabine_decay_time_s(volume_m3=volume_m3, absorption_area_m2=alpha * surface_m2, sound_speed=C)
    # The first 10 dB of the decay are enough here, and keep the number of images down.
    response = mid_band(ours(size_m, (alpha,) * 6, duration_s=0.5 * sabine_s))
    time_s = np.arange(response.size) / RATE
    # Energy in 20 ms blocks, whose level falls by 60 dB per decay time wherever the response is cut.
    n_block = round(0.02 * RATE)
    n = response.size // n_block
    blocks_db = 10.0 * np.log10(np.sum(response[: n * n_block].reshape(n, -1) ** 2, axis=1))
    late = time_s[::n_block][:n] > 0.1
    slope = np.polyfit(time_s[::n_block][:n][late], blocks_db[late], 1)[0]
    assert -60.0 / slope == pytest.approx(sabine_s, rel=0.08)


def test_a_room_with_one_soft_pair_of_walls_outlasts_eyring_in_both_simulations():
    # The known failure of the statistical formulas: sound between the hard walls never meets the soft ones.
    size_m, alphas = (6.0, 4.5, 2.8), (0.05, 0.05, 0.05, 0.05, 0.10, 0.80)
    areas = np.repeat([4.5 * 2.8, 6.0 * 2.8, 6.0 * 4.5], 2)
    eyring_s = eyring_decay_time_s(
        volume_m3=math.prod(size_m),
        surface_m2=float(areas.sum()),
        mean_absorption=float(areas @ alphas / areas.sum()),
        sound_speed=C,
    )
    a, b = (t20_s(mid_band(f(size_m, alphas, duration_s=0.9))) for f in (ours, theirs))
    assert a == pytest.approx(b, rel=0.02)
    assert a > 1.5 * eyring_s


def test_late_energy_against_direct_is_what_the_diffuse_field_says():
    # Kuttruff, "Room Acoustics", chapter 5: the reverberant over the direct energy is 16 pi r^2 / A, less
    # what has decayed before the direct sound comes (M. Barron and L.-J. Lee, J. Acoust. Soc. Am. 84 (1988)
    # 618-628).
    # Within 1.5 dB, mean over spots, for this is a box and not a diffuse field.
    size_m, alpha = (4.7, 4.2, 3.9), 0.15
    surface_m2 = 2 * (4.7 * 4.2 + 4.7 * 3.9 + 4.2 * 3.9)
    eyring_s = eyring_decay_time_s(
        volume_m3=math.prod(size_m), surface_m2=surface_m2, mean_absorption=alpha, sound_speed=C
    )
    area_m2 = 24.0 * math.log(10.0) * math.prod(size_m) / (C * eyring_s)
    differences_db = []
    for ear in (EAR, (3.1, 3.3, 2.9), (0.7, 3.5, 1.6), (4.0, 0.9, 3.0)):
        response = mid_band(ours(size_m, (alpha,) * 6, duration_s=1.2 * eyring_s, jitter_m=0.04, ear=ear))
        distance_m = math.dist(SOURCE, ear)
        split = round((distance_m / C + 0.001) * RATE)
        # Energy of a lone impulse through the same band.
        lone = np.zeros(4096)
        lone[2048] = 1.0 / distance_m
        direct = np.sum(mid_band(lone) ** 2)
        expected = 16.0 * math.pi * distance_m**2 / area_m2 * 10.0 ** (-6.0 * distance_m / C / eyring_s)
        differences_db.append(10.0 * math.log10(np.sum(response[split:] ** 2) / direct / expected))
    assert np.mean(differences_db) == pytest.approx(0.0, abs=1.5)
