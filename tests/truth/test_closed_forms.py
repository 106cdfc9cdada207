"""Decays whose quantities have closed forms, read as ISO 3382 wants it.

Sources: ISO 3382-1:2009, 5.3 (backward integration, evaluation ranges) and A.2 (EDT, clarity, definition,
centre time); ISO 3382-2:2008, Annex B (non-linearity, curvature); the treatments of the background after
Guski and Vorlaender, Acta Acustica 100 (2014). The tabulated figures are computed from the stated formulas
in double precision, apart from this library, and are no published values; where one is, it says so.
"""

from dataclasses import replace

import numpy as np
import pytest

from roomir.decay.combine import own_estimates
from roomir.decay.curve import (
    EDT_DB,
    T20_DB,
    T30_DB,
    fit_line,
    integrate_backwards,
    read_curve,
)
from roomir.decay.model import log_decay_time
from tests.decays import LN_60_DB, OCTAVE, curve_of, fit_of, lead_of, model_of, trace_in, trace_of

WIDE_HZ = 1e5
"""A bandwidth so wide that no smear before the onset is waited for."""

T10_DB = (-5.0, -15.0)


def read(model, *, end_s, decay_range_db=100.0):
    """Quantities of a decay that is exactly its model."""
    trace = trace_of(model, end_s=end_s)
    curve = integrate_backwards(trace, model=model, width_hz=WIDE_HZ)
    return read_curve(curve, trace=trace, model=model, width_hz=WIDE_HZ, decay_range_db=decay_range_db)


def left_behind(first_s, second_s, second_db):
    """Model whose backward-integrated curve is exp(1) + 10^(second_db / 10) exp(2)."""
    return model_of((first_s, 0.0), (second_s, second_db + 10.0 * np.log10(first_s / second_s)))


@pytest.mark.parametrize("time_s", [0.2, 0.5, 1.0, 2.5])
@pytest.mark.parametrize("noise_db", [None, -60.0, -46.0])
def test_a_pure_exponential_reads_its_own_time_in_every_stretch(time_s, noise_db):
    found = read(model_of((time_s, 0.0), noise_db=noise_db), end_s=2.0 * time_s)
    for value in (found.edt_s, found.t20_s, found.t30_s):
        assert value == pytest.approx(time_s, rel=2e-4)
    assert found.nonlinearity_permille == pytest.approx(0.0, abs=0.01)
    assert found.curvature_percent == pytest.approx(0.0, abs=0.02)


@pytest.mark.parametrize(
    ("slopes", "edt_s", "t10_s", "t20_s", "t30_s", "curvature_percent", "nonlinearity_permille"),
    [
        ((0.5, 1.0, -15.0), 0.5143, 0.5255, 0.5505, 0.6050, 9.90, 4.28),
        ((0.4, 0.8, -10.0), 0.4351, 0.4619, 0.5181, 0.5972, 15.27, 8.39),
        ((0.3, 1.0, -20.0), 0.3050, 0.3115, 0.3348, 0.4501, 34.44, 30.6),
        ((0.3, 0.6, -30.0), 0.3003, 0.3005, 0.3010, 0.3020, 0.33, 0.01),
    ],
)
@pytest.mark.parametrize("noise_db", [None, -70.0])
def test_two_slopes_read_what_the_curve_says(
    slopes, edt_s, t10_s, t20_s, t30_s, curvature_percent, nonlinearity_permille, noise_db
):
    # Computed. ISO 3382-2:2008, Annex B: curvature above 10 %, non-linearity above 10 permille are suspect.
    decay = left_behind(*slopes)
    model = replace(decay, noise=0.0 if noise_db is None else 10.0 ** (noise_db / 10.0))
    found = read(model, end_s=4.0 * slopes[1])
    assert found.edt_s == pytest.approx(edt_s, abs=3e-4)
    assert found.t20_s == pytest.approx(t20_s, abs=3e-4)
    assert found.t30_s == pytest.approx(t30_s, abs=3e-4)
    assert found.curvature_percent == pytest.approx(curvature_percent, abs=0.06)
    assert found.nonlinearity_permille == pytest.approx(nonlinearity_permille, rel=0.01, abs=0.01)
    trace = trace_of(model, end_s=4.0 * slopes[1])
    curve = integrate_backwards(trace, model=model, width_hz=WIDE_HZ)
    assert fit_line(curve, stretch_db=T10_DB).decay_time_s == pytest.approx(t10_s, abs=3e-4)


