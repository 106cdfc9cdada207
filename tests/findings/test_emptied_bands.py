"""Bands that a coder has emptied hold nothing to find, and break nothing. All rooms are invented."""

import numpy as np
import pytest

from roomir.reading.take import read_claps
from tests.decays import noise_decay, take_of_claps

RATE_HZ = 48_000


@pytest.mark.parametrize("empty_from_hz", [2500, 5000])
@pytest.mark.parametrize("silent_from_s", [0.3, 0.7])
def test_an_emptied_band_is_read_without_a_fault_of_ours(empty_from_hz, silent_from_s):
    sound = noise_decay(
        np.random.default_rng(1), decay_time_s=0.5, sample_rate_hz=RATE_HZ, duration_s=1.5, direct_db=0.0
    )
    spectrum = np.fft.rfft(sound)
    spectrum[round(empty_from_hz / RATE_HZ * sound.size) :] = 0.0
    sound = np.fft.irfft(spectrum, sound.size)
    sound[round(silent_from_s * RATE_HZ) :] = 0.0
    recording, found = take_of_claps([np.round(sound * 3000.0) / 32768.0], sample_rate_hz=RATE_HZ)
    reading = read_claps([recording], [found])
    high = [band.figures for band in reading.bands if band.figures.band.low_hz > empty_from_hz]
    assert all(figures.verdict != "reliable" for figures in high)
