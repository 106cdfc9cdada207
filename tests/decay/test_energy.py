"""Energy of a clap in a band against time. All sounds invented."""

import numpy as np
import pytest

from roomir.decay.energy import EnergyTrace, trace_energy
from tests.decays import FILTER, OCTAVE, lead_of, noise_decay, trace_in

RATE_HZ = 16_000


def decay(seed=0, **changes):
    which = {"decay_time_s": 0.4, "sample_rate_hz": RATE_HZ, "duration_s": 0.8} | changes
    return noise_decay(np.random.default_rng(seed), **which)


def traces(sound, *, onset=None, names=(250.0, 1000.0, 4000.0)):
    return trace_energy(
        sound[:, np.newaxis] if sound.ndim == 1 else sound,
        onset=lead_of(RATE_HZ) if onset is None else onset,
        sample_rate_hz=RATE_HZ,
        filters=[FILTER[hz] for hz in names],
    )


def total(trace):
    return trace.cumulative[-1]


def test_energy_up_to_a_time_is_read_between_the_edges():
    trace = EnergyTrace(
        start_s=-0.1, step_s=0.1, cumulative=np.array([0.0, 1.0, 3.0, 3.5]), end_s=0.2, channels_worth=1.0
    )
    asked_s = np.array([-1.0, -0.1, 0.0, 0.05, 0.2, 5.0])
    assert trace.until(asked_s) == pytest.approx([0.0, 0.0, 1.0, 2.0, 3.5, 3.5])
    assert trace.mean_between(np.array([-0.1, 0.0, 0.2])) == pytest.approx([10.0, 12.5])


def test_energy_only_grows():
    for trace in traces(decay()):
        assert trace.cumulative[0] == 0.0
        assert np.all(np.diff(trace.cumulative) >= 0.0)


def test_a_band_holds_its_share_of_white_sound():
    sound = np.random.default_rng(3).standard_normal(4 * RATE_HZ)
    for hz, trace in zip((1000.0, 4000.0), traces(sound, names=(1000.0, 4000.0)), strict=True):
        power = total(trace) / 4.0
        assert power == pytest.approx(OCTAVE[hz].width_hz / (0.5 * RATE_HZ), rel=0.05)


def test_twice_the_amplitude_has_four_times_the_energy():
    for quiet, loud in zip(traces(decay()), traces(2.0 * decay()), strict=True):
        assert loud.cumulative == pytest.approx(4.0 * quiet.cumulative, rel=1e-9)


def test_a_constant_offset_is_no_energy():
    for plain, offset in zip(traces(decay()), traces(decay() + 0.3), strict=True):
        assert total(offset) == pytest.approx(total(plain), rel=1e-3)


def test_time_is_counted_from_the_onset():
    sound = np.zeros(RATE_HZ)
    sound[5000] = 1.0
    for onset in (2000, 5000):
        trace = traces(sound, onset=onset, names=(4000.0,))[0]
        half_s = np.interp(
            0.5 * total(trace),
            trace.cumulative,
            trace.start_s + trace.step_s * np.arange(trace.cumulative.size),
        )
        assert half_s == pytest.approx((5000 - onset) / RATE_HZ, abs=1.0 / OCTAVE[4000.0].width_hz)


def test_the_last_stretch_that_the_filter_looks_past_is_named():
    # Nearer to the end of the sound than the filter looks ahead nothing is certain: longer for narrow bands.
    sound = decay()
    end_s = (sound.size - lead_of(RATE_HZ)) / RATE_HZ
    missing_s = [end_s - trace.end_s for trace in traces(sound)]
    assert missing_s == sorted(missing_s, reverse=True)
    for hz, missing in zip((250.0, 1000.0, 4000.0), missing_s, strict=True):
        assert 1.0 < missing * OCTAVE[hz].width_hz < 4.0


def test_the_same_sound_in_two_channels_is_worth_one_and_has_twice_the_energy():
    sound = decay()
    for one, two in zip(traces(sound), traces(np.stack([sound, sound], axis=1)), strict=True):
        assert two.channels_worth == pytest.approx(1.0, abs=1e-6)
        assert two.cumulative == pytest.approx(2.0 * one.cumulative, rel=1e-9)


def test_unrelated_sounds_in_two_channels_are_worth_two():
    both = np.stack([decay(1), decay(2)], axis=1)
    for trace in traces(both, names=(1000.0, 4000.0)):
        assert trace.channels_worth == pytest.approx(2.0, abs=0.1)
    left, right, together = (trace_in(x, nominal_hz=1000.0, sample_rate_hz=RATE_HZ) for x in (*both.T, both))
    assert together.cumulative == pytest.approx(left.cumulative + right.cumulative, rel=1e-6, abs=1e-12)


def test_an_inverted_channel_is_the_same_sound():
    sound = decay()
    for trace in traces(np.stack([sound, -0.5 * sound], axis=1)):
        assert trace.channels_worth < 1.5


def test_digital_silence_has_no_energy_and_a_worth():
    for trace in traces(np.zeros((RATE_HZ, 2))):
        assert total(trace) == 0.0
        assert np.isfinite(trace.channels_worth)


def test_the_same_decay_in_two_channels_that_hiss_on_their_own_is_worth_one():
    rng = np.random.default_rng(4)
    sound = decay(duration_s=1.5)
    hissing = np.stack([sound, sound], axis=1) + 1e-3 * rng.standard_normal((sound.size, 2))
    for trace in traces(hissing):
        assert trace.channels_worth < 1.3