@pytest.mark.parametrize(
    ("slopes", "t30_s"),
    [
        ((0.5, 1.0, -15.0), 0.6050),
        ((0.4, 0.8, -10.0), 0.5972),
        ((0.3, 1.0, -20.0), 0.4501),
        ((0.3, 0.6, -30.0), 0.3020),
    ],
)
def test_the_time_of_two_fitted_slopes_is_the_t30_of_their_curve(slopes, t30_s):
    first_s, second_s, second_db = slopes
    rates = LN_60_DB / np.array([first_s, second_s])
    ratio = second_db / 10.0 * np.log(10.0) + np.log(rates[1] / rates[0])
    assert np.exp(log_decay_time(np.array([*np.log(rates), ratio]))) == pytest.approx(t30_s, abs=3e-4)


def test_the_same_levels_as_envelope_and_as_curve_are_told_apart():
    # Computed: 0.3 s and 1.0 s at -20 dB read 0.4501 s as a curve, but 0.6735 s as squared envelope: there
    # the slower part weighs more than three times as much in the curve.
    rates = LN_60_DB / np.array([0.3, 1.0])
    as_envelope_s = np.exp(log_decay_time(np.array([*np.log(rates), -2.0 * np.log(10.0)])))
    assert as_envelope_s == pytest.approx(0.6735, rel=2e-3)


def test_one_slope_has_its_own_time():
    assert np.exp(log_decay_time(np.log([LN_60_DB / 0.7]))) == pytest.approx(0.7, rel=1e-12)


def test_a_room_that_feeds_an_equal_one_rings_a_fifth_longer():
    # E(t) = (1 + x) exp(-x), x = 13.8155 t. Published: 20.8 % longer (F. A. Everest, The Master Handbook of
    # Acoustics, on coupled rooms). That holds for the whole 60 dB; the lines over shorter falls are computed.
    time_s = np.linspace(0.0, 2.0, 20_001)
    x = LN_60_DB * time_s
    curve = curve_of((1.0 + x) * np.exp(-x), time_s)
    assert np.interp(60.0, -curve.level_db, time_s) == pytest.approx(1.208, abs=5e-4)
    edt, t20, t30 = (fit_line(curve, stretch_db=part).decay_time_s for part in (EDT_DB, T20_DB, T30_DB))
    assert (edt, t20, t30) == pytest.approx((1.604, 1.2045, 1.1680), abs=5e-4)
    assert 100.0 * (t30 / t20 - 1.0) == pytest.approx(-3.03, abs=0.02)


@pytest.mark.parametrize(
    ("time_s", "c50_db", "c80_db", "d50", "ts_s"),
    [
        (0.2, 14.86, 23.98, 0.9684, 0.01448),
        (0.3, 9.54, 15.89, 0.9000, 0.02171),
        (0.4, 6.65, 11.72, 0.8222, 0.02895),
        (0.5, 4.74, 9.10, 0.7488, 0.03619),
        (1.0, -0.02, 3.05, 0.4988, 0.07238),
        (2.0, -3.85, -1.32, 0.2921, 0.14476),
    ],
)
@pytest.mark.parametrize("noise_db", [None, -50.0])
def test_early_and_late_energy_of_an_exponential(time_s, c50_db, c80_db, d50, ts_s, noise_db):
    # Computed: C = 10 lg(exp(13.8155 te/T) - 1), D50 = 1 - exp(-13.8155 * 0.05/T), Ts = T/13.8155.
    found = read(model_of((time_s, 0.0), noise_db=noise_db), end_s=2.0 * time_s)
    assert found.c50_db == pytest.approx(c50_db, abs=0.01)
    assert found.c80_db == pytest.approx(c80_db, abs=0.01)
    assert found.d50 == pytest.approx(d50, abs=2e-4)
    assert found.ts_s == pytest.approx(ts_s, abs=5e-5)


@pytest.mark.parametrize(("fall_db", "in_s", "time_s"), [(30.0, 0.27, 0.540), (30.0, 0.20, 0.400)])
def test_a_handbooks_fall_is_the_decay_time_that_follows_from_it(fall_db, in_s, time_s):
    # 30 dB in 0.27 s and in 0.20 s: Sound System Design Reference Manual, section 5, on reverberation.
    time = np.linspace(0.0, 2.0 * in_s, 2001)
    curve = curve_of(10.0 ** (-fall_db * time / in_s / 10.0), time)
    assert fit_line(curve, stretch_db=T30_DB).decay_time_s == pytest.approx(time_s, rel=1e-9)


