"""Upper bands that hold nothing of their own."""

import numpy as np
import pytest
from scipy import signal

from roomir.bands.band import OCTAVES
from tests.faults.rooms import RATE_HZ, clapped, codes, inspected, rounded


def resampled(rate_hz: int) -> np.ndarray:
    low = rounded(signal.resample_poly(clapped(seed=8).samples, rate_hz, RATE_HZ))
    return np.asarray(signal.resample_poly(low, RATE_HZ, rate_hz))


def test_a_take_of_16000_samples_a_second_in_one_of_48000_strikes_the_8_khz_octave_only():
    (fault,) = inspected(rounded(resampled(16000)))

    assert fault.remark.code == "upper-bands-empty"
    assert "as if recorded at 16000 samples a second" in fault.remark.says
    assert fault.columns is not None
    assert [OCTAVES[column].nominal_hz for column in fault.columns] == [8000]


def test_a_take_of_8000_samples_a_second_passed_something_made_for_voices():
    (fault,) = inspected(rounded(resampled(8000)))

    assert fault.remark.code == "voice-band"
    assert fault.columns is None


@pytest.mark.parametrize("rate_hz", [8000, 16000])
def test_lines_drawn_between_the_samples_of_a_low_rate_mirror_its_spectrum(rate_hz: int):
    low = rounded(signal.resample_poly(clapped(seed=8).samples, rate_hz, RATE_HZ))
    time = np.arange(low.size * RATE_HZ // rate_hz) * rate_hz / RATE_HZ

    (fault,) = inspected(rounded(np.interp(time, np.arange(low.size), low)))

    assert fault.remark.code == ("voice-band" if rate_hz == 8000 else "upper-bands-empty")


@pytest.mark.parametrize("edge_hz", [12500.0, 16000.0])
def test_the_edge_of_packed_music_strikes_no_octave(edge_hz: float):
    low_pass = signal.ellip(10, 0.1, 80.0, edge_hz, fs=RATE_HZ, output="sos")

    assert codes(inspected(rounded(signal.sosfilt(low_pass, clapped(seed=8).samples)))) == set()


def test_a_dull_microphone_has_no_edge():
    low_pass = signal.butter(2, 3000.0, fs=RATE_HZ, output="sos")

    assert codes(inspected(rounded(signal.sosfilt(low_pass, clapped(seed=8).samples)))) == set()


def test_a_rate_that_carries_no_more_is_not_accused_of_an_edge():
    assert (
        codes(inspected(rounded(signal.resample_poly(clapped(seed=8).samples, 1, 2)), rate_hz=24000)) == set()
    )
