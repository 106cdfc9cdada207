"""What the background looks like, told from backgrounds that were made. All levels are invented."""

from __future__ import annotations

import numpy as np
import pytest

from roomir.audio.recording import SoundInMemory
from roomir.background.noise import (
    Background,
    BandNoise,
    hear_background,
    joint_background,
    quiet_stretches,
)

RATE_HZ = 16_000


def noise_of(
    *, slope_db_per_octave: float, level_db: float = -60.0, seconds: float = 6.0, seed: int = 1
) -> np.ndarray:
    """Gaussian noise whose density changes by that much per octave."""
    rng = np.random.default_rng(seed)
    n = round(seconds * RATE_HZ)
    frequency_hz = np.maximum(np.fft.rfftfreq(n, 1.0 / RATE_HZ), 20.0)
    shaped = np.fft.irfft(
        np.fft.rfft(rng.standard_normal(n)) * frequency_hz ** (slope_db_per_octave / 20.0 / np.log10(2.0)), n
    )
    return 10.0 ** (level_db / 20.0) * shaped / shaped.std()


def sine(hz: float, *, level_db: float, n: int) -> np.ndarray:
    """Sine of that root mean square."""
    return np.sqrt(2.0) * 10.0 ** (level_db / 20.0) * np.sin(2.0 * np.pi * hz * np.arange(n) / RATE_HZ + 0.3)


def heard(samples: np.ndarray) -> Background:
    sound = SoundInMemory(samples=samples, sample_rate_hz=RATE_HZ)
    background = hear_background(sound, stretches=[(0, sound.n_frames)])
    assert background is not None
    return background


def band(background: Background, nominal_hz: float) -> BandNoise:
    (found,) = (one for one in background.bands if one.band.nominal_hz == nominal_hz)
    return found


def test_the_level_of_white_noise_in_an_octave_is_its_share_of_the_bandwidth():
    background = heard(noise_of(slope_db_per_octave=0.0, seconds=20.0))

    for hz in (500.0, 1000.0, 2000.0):
        one = band(background, hz)
        expected_db = -60.0 + 10.0 * np.log10(one.band.width_hz / (RATE_HZ / 2))
        assert one.level_dbfs == pytest.approx(expected_db, abs=0.3)


@pytest.mark.parametrize("mains_hz", [50.0, 60.0, 49.8, 60.2])
def test_mains_hum_is_found_and_its_share_is_what_was_put_in(mains_hz: float):
    samples = noise_of(slope_db_per_octave=-3.0)
    plain_db = band(heard(samples), 125.0).level_dbfs
    assert plain_db is not None
    hum = sum(sine(k * mains_hz, level_db=plain_db + 6.0 - 3.0 * k, n=samples.size) for k in range(1, 6))
    background = heard(samples + hum)
    low = band(background, 125.0)

    assert background.mains_hz == round(mains_hz, -1)
    assert low.kind == "hum"
    assert low.level_dbfs is not None
    # Without the hum the background would be what it was before the hum was added.
    assert low.level_dbfs - low.without_hum_db == pytest.approx(plain_db, abs=1.0)
    assert band(background, 4000.0).hum_share < 0.02


@pytest.mark.parametrize(
    ("slope_db_per_octave", "kind"), [(0.0, "hiss"), (2.0, "hiss"), (-3.0, "rush"), (-6.0, "rush")]
)
@pytest.mark.parametrize("seed", range(5))
def test_noise_is_told_by_how_it_falls_towards_the_treble(slope_db_per_octave: float, kind: str, seed: int):
    background = heard(noise_of(slope_db_per_octave=slope_db_per_octave, seed=seed))

    assert background.mains_hz is None
    assert background.tones_hz == ()
    assert {band(background, hz).kind for hz in (500.0, 1000.0, 2000.0)} == {kind}
    assert band(background, 63.0).kind == "rumble"


def test_a_steady_tone_is_named_and_is_no_hum():
    samples = noise_of(slope_db_per_octave=-3.0)
    background = heard(samples + sine(1234.0, level_db=-60.0, n=samples.size))

    assert background.mains_hz is None
    assert background.tones_hz == pytest.approx((1234.0,), abs=2.0)
    assert band(background, 1000.0).kind == "tone"
    assert band(background, 500.0).kind == "rush"


def test_a_background_that_comes_and_goes_swings():
    steady = noise_of(slope_db_per_octave=-3.0, seconds=12.0)
    swell = np.where(np.arange(steady.size) < steady.size // 2, 1.0, 4.0)  # 12 dB

    assert band(heard(steady), 500.0).swing_db < 4.0
    assert band(heard(steady * swell), 500.0).swing_db == pytest.approx(12.0, abs=2.0)


def test_digital_silence_has_no_level():
    background = heard(np.zeros(RATE_HZ))

    assert {one.kind for one in background.bands} == {"silence"}
    assert all(one.level_dbfs is None for one in background.bands)


def test_octaves_beyond_the_rate_are_left_out():
    assert [one.band.nominal_hz for one in heard(np.ones(RATE_HZ) * 0.1).bands][-1] == 4000.0


def test_quiet_lies_before_each_event_and_after_it_has_died_away():
    sound = SoundInMemory(samples=np.zeros(10 * RATE_HZ), sample_rate_hz=RATE_HZ)
    stretches = quiet_stretches(sound, onsets_s=[2.0, 3.0, 6.0], settle_s=1.5)

    assert [(start / RATE_HZ, stop / RATE_HZ) for start, stop in stretches] == [
        (0.0, 1.98),
        (4.5, 5.98),
        (7.5, 10.0),
    ]


def test_without_half_a_second_of_quiet_there_is_no_background():
    sound = SoundInMemory(samples=np.zeros(3 * RATE_HZ), sample_rate_hz=RATE_HZ)

    stretches = quiet_stretches(sound, onsets_s=[0.3, 1.0, 2.0], settle_s=0.8)
    assert stretches == ()
    assert hear_background(sound, stretches=stretches) is None
    assert joint_background([]) is None


def test_takes_are_averaged_by_power():
    quiet, loud = (heard(noise_of(slope_db_per_octave=0.0, level_db=db)) for db in (-60.0, -50.0))
    joint = joint_background([quiet, loud])

    assert joint is not None
    assert joint.heard_s == quiet.heard_s + loud.heard_s
    expected = 10.0 * np.log10((1e-6 + 1e-5) / 2.0) - 10.0 * np.log10(1e-6)
    a, b = band(joint, 1000.0).level_dbfs, band(quiet, 1000.0).level_dbfs
    assert a is not None
    assert b is not None
    assert a - b == pytest.approx(expected, abs=0.1)
