"""The curve of one decay: what is read off it, and what is withheld. All values invented."""

import numpy as np
import pytest

from roomir.decay.curve import (
    T20_DB,
    T30_DB,
    DecayCurve,
    fit_line,
    integrate_backwards,
    read_curve,
)
from tests.decays import OCTAVE, model_of, trace_of

WIDTH_HZ = OCTAVE[1000.0].width_hz
FIELDS = ("edt_s", "t20_s", "t30_s", "c50_db", "c80_db", "d50", "ts_s")


def read(model, *, decay_range_db, end_s=1.5, width_hz=WIDTH_HZ):
    trace = trace_of(model, end_s=end_s)
    curve = integrate_backwards(trace, model=model, width_hz=width_hz)
    return read_curve(curve, trace=trace, model=model, width_hz=width_hz, decay_range_db=decay_range_db)


@pytest.mark.parametrize(
    ("decay_range_db", "given"),
    [
        (24.99, set()),
        (25.0, {"edt_s", "c50_db", "c80_db", "d50", "ts_s"}),
        (34.99, {"edt_s", "c50_db", "c80_db", "d50", "ts_s"}),
        (35.0, {"edt_s", "t20_s", "c50_db", "c80_db", "d50", "ts_s"}),
        (44.99, {"edt_s", "t20_s", "c50_db", "c80_db", "d50", "ts_s"}),
        (45.0, set(FIELDS)),
    ],
)
def test_each_quantity_is_given_only_where_the_range_supports_it(decay_range_db, given):
    # ISO 3382-1:2009, 5.3.2: T20 needs 35 dB, T30 45 dB. 25 dB for the early quantities is common practice.
    found = read(model_of((0.5, 0.0), noise_db=-50.0), decay_range_db=decay_range_db)
    assert {name for name in FIELDS if getattr(found, name) is not None} == given
    assert (found.curvature_percent is not None) == (decay_range_db >= 45.0)
    assert (found.nonlinearity_permille is not None) == (decay_range_db >= 35.0)


def test_an_edt_shorter_than_the_filter_bears_is_withheld():
    # BT 16: below it the filter's own smear shapes the first 10 dB.
    assert read(model_of((17.0 / WIDTH_HZ, 0.0)), decay_range_db=60.0, end_s=0.1).edt_s is not None
    assert read(model_of((15.0 / WIDTH_HZ, 0.0)), decay_range_db=60.0, end_s=0.1).edt_s is None


def test_the_curve_begins_before_the_onset_and_ends_at_the_crosspoint():
    model = model_of((0.5, 0.0), noise_db=-45.0)
    curve = integrate_backwards(trace_of(model, end_s=1.5), model=model, width_hz=WIDTH_HZ)
    assert -curve.time_s[0] * WIDTH_HZ >= 1.5
    assert curve.level_db[0] == 0.0
    assert curve.time_s[-1] == pytest.approx(45.0 / 60.0 * 0.5, abs=1e-3)
    assert np.all(np.diff(curve.level_db) <= 1e-9)


def test_the_direct_sound_belongs_to_clarity():
    # A direct sound as strong as the reverberation doubles the early energy's share of the first instant:
    # C80 = 10 lg((1 + 1 - b)/b) with b what is left of the reverberation after 80 ms.
    model = model_of((0.5, 0.0))
    plain = trace_of(model, end_s=1.5)
    direct = model.energy_after(0.0)
    edges_s = plain.start_s + plain.step_s * np.arange(plain.cumulative.size)
    # Smeared by the filter, it lies up to 1.6/B ahead of the onset.
    smear = np.clip((edges_s + 1.6 / WIDTH_HZ) / (1.6 / WIDTH_HZ), 0.0, 1.0)
    trace = type(plain)(
        start_s=plain.start_s,
        step_s=plain.step_s,
        cumulative=plain.cumulative + direct * smear,
        end_s=plain.end_s,
        channels_worth=1.0,
    )
    curve = integrate_backwards(trace, model=model, width_hz=WIDTH_HZ)
    found = read_curve(curve, trace=trace, model=model, width_hz=WIDTH_HZ, decay_range_db=60.0)
    b = 10.0 ** (-6.0 * 0.08 / 0.5)
    assert found.c80_db == pytest.approx(10.0 * np.log10((2.0 - b) / b), abs=0.02)
    b = 10.0 ** (-6.0 * 0.05 / 0.5)
    assert found.d50 == pytest.approx(1.0 - 0.5 * b, abs=1e-3)
    assert found.t30_s == pytest.approx(0.5, rel=1e-2)


def test_a_decay_below_its_background_from_the_start_has_no_curve():
    model = model_of((0.5, 0.0), noise_db=3.0)
    trace = trace_of(model, end_s=1.5, step_s=1.0 / (3.0 * WIDTH_HZ))
    assert integrate_backwards(trace, model=model, width_hz=WIDTH_HZ) is None


def test_a_curve_cut_off_early_has_no_line_below_its_end():
    time_s = np.linspace(0.0, 0.4, 401)
    curve = DecayCurve(time_s=time_s, level_db=-75.0 * time_s)
    assert fit_line(curve, stretch_db=T20_DB).decay_time_s == pytest.approx(0.8)
    assert fit_line(curve, stretch_db=T30_DB) is None


def test_two_points_are_no_line():
    curve = DecayCurve(time_s=np.array([0.0, 0.1, 0.2, 0.3]), level_db=np.array([0.0, -6.0, -20.0, -40.0]))
    assert fit_line(curve, stretch_db=T20_DB) is None


def test_a_bent_curve_is_less_straight_than_a_ragged_one_is_ragged():
    time_s = np.linspace(0.0, 1.0, 2001)
    ragged = DecayCurve(time_s=time_s, level_db=-60.0 * time_s + 0.2 * np.sin(40.0 * np.pi * time_s))
    bent = DecayCurve(time_s=time_s, level_db=-60.0 * time_s + 15.0 * time_s**2)
    assert 0.0 < fit_line(ragged, stretch_db=T30_DB).nonlinearity_permille < 1.0
    assert fit_line(bent, stretch_db=T30_DB).nonlinearity_permille > 1.0