# --- truncation and background -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("cut_db", "edt", "t10", "t20", "t30"),
    [
        (30.0, -0.36, -1.12, -4.48, None),
        (35.0, -0.11, -0.36, -1.56, -6.00),
        (40.0, -0.04, -0.11, -0.51, -2.42),
        (45.0, -0.01, -0.04, -0.16, -0.85),
        (50.0, 0.00, -0.01, -0.05, -0.28),
    ],
)
def test_a_tail_cut_off_shortens_a_decay_and_putting_it_back_mends_it(cut_db, edt, t10, t20, t30):
    # Errors in percent of a pure decay cut off without compensation, computed (ISO 3382-1:2009, 5.3.3).
    time_s = np.linspace(0.0, cut_db / 60.0, 100_001)
    cut = curve_of(np.maximum(np.exp(-LN_60_DB * time_s) - np.exp(-LN_60_DB * time_s[-1]), 0.0), time_s)
    for error_percent, part in ((edt, EDT_DB), (t10, T10_DB), (t20, T20_DB), (t30, T30_DB)):
        if error_percent is not None:
            untreated_s = fit_line(cut, stretch_db=part).decay_time_s
            assert 100.0 * (untreated_s - 1.0) == pytest.approx(error_percent, abs=0.02)
    # The library's own curve, cut at the same place.
    model = model_of((1.0, 0.0))
    trace = trace_of(model, end_s=cut_db / 60.0)
    curve = integrate_backwards(trace, model=model, width_hz=WIDE_HZ)
    reach = (EDT_DB, T10_DB, T20_DB, T30_DB)[: 4 if cut_db > 35.0 else 3]
    for part in reach:
        assert fit_line(curve, stretch_db=part).decay_time_s == pytest.approx(1.0, rel=2e-4)


def untreated(*, time_s, noise_db, end_s):
    """Backward integral with the background left in and nothing put back."""
    rate, noise = LN_60_DB / time_s, 10.0 ** (noise_db / 10.0)
    at_s = np.linspace(0.0, end_s, 200_001)
    return curve_of((np.exp(-rate * at_s) - np.exp(-rate * end_s)) / rate + noise * (end_s - at_s), at_s)


@pytest.mark.parametrize(
    ("noise_db", "end", "edt", "t20", "t30"),
    [
        (-35.0, 1.0, 1.3, 21.0, 90.0),
        (-40.0, 1.0, 0.41, 4.9, 37.0),
        (-45.0, 1.0, 0.13, 1.43, 7.35),
        (-45.0, 1.5, 0.21, 2.71, 37.4),
        (-45.0, 2.0, 0.29, 4.10, 170.0),
        (-50.0, 2.0, 0.09, 1.20, 8.76),
        (-60.0, 2.0, 0.01, 0.12, 0.59),
    ],
)
def test_background_left_in_lengthens_the_decay_and_taken_out_does_not(noise_db, end, edt, t20, t30):
    # Errors in percent for T = 1 s, record of `end` T, computed:
    # E = (exp(-kt) - exp(-k te))/k + N (te - t).
    curve = untreated(time_s=1.0, noise_db=noise_db, end_s=end)
    for error_percent, part in ((edt, EDT_DB), (t20, T20_DB), (t30, T30_DB)):
        error = 100.0 * (fit_line(curve, stretch_db=part).decay_time_s - 1.0)
        assert error == pytest.approx(error_percent, rel=0.02, abs=0.06)
    found = read(model_of((1.0, 0.0), noise_db=noise_db), end_s=end)
    assert found.edt_s == pytest.approx(1.0, rel=1e-3)
    assert found.t20_s == pytest.approx(1.0, rel=1e-3)
    if noise_db <= -40.0:
        assert found.t30_s == pytest.approx(1.0, rel=1e-3)


def test_of_the_treatments_of_the_background_the_one_used_leaves_no_error():
    # T = 0.5 s, record of 2 s, 45 dB above a steady background; every row computed.
    time_s, end_s, rate, noise = 0.5, 2.0, LN_60_DB / 0.5, 10.0**-4.5
    cross_s = -np.log(noise) / rate

    def times(curve):
        return tuple(fit_line(curve, stretch_db=part).decay_time_s for part in (EDT_DB, T20_DB, T30_DB))

    assert times(untreated(time_s=time_s, noise_db=-45.0, end_s=end_s)) == pytest.approx(
        (0.5030, 0.5568, 6.39), rel=2e-3
    )
    cut = untreated(time_s=time_s, noise_db=-45.0, end_s=cross_s)
    assert times(cut) == pytest.approx((0.5004, 0.5033, 0.5085), abs=2e-4)
    at_s = np.linspace(0.0, cross_s, 200_001)
    put_back = np.exp(-rate * at_s) / rate + noise * (cross_s - at_s)
    assert times(curve_of(put_back, at_s)) == pytest.approx((0.5005, 0.5041, 0.5136), abs=2e-4)

    model = model_of((time_s, 0.0), noise_db=-45.0)
    used = integrate_backwards(trace_of(model, end_s=end_s), model=model, width_hz=WIDE_HZ)
    assert used.time_s[-1] == pytest.approx(cross_s, abs=2e-4)
    assert times(used) == pytest.approx((0.5, 0.5, 0.5), abs=5e-5)


