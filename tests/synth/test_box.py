"""The simulated box room: arrivals, levels and decays. All rooms here are invented."""

import itertools

import numpy as np
import pytest

from roomir.bands.band import OCTAVES
from roomir.errors import ParameterError
from roomir.rooms.statistics import eyring_decay_time_s
from roomir.synth.box import BoxRoom, DiffuseTail, box_response, octave_crossfades

RATE = 48_000
C = 343.2
SOURCE, EAR = (1.3, 1.1, 1.4), (3.9, 2.7, 1.1)


def box(alpha=0.2, *, size_m=(5.0, 4.0, 3.0), **surfaces):
    walls = dict.fromkeys(("west", "east", "south", "north", "floor", "ceiling"), (alpha,) * 8)
    return BoxRoom(length_m=size_m[0], width_m=size_m[1], height_m=size_m[2], **(walls | surfaces))


def respond(room, *, seed=0, **options):
    settings = {
        "source_m": SOURCE,
        "microphone_m": EAR,
        "sample_rate_hz": RATE,
        "duration_s": 0.3,
        "sound_speed_m_per_s": C,
    }
    return box_response(room, rng=np.random.default_rng(seed), **(settings | options))


def decay_db(response):
    energy = np.cumsum(response[::-1] ** 2)[::-1]
    return 10.0 * np.log10(energy / energy[0])


def fall_time_s(response, *, rate=RATE):
    level_db = decay_db(response)
    fit = np.flatnonzero((level_db <= -5.0) & (level_db >= -35.0))
    return -60.0 / np.polyfit(fit / rate, level_db[fit], 1)[0]


def octave_of(response, band, *, rate=RATE):
    """A plain zero-phase octave, no part of roomir."""
    from scipy.signal import butter, sosfiltfilt

    sos = butter(3, (band.low_hz, min(band.high_hz, 0.49 * rate)), btype="bandpass", fs=rate, output="sos")
    return sosfiltfilt(sos, response)


def pulse_height(response, *, at):
    """Strength of a lone impulse near a sample, from its energy.

    A squared raised cosine over the top tenth of the spectrum leaves 0.9375 of an impulse's energy.
    """
    return float(np.sqrt(np.sum(response[at - 16 : at + 16] ** 2) / 0.9375))


@pytest.mark.parametrize("ear", [(2.3, 1.1, 1.4), (3.3, 1.1, 1.4), (4.0, 2.9, 2.2)])
def test_direct_sound_arrives_on_time_and_falls_with_distance(ear):
    distance_m = np.linalg.norm(np.subtract(ear, SOURCE))
    response = respond(box(0.95), microphone_m=ear)
    peak = int(np.argmax(np.abs(response)))
    assert peak == pytest.approx(distance_m / C * RATE, abs=1.0)
    assert pulse_height(response, at=peak) == pytest.approx(1.0 / distance_m, rel=0.02)


@pytest.mark.parametrize("wall", ["west", "east", "south", "north", "floor", "ceiling"])
def test_each_wall_reflects_from_where_its_mirror_stands(wall):
    index = ("west", "east", "south", "north", "floor", "ceiling").index(wall)
    axis, far = divmod(index, 2)
    room = box(0.9999, **{wall: (0.36,) * 8})
    mirrored = list(SOURCE)
    mirrored[axis] = 2.0 * far * room.size_m[axis] - SOURCE[axis]
    distance_m = float(np.linalg.norm(np.subtract(mirrored, EAR)))
    # (1 - 0.36)^0.5 = 0.8 of the pressure is left after one reflection.
    height = pulse_height(respond(room, jitter_m=0.0), at=round(distance_m / C * RATE))
    assert height == pytest.approx(0.8 / distance_m, rel=0.05)


