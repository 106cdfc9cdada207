"""What rides on the level of a take is named; what rooms do by themselves is not."""

from __future__ import annotations

import numpy as np
import pytest

from roomir.faults.fault import Fault
from roomir.synth.decay import Slope
from roomir.synth.takes import Flutter, make_take
from tests.faults import gained

BENT = {"loud-part-held-down", "tail-pulled-down", "bent-in-all-bands"}


def codes(faults: tuple[Fault, ...]) -> set[str]:
    return {fault.remark.code for fault in faults}


@pytest.mark.parametrize("seed", [11, 12])
def test_a_gain_that_creeps_up_after_each_clap_is_automatic_gain(seed: int) -> None:
    found = gained.faults_of(gained.automatic_gain(gained.sound_of(gained.claps(seed))))
    assert codes(found) == {"automatic-gain"}
    assert found[0].place is None
    assert "too long" in found[0].remark.says


@pytest.mark.parametrize(("above_db", "up_s"), [(10.0, 1.0), (8.0, 0.5)])
def test_a_gain_that_comes_up_behind_each_clap_lifts_the_background_with_it(
    above_db: float, up_s: float
) -> None:
    sound = gained.sound_of(gained.claps(52, decay_time_s=0.8, n=4, background_db=-60.0))
    wanted_db = np.minimum(-above_db - gained.levels_db(sound), 0.0)
    found = gained.faults_of(gained.ridden(sound, wanted_db, down_s=0.003, up_s=up_s))
    assert codes(found) == {"automatic-gain"}
    assert "come up together" in found[0].remark.says
    assert gained.faults_of(sound) == ()


def test_a_machine_that_starts_behind_one_clap_is_no_automatic_gain() -> None:
    take = gained.claps(71, n=4, background_db=-60.0)
    sound = gained.sound_of(take)
    at = (np.arange(sound.size) / gained.RATE_HZ) - take.claps[1].onset_s - 0.3
    until = take.claps[2].onset_s - take.claps[1].onset_s - 0.6
    noise = np.random.default_rng(71).standard_normal(sound.size) * 10.0 ** (-60.0 / 20.0)
    found = gained.faults_of(sound + noise * np.clip(at / 0.6, 0.0, 1.0) * (at < until))
    assert "automatic-gain" not in codes(found)
    assert {fault.place for fault in found} == {1}


@pytest.mark.parametrize("seed", [21, 22])
def test_a_compressor_bends_all_bands_downwards_alike(seed: int) -> None:
    found = gained.faults_of(gained.compressed(gained.sound_of(gained.claps(seed))))
    assert codes(found) & {"loud-part-held-down", "bent-in-all-bands"}
    assert all(fault.weighs for fault in found)


@pytest.mark.parametrize("seed", [31, 32])
def test_a_gate_makes_the_tail_fall_off(seed: int) -> None:
    found = gained.faults_of(gained.gated(gained.sound_of(gained.claps(seed, background_db=-60.0))))
    assert codes(found) & {"tail-pulled-down", "bent-in-all-bands"}


@pytest.mark.parametrize("seed", [41, 42])
def test_noise_suppression_per_band_makes_the_tail_fall_off(seed: int) -> None:
    found = gained.faults_of(gained.suppressed(gained.sound_of(gained.claps(seed, background_db=-50.0))))
    assert codes(found) & BENT


def test_a_gate_that_shuts_below_the_background_changes_nothing() -> None:
    sound = gained.sound_of(gained.claps(33, background_db=-50.0))
    quiet = np.abs(gained.levels_db(sound)).max()
    assert gained.faults_of(gained.gated(sound, below_db=-quiet - 1.0)) == ()