@pytest.mark.parametrize("noise_db", [-50.0, -30.0, -70.0])
@pytest.mark.parametrize("time_s", [0.3, 1.2])
def test_a_fit_to_the_expectation_finds_decay_and_background(time_s, noise_db):
    # Not noise but its expectation: the likelihood is greatest at the truth.
    model = model_of((time_s, 0.0), noise_db=noise_db)
    fit = fit_of([trace_of(model, end_s=2.0 * time_s + 0.4)], nominal_hz=1000.0)
    found = fit.model(0)
    assert found.n_slopes == 1
    assert found.decay_times_s[0] == pytest.approx(time_s, rel=1e-3)
    assert 10.0 * np.log10(found.levels[0]) == pytest.approx(0.0, abs=0.05)
    assert 10.0 * np.log10(found.noise) == pytest.approx(noise_db, abs=0.3)
    assert own_estimates(fit)[0].decay_time_s == pytest.approx(time_s, rel=1e-3)


# --- through a filter --------------------------------------------------------------------------------------


def decaying_tone(hz, *, time_s, rate_hz, duration_s):
    """A tone that falls by 60 dB in ``time_s``: its band's envelope is exactly exponential."""
    at_s = np.arange(round(duration_s * rate_hz)) / rate_hz
    tone = np.exp(-0.5 * LN_60_DB * at_s / time_s) * np.sin(2.0 * np.pi * hz * at_s)
    return np.concatenate([np.zeros(lead_of(rate_hz)), tone])


@pytest.mark.parametrize("beside", [0.8, 1.0, 1.3])
@pytest.mark.parametrize(
    ("nominal_hz", "time_s"), [(63.0, 0.4), (125.0, 0.2), (1000.0, 0.025), (1000.0, 0.5)]
)
def test_a_decay_of_bt_16_or_more_keeps_its_slope_through_the_filter(nominal_hz, time_s, beside):
    # A filter run backwards keeps an exponential exponential (F. Jacobsen and J. H. Rindel, J. Sound Vib. 117
    # (1987) 187-190). Run forwards, at BT 16 a filter of six poles an edge already lengthens T20 by 4.5 %,
    # T30 by 3.2 % and EDT by 50 % (computed).
    rate_hz, band = 48_000, OCTAVE[nominal_hz]
    assert band.width_hz * time_s >= 16.0
    sound = decaying_tone(
        beside * band.exact_hz, time_s=time_s, rate_hz=rate_hz, duration_s=1.5 * time_s + 0.05
    )
    trace = trace_in(sound, nominal_hz=nominal_hz, sample_rate_hz=rate_hz)
    # Its level is read off a point on the way; nothing else is told.
    on_the_way = trace.mean_between(np.array([0.3, 0.301]) * time_s)[0]
    model = model_of((time_s, 10.0 * np.log10(on_the_way) + 18.0))
    curve = integrate_backwards(trace, model=model, width_hz=band.width_hz)
    for part in (T20_DB, T30_DB):
        assert fit_line(curve, stretch_db=part).decay_time_s == pytest.approx(time_s, rel=1e-3)
    found = read_curve(curve, trace=trace, model=model, width_hz=band.width_hz, decay_range_db=60.0)
    assert found.edt_s == pytest.approx(time_s, rel=0.05)


def test_a_filter_run_forwards_would_bend_the_shortest_of_these_decays():
    # The check above can fail: the same filter's causal twin at BT 16 gives a longer slope at the start.
    from scipy.signal import butter, hilbert, sosfilt

    rate_hz, band, time_s = 48_000, OCTAVE[125.0], 0.2
    sound = decaying_tone(band.exact_hz, time_s=time_s, rate_hz=rate_hz, duration_s=2.0 * time_s)
    sos = butter(8, (band.low_hz, band.high_hz), btype="bandpass", fs=rate_hz, output="sos")
    energy = np.abs(hilbert(sosfilt(sos, sound))) ** 2
    left = np.cumsum(energy[::-1])[::-1][lead_of(rate_hz) :]
    curve = curve_of(left, np.arange(left.size) / rate_hz)
    assert fit_line(curve, stretch_db=EDT_DB).decay_time_s > 1.3 * time_s
