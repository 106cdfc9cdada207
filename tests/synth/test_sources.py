"""What claps, pops and boards sound like before any room adds to them."""

import numpy as np
import pytest

from roomir.errors import ParameterError
from roomir.synth.sources import board_pulse, clap_pulse, pop_pulse

SOURCES = [clap_pulse, pop_pulse, board_pulse]


def octave_energy(pulse, *, rate_hz, centre_hz):
    spectrum = np.abs(np.fft.rfft(pulse, rate_hz)) ** 2
    return spectrum[round(centre_hz / 2**0.5) : round(centre_hz * 2**0.5)].sum()


@pytest.mark.parametrize("make", SOURCES)
@pytest.mark.parametrize("rate_hz", [8_000, 48_000, 192_000])
def test_a_source_is_over_within_fifty_milliseconds(make, rate_hz):
    pulse = make(rng=np.random.default_rng(1), sample_rate_hz=rate_hz)
    held = np.cumsum(pulse**2) / np.sum(pulse**2)

    assert np.abs(pulse).max() == pytest.approx(1.0)
    assert np.argmax(np.abs(pulse) >= 0.1) / rate_hz < 0.0005
    assert np.argmax(held > 0.9) / rate_hz < 0.01
    assert pulse.size / rate_hz < 0.05


@pytest.mark.parametrize("seed", range(5))
def test_a_clap_has_little_below_250_hertz(seed):
    pulse = clap_pulse(rng=np.random.default_rng(seed), sample_rate_hz=48_000)
    bass = octave_energy(pulse, rate_hz=48_000, centre_hz=125.0)
    best = max(octave_energy(pulse, rate_hz=48_000, centre_hz=hz) for hz in (500.0, 1000.0, 2000.0))

    assert bass < 0.01 * best


def test_a_pop_falls_from_plus_to_minus_while_sound_crosses_the_balloon():
    """An N-wave lasts diameter over speed of sound: 0.343 m in 1 ms (linear acoustics)."""
    pulse = pop_pulse(rng=np.random.default_rng(1), sample_rate_hz=192_000, diameter_m=0.343)
    smooth = np.convolve(pulse, np.full(20, 0.05), mode="same")

    # Tearing of the skin takes up to a quarter of that time and is heard after it.
    assert 0.9e-3 <= np.argmin(smooth) / 192_000 <= 1.3e-3
    assert smooth[: 192 * 2].max() > 0.5
    assert smooth.min() < -0.5


@pytest.mark.parametrize("make", SOURCES)
def test_a_rate_of_zero_makes_no_sound(make):
    with pytest.raises(ParameterError, match="sample_rate_hz has to be above zero, not 0"):
        make(rng=np.random.default_rng(1), sample_rate_hz=0)
