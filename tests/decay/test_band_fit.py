"""Decays heard through the filters: times, levels and slopes come back. All rooms invented."""

from dataclasses import replace

import numpy as np
import pytest

from roomir.decay.combine import own_estimates
from tests.decays import (
    FILTER,
    HEARD_HZ,
    HEARD_RATE_HZ,
    claps_in_spots,
    fit_of,
    hear,
    model_of,
    noise_decay,
    trace_of,
)

# What the T30 of the average over endless realisations of 0.5 s and 1.0 s at -12 dB is (closed form).
TWO_SLOPES_T30_S = 0.778


def times_s(room):
    return np.array([room.estimates[hz].decay_time_s for hz in HEARD_HZ])


def mean_over_rooms(n_rooms, *, seed, **which):
    """Mean decay time by band over several rooms of six spots, and its standard error."""
    times = [
        times_s(hear(claps_in_spots(np.random.default_rng(seed + i), n_spots=6, **which)))
        for i in range(n_rooms)
    ]
    return np.mean(times, axis=0), np.std(times, axis=0, ddof=1) / np.sqrt(n_rooms)


@pytest.mark.parametrize(("time_s", "background_db"), [(0.25, -50.0), (0.5, -35.0), (1.2, -50.0)])
def test_the_decay_time_comes_back_without_bias(time_s, background_db):
    mean_s, error_s = mean_over_rooms(4, seed=10, decay_time_s=time_s, background_db=background_db)
    assert np.all(np.abs(mean_s / time_s - 1.0) < 0.01 + 3.5 * error_s / time_s)


@pytest.mark.parametrize("direct_db", [-6.0, 6.0, 12.0])
def test_a_strong_direct_sound_does_not_shorten_the_decay(direct_db):
    # A fit that starts before the onset is 12 % low with a direct sound 6 dB over the reverberant field.
    without_s, _ = mean_over_rooms(3, seed=20)
    with_s, _ = mean_over_rooms(3, seed=20, direct_db=direct_db)
    assert with_s == pytest.approx(without_s, rel=0.01)


def test_first_reflections_do_not_shorten_the_decay():
    mean_s, error_s = mean_over_rooms(5, seed=30, direct_db=6.0, n_early=8)
    assert np.all(np.abs(mean_s / 0.5 - 1.0) < 0.02 + 3.5 * error_s / 0.5)


def test_two_slopes_are_found_where_they_can_be_seen():
    times = []
    for seed in range(4):
        room = hear(
            claps_in_spots(
                np.random.default_rng(40 + seed),
                n_spots=4,
                second=(1.0, -12.0),
                background_db=-60.0,
                duration_s=1.6,
            )
        )
        for hz in (500.0, 1000.0, 2000.0):
            assert room.fits[hz].n_slopes == 2
            assert room.fits[hz].joint.model(0).decay_times_s == pytest.approx((0.5, 1.0), rel=0.15)
        times.append(times_s(room)[2:])
    assert np.mean(times, axis=0) == pytest.approx(np.full(3, TWO_SLOPES_T30_S), rel=0.03)


def test_one_slope_stays_one():
    # By chance one straight decay in a hundred may look bent, which must hardly move its time.
    bent = 0
    for seed in range(8):
        room = hear(claps_in_spots(np.random.default_rng(50 + seed), n_spots=2))
        for hz in HEARD_HZ[1:]:
            bent += room.fits[hz].n_slopes - 1
            assert room.estimates[hz].decay_time_s == pytest.approx(0.5, rel=0.15)
    assert bent <= 2


def test_with_little_range_a_second_slope_is_not_called():
    for seed in range(3):
        sounds = claps_in_spots(
            np.random.default_rng(60 + seed), n_spots=2, second=(1.0, -25.0), background_db=-25.0
        )
        assert all(fit.n_slopes == 1 for fit in hear(sounds).fits.values())


def test_the_range_is_that_of_the_reverberation_not_of_the_peak():
    rng = np.random.default_rng(70)
    plain = hear(claps_in_spots(rng, n_spots=6, background_db=-45.0))
    rng = np.random.default_rng(70)
    direct = hear(claps_in_spots(rng, n_spots=6, background_db=-45.0, direct_db=12.0))
    for hz in (500.0, 1000.0, 2000.0):
        ranges = [
            np.median([fit.model(row).range_db(from_s=0.0, end_s=1.0) for row in range(6)])
            for fit in (plain.fits[hz], direct.fits[hz])
        ]
        # The loudness of the claps differs by up to 3 dB either way.
        assert ranges[0] == pytest.approx(45.0, abs=3.0)
        assert ranges[1] == pytest.approx(ranges[0], abs=0.5)