def test_a_fault_of_the_take_lets_no_band_be_reliable() -> None:
    clean = gained.sound_of(gained.claps(23, n=4))
    before, after = gained.read(clean), gained.read(gained.compressed(clean))
    assert any(band.figures.verdict == "reliable" for band in before.bands)
    assert not any(band.figures.verdict == "reliable" for band in after.bands)
    assert before.takes[0].concerns == ()
    (named,) = after.takes[0].concerns
    assert any(named in band.figures.reasons for band in after.bands)


def test_the_same_gain_at_another_level_of_the_file_is_named_alike() -> None:
    sound = gained.compressed(gained.sound_of(gained.claps(21)))
    assert codes(gained.faults_of(0.02 * sound)) == codes(gained.faults_of(sound))


def test_a_gain_in_one_clap_alone_is_put_down_to_that_clap() -> None:
    take = gained.claps(24, n=4)
    sound = gained.sound_of(take)
    gone = gained.compressed(sound)
    # Each clap after a quiet stretch: cut where nothing sounds.
    cuts = [round((clap.onset_s - 0.1) * gained.RATE_HZ) for clap in take.claps] + [sound.size]
    one = sound.copy()
    one[cuts[1] : cuts[2]] = gone[cuts[1] : cuts[2]]
    found = gained.faults_of(one)
    assert {fault.place for fault in found} == {1}


@pytest.mark.parametrize("seed", range(100, 108))
def test_a_clean_take_is_not_accused(seed: int) -> None:
    rng = np.random.default_rng(seed)
    decay_time_s = float(rng.uniform(0.2, 0.9))
    take = make_take(
        seed=seed,
        sample_rate_hz=gained.RATE_HZ,
        decay_time_s=decay_time_s,
        n_claps=3,
        spots=int(rng.integers(1, 4)),
        background_db=float(rng.uniform(-85.0, -45.0)),
        direct_to_reverberant_db=float(rng.uniform(-6.0, 8.0)),
        spacing_s=(1.5 * decay_time_s + 0.6, 2.0 * decay_time_s + 0.8),
    )
    assert gained.faults_of(gained.sound_of(take)) == ()


@pytest.mark.parametrize("seed", range(120, 124))
def test_two_coupled_rooms_bend_upwards_and_are_not_accused(seed: int) -> None:
    take = make_take(
        seed=seed,
        sample_rate_hz=gained.RATE_HZ,
        decay_time_s=0.4,
        n_claps=3,
        spots=2,
        background_db=-75.0,
        second_slope=Slope(decay_time_s=1.0, level_db=-20.0),
    )
    assert gained.faults_of(gained.sound_of(take)) == ()


@pytest.mark.parametrize("seed", range(130, 134))
def test_a_flutter_echo_swings_in_all_bands_and_is_not_accused(seed: int) -> None:
    take = make_take(
        seed=seed,
        sample_rate_hz=gained.RATE_HZ,
        decay_time_s=0.6,
        n_claps=2,
        background_db=-70.0,
        flutter=Flutter(period_s=0.035, decay_time_s=0.6, level_db=-4.0),
    )
    assert gained.faults_of(gained.sound_of(take)) == ()


def test_a_background_that_wanders_by_half_a_decibel_is_no_automatic_gain() -> None:
    take = gained.claps(140, background_db=-60.0)
    sound = gained.sound_of(take)
    noise = np.random.default_rng(140).standard_normal(sound.size) * 10.0 ** (-55.0 / 20.0)
    wander = 10.0 ** (0.5 * np.sin(np.arange(sound.size) / gained.RATE_HZ * 2.0) / 20.0)
    assert gained.faults_of(sound + 0.5 * wander * noise) == ()


@pytest.mark.parametrize("peak", [0.03, 0.1])
def test_a_quiet_take_whose_background_is_rounded_away_is_not_accused(peak: float) -> None:
    sound = gained.sound_of(gained.claps(91, decay_time_s=0.35, n=4, background_db=-90.0))
    rounded = np.round(sound * (peak / np.abs(sound).max()) * 32768.0) / 32768.0
    assert gained.faults_of(rounded, peak=peak) == ()
