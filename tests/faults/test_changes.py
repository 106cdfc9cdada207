"""Backgrounds that change behind a clap, and channels that disagree."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import signal

from roomir.bands.band import OCTAVES
from roomir.claps.find import find_claps
from roomir.faults.changes import background_changes_db, find_changes
from roomir.faults.heard import hear
from roomir.faults.octaves import OctaveRuns, run_octaves
from tests.faults.rooms import RATE_HZ, clapped, codes, inspected, recorded, rounded

TAKE = {"seed": 13, "decay_time_s": 0.3, "background_db": -50.0}


def with_noise(*, low_hz: float, high_hz: float, db: float, from_s: float) -> np.ndarray:
    """Add noise of a band from some time after the last clap on. [dB re the loudest clap]"""
    take = clapped(**TAKE)
    sound = np.concatenate([take.samples, take.samples[-RATE_HZ:]]).astype(float)
    band = signal.butter(4, [low_hz, high_hz], "band", fs=RATE_HZ, output="sos")
    noise = signal.sosfilt(band, np.random.default_rng(5).standard_normal(sound.size))
    noise *= 0.5 * 10.0 ** (db / 20.0) / noise.std()
    start = int((take.claps[-1].onset_s + from_s) * RATE_HZ)
    noise[:start] = 0.0
    return sound + noise


def test_a_machine_that_starts_behind_a_clap_is_named_with_its_octaves():
    sound = rounded(with_noise(low_hz=800.0, high_hz=1300.0, db=-42.0, from_s=0.9))
    clap = [one for one in find_claps(recorded(sound).sound) if one.used][-1]
    (heard,) = hear(recorded(sound), [replace(clap, stop=sound.size)], take=0)

    (finding,) = find_changes(heard, run_octaves(heard), bands=OCTAVES)

    fault = finding.fault
    assert fault.remark.code == "background-changes"
    assert fault.columns is not None
    assert 1000 in [OCTAVES[column].nominal_hz for column in fault.columns]
    assert 8000 not in [OCTAVES[column].nominal_hz for column in fault.columns]


def test_a_machine_that_runs_steadily_is_not_accused():
    assert codes(inspected(rounded(with_noise(low_hz=800.0, high_hz=1300.0, db=-42.0, from_s=-9.0)))) == set()


@pytest.mark.parametrize("lag", [0, 12])
def test_two_microphones_of_unlike_level_and_treble_agree(lag: int):
    sound = np.array(clapped(**TAKE).samples, dtype=float)
    low_pass = signal.butter(1, 4000.0, fs=RATE_HZ, output="sos")
    second = 0.4 * signal.sosfilt(low_pass, np.roll(sound, lag))

    assert codes(inspected(rounded(np.stack([sound, second], axis=1)))) == set()


def test_a_channel_whose_gain_rises_while_the_claps_die_away_is_named():
    take = clapped(seed=13, decay_time_s=0.8, background_db=-65.0)
    sound = np.array(take.samples, dtype=float)
    gain = np.ones(sound.size)
    for clap in take.claps:
        since_s = np.arange(sound.size) / RATE_HZ - clap.onset_s
        gain[since_s >= 0.0] = 10.0 ** (np.minimum(20.0 * since_s[since_s >= 0.0], 10.0) / 20.0)

    faults = inspected(rounded(np.stack([sound, 0.3 * sound * gain], axis=1)))

    assert "channels-disagree" in codes(faults)
    assert "channel 2 falls less than channel 1" in next(
        fault.remark.says for fault in faults if fault.remark.code == "channels-disagree"
    )


def test_a_long_decay_that_the_next_clap_cuts_off_is_no_background_that_changes():
    frames = np.arange(110)
    # Steeper towards its end, as chance makes it.
    level_db = -0.45 * frames - np.where(frames > 80, 0.4 * (frames - 80), 0.0)
    power = np.tile(10.0 ** (level_db / 10.0), (len(OCTAVES) - 1, 1, 1))
    decay = OctaveRuns(power=power, octaves=OCTAVES[1:], frame_s=0.02)
    steady_db = np.maximum(level_db, -20.0)
    steady_db[-30:] = -30.0
    switched_off = replace(decay, power=np.tile(10.0 ** (steady_db / 10.0), (len(OCTAVES) - 1, 1, 1)))

    assert background_changes_db(decay).max() == 0.0
    assert background_changes_db(switched_off).min() > 6.0