def test_images_agree_with_the_slow_and_obvious_sum_over_mirrors():
    room = box(
        0.1,
        west=tuple(np.linspace(0.1, 0.5, 8)),
        floor=tuple(np.linspace(0.6, 0.1, 8)),
        north=(0.3,) * 8,
    )
    keep = np.sqrt(1.0 - room.absorption)
    n_frames, octave = 1600, 4
    slow = np.zeros(n_frames)
    orders = range(-4, 5)
    for n, flip in itertools.product(
        itertools.product(orders, repeat=3), itertools.product((0, 1), repeat=3)
    ):
        offset = [(1 - 2 * flip[a]) * SOURCE[a] + 2 * n[a] * room.size_m[a] - EAR[a] for a in range(3)]
        distance_m = float(np.linalg.norm(offset))
        strength = 1.0 / distance_m
        for a in range(3):
            strength *= keep[2 * a, octave] ** abs(n[a] - flip[a]) * keep[2 * a + 1, octave] ** abs(n[a])
        at = round(distance_m / C * RATE)
        if at < n_frames:
            slow[at] += strength
    fast = respond(room, jitter_m=0.0, duration_s=n_frames / RATE)
    a, b = (octave_of(x, OCTAVES[octave]) for x in (slow, fast))
    # The neighbouring octaves' own factors and the slow sum's whole samples leave a difference.
    assert np.corrcoef(a, b)[0, 1] > 0.98
    assert np.sum(b**2) == pytest.approx(np.sum(a**2), rel=0.08)


def test_crossfades_sum_to_one_and_peak_at_the_octaves():
    frequency_hz = np.concatenate([[0.0, 1.0], np.geomspace(10.0, 24_000.0, 500)])
    weights = octave_crossfades(frequency_hz)
    assert weights.sum(axis=0) == pytest.approx(np.ones(frequency_hz.size), abs=1e-12)
    assert weights.min() >= -1e-12
    at_centres = octave_crossfades(np.array([band.exact_hz for band in OCTAVES]))
    assert at_centres == pytest.approx(np.eye(8), abs=1e-9)


def test_each_octave_decays_with_its_own_tail():
    times_s = (0.9, 0.8, 0.7, 0.6, 0.5, 0.4, 0.35, 0.3)
    room = box(0.15)
    tail = DiffuseTail(from_s=0.02, full_s=0.05, decay_time_s=times_s)
    responses = [respond(room, seed=seed, duration_s=1.2, tail=tail) for seed in range(6)]
    # Six responses: 3 standard errors of T30 (0.55 (B T)^-0.5 each, ISO 3382-2:2008, clause 7), and 4 %
    # because within an octave the time runs from one centre's to the next.
    for band, time_s in zip(OCTAVES, times_s, strict=True):
        mean_s = np.mean([fall_time_s(octave_of(response, band)) for response in responses])
        scatter = 0.55 / np.sqrt(band.width_hz * time_s) / np.sqrt(6)
        assert mean_s == pytest.approx(time_s, rel=0.04 + 3.0 * scatter)


def test_a_tail_of_one_decay_time_decays_with_it():
    tail = DiffuseTail(from_s=0.005, full_s=0.01, decay_time_s=(0.5,) * 8)
    times_s = [fall_time_s(respond(box(0.3), seed=seed, duration_s=0.8, tail=tail)) for seed in range(4)]
    # 20 kHz of bandwidth: 0.3 % standard error of the mean (0.55 (B T)^-0.5, ISO 3382-2:2008, clause 7).
    assert np.mean(times_s) == pytest.approx(0.5, rel=0.012)


def test_the_tail_takes_over_without_a_step():
    room = box(0.2, size_m=(4.6, 4.0, 3.7))
    eyring_s = eyring_decay_time_s(
        volume_m3=room.volume_m3, surface_m2=room.surface_m2, mean_absorption=0.2, sound_speed=C
    )
    tail = DiffuseTail(from_s=0.04, full_s=0.09, decay_time_s=(eyring_s,) * 8)
    ratios_db = []
    for seed in range(4):
        images = respond(room, seed=seed, duration_s=0.4, jitter_m=0.0)
        carried = respond(room, seed=seed, duration_s=0.4, jitter_m=0.0, tail=tail)
        stretch = slice(int(0.09 * RATE), int(0.2 * RATE))
        ratios_db.append(10.0 * np.log10(np.sum(carried[stretch] ** 2) / np.sum(images[stretch] ** 2)))
        before = slice(0, int(0.03 * RATE))
        assert carried[before] == pytest.approx(images[before], abs=1e-3)
    assert np.mean(ratios_db) == pytest.approx(0.0, abs=1.0)