def test_a_decay_into_digital_silence_is_read():
    # A gate, or a simulation without background: exact zeros behind the decay.
    rng = np.random.default_rng(80)
    sounds = []
    for _ in range(4):
        sound = noise_decay(rng, decay_time_s=0.5, sample_rate_hz=HEARD_RATE_HZ, duration_s=0.6)
        sounds.append(np.concatenate([sound, np.zeros(HEARD_RATE_HZ)]))
    room = hear(sounds)
    for hz in HEARD_HZ[1:]:
        found = room.estimates[hz]
        assert found.decay_time_s == pytest.approx(0.5, rel=0.12)
        assert np.isfinite(found.ci95_s).all()


def test_an_endless_decay_without_background_is_read():
    fit = fit_of([trace_of(model_of((0.5, 0.0)), end_s=3.0)], nominal_hz=1000.0)
    assert fit.model(0).decay_times_s[0] == pytest.approx(0.5, rel=1e-3)
    assert own_estimates(fit)[0].decay_time_s == pytest.approx(0.5, rel=1e-3)


def test_a_decay_that_is_cut_off_keeps_its_slope_and_is_called_cut_off():
    off = []
    for seed in range(6):
        room = hear(
            claps_in_spots(
                np.random.default_rng(90 + seed),
                n_spots=4,
                decay_time_s=1.5,
                duration_s=0.75,
                background_db=-60.0,
            )
        )
        for hz in (500.0, 1000.0, 2000.0):
            fit = room.fits[hz]
            cut_off = [fit.model(row).is_cut_off(trace.end_s) for row, trace in enumerate(fit.traces)]
            # The last blocks of one clap may by chance look like a background.
            assert sum(cut_off) >= 3
        off.append(times_s(room)[2:] / 1.5 - 1.0)
    assert np.mean(off, axis=0) == pytest.approx(np.zeros(3), abs=0.04)


@pytest.mark.parametrize("gain_db", [-70.0, 40.0])
def test_gain_changes_nothing_but_the_level(gain_db):
    sounds = claps_in_spots(np.random.default_rng(100), n_spots=3)
    gain = 10.0 ** (gain_db / 20.0)
    plain, moved = hear(sounds), hear([gain * sound for sound in sounds])
    assert times_s(moved) == pytest.approx(times_s(plain), rel=1e-5)
    for hz in HEARD_HZ:
        assert moved.estimates[hz].ci95_s == pytest.approx(plain.estimates[hz].ci95_s, rel=1e-4)
        levels = [10.0 * np.log10(room.fits[hz].model(0).levels[0]) for room in (plain, moved)]
        assert levels[1] - levels[0] == pytest.approx(gain_db, abs=0.01)


def test_a_band_without_a_decay_has_no_fit():
    rng = np.random.default_rng(110)
    hiss = [rng.standard_normal(8000) for _ in range(2)]
    assert all(fit is None for fit in hear(hiss).fits.values())


def test_a_sound_too_short_for_any_block_has_no_fit():
    trace = trace_of(model_of((0.5, 0.0)), end_s=0.02)
    assert fit_of([trace], nominal_hz=125.0) is None


def test_a_faint_clap_is_left_out_of_the_bands_it_does_not_show_in():
    loud, faint = claps_in_spots(np.random.default_rng(120), n_spots=2, background_db=-45.0)
    hiss = np.random.default_rng(121).standard_normal(faint.shape) * 10.0 ** (-45.0 / 20.0)
    room = hear([loud, 10.0 ** (-60.0 / 20.0) * faint + hiss])
    assert room.fits[1000.0].rows.tolist() == [0]


def test_a_clap_whose_rate_cannot_carry_a_band_is_left_out_there():
    from roomir.decay.band_fit import fit_bands

    models = [model_of((0.5, 0.0), noise_db=-50.0), model_of((0.5, -3.0), noise_db=-50.0)]
    traces = [trace_of(model, end_s=1.3) for model in models]
    fits = fit_bands([[traces[0], None], [traces[1], traces[1]]], filters=[FILTER[500.0], FILTER[4000.0]])
    assert fits[0].rows.tolist() == [0, 1]
    assert fits[1].rows.tolist() == [1]


def test_channels_that_are_worth_more_narrow_the_interval():
    one = trace_of(model_of((0.5, 0.0), noise_db=-50.0), end_s=1.3)
    two = replace(one, channels_worth=2.0)
    widths = []
    for trace in (one, two):
        low_s, high_s = own_estimates(fit_of([trace], nominal_hz=500.0))[0].spot_ci95_s
        widths.append(np.log(high_s / low_s))
    assert widths[0] / widths[1] == pytest.approx(np.sqrt(2.0), rel=0.02)