def test_the_same_seed_gives_the_same_room_and_another_gives_another():
    tail = DiffuseTail(from_s=0.02, full_s=0.05, decay_time_s=(0.5,) * 8)
    first, again, other = (respond(box(), seed=seed, tail=tail) for seed in (7, 7, 8))
    assert np.array_equal(first, again)
    assert not np.allclose(first, other)


def test_jitter_breaks_up_the_flutter_of_a_perfect_box():
    # Halfway between two hard walls the images pile up in pairs at every pass.
    room = box(0.02, size_m=(4.0, 4.0, 4.0))
    spot = {"source_m": (2.0, 2.0, 1.7), "microphone_m": (2.0, 2.0, 2.2)}
    regular = respond(room, jitter_m=0.0, **spot)[2000:]
    broken = respond(room, jitter_m=0.08, **spot)[2000:]
    crest = [np.max(np.abs(x)) / np.std(x) for x in (regular, broken)]
    assert crest[1] < 0.75 * crest[0]


def test_air_takes_the_decibels_it_is_told_to():
    far = {"source_m": (0.5, 0.5, 1.0), "microphone_m": (29.0, 19.0, 5.0)}
    room = box(0.98, size_m=(30.0, 20.0, 6.0))
    distance_m = float(np.linalg.norm(np.subtract(far["source_m"], far["microphone_m"])))
    plain = respond(room, duration_s=0.11, **far)
    damped = respond(room, duration_s=0.11, air_db_per_m=(0.0,) * 6 + (0.1, 0.1), **far)
    lost_db = 10.0 * np.log10(
        np.sum(octave_of(plain, OCTAVES[7]) ** 2) / np.sum(octave_of(damped, OCTAVES[7]) ** 2)
    )
    assert lost_db == pytest.approx(0.1 * distance_m, abs=0.2)


def test_the_room_has_the_volume_surface_and_mean_absorption_of_its_box():
    room = box(0.1, floor=(0.5,) * 8)
    assert room.volume_m3 == pytest.approx(60.0)
    assert room.surface_m2 == pytest.approx(94.0)
    assert room.mean_absorption == pytest.approx(np.full(8, (74.0 * 0.1 + 20.0 * 0.5) / 94.0))


@pytest.mark.parametrize(
    "options",
    [
        {"source_m": (5.1, 1.0, 1.0)},
        {"microphone_m": (1.0, 0.0, 1.0)},
        {"microphone_m": (1.0, float("nan"), 1.0)},
        {"microphone_m": SOURCE},
        {"tail": DiffuseTail(from_s=0.05, full_s=0.05, decay_time_s=(0.5,) * 8)},
    ],
)
def test_a_response_that_no_room_can_give_is_refused(options):
    with pytest.raises(ParameterError):
        respond(box(), **options)


@pytest.mark.parametrize("alpha", [-0.1, 1.0, float("nan")])
def test_a_surface_that_absorbs_more_than_everything_is_refused(alpha):
    with pytest.raises(ParameterError, match="absorption"):
        box(floor=(alpha,) * 8)


@pytest.mark.parametrize("size_m", [(0.0, 4.0, 3.0), (5.0, -4.0, 3.0), (5.0, 4.0, float("inf"))])
def test_a_box_without_room_inside_is_refused(size_m):
    with pytest.raises(ParameterError, match="size"):
        box(size_m=size_m)


def test_a_surface_needs_its_eight_octaves():
    with pytest.raises(ParameterError, match="eight"):
        box(floor=(0.1,) * 6)
