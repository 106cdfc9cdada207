"""Backgrounds that change during a take, and sounds that begin inside a decay. All values are invented."""

from __future__ import annotations

import numpy as np
import pytest

from roomir.faults.backgrounds import follow_background, quiet_stretches
from roomir.synth.decay import Slope, room_response
from tests.faults import gained


def hiss(sound: np.ndarray, seed: int, *, level_db: float) -> np.ndarray:
    return np.random.default_rng(seed).standard_normal(sound.size) * 10.0 ** (level_db / 20.0)


def switched_on(take: gained.SynthTake, *, clap: int, over_db: float) -> np.ndarray:
    """A machine that starts half-way down one decay."""
    sound = gained.sound_of(take)
    at = round((take.claps[clap].onset_s + 0.45) * gained.RATE_HZ)
    machine = hiss(sound, 5, level_db=-70.0 + over_db)
    machine[:at] = 0.0
    return sound + hiss(sound, 6, level_db=-70.0) + machine


def test_a_machine_that_starts_in_a_decay_is_put_down_to_that_clap() -> None:
    take = gained.claps(60, n=3, background_db=-80.0)
    found = gained.faults_of(switched_on(take, clap=1, over_db=15.0))
    changes = [fault for fault in found if fault.remark.code == "background-changes"]
    assert [fault.place for fault in changes] == [1]
    assert "louder" in changes[0].remark.says


@pytest.mark.parametrize("over_db", [-10.0, -4.0])
def test_a_machine_too_quiet_to_matter_is_let_be(over_db: float) -> None:
    take = gained.claps(60, n=3, background_db=-80.0)
    assert gained.faults_of(switched_on(take, clap=1, over_db=over_db)) == ()


def test_a_background_that_only_drifts_is_no_automatic_gain() -> None:
    take = gained.claps(61, n=4, background_db=-80.0)
    sound = gained.sound_of(take)
    fading = 10.0 ** (-np.linspace(0.0, 20.0, sound.size) / 20.0)
    found = gained.faults_of(sound + fading * hiss(sound, 7, level_db=-55.0))
    assert not {fault.remark.code for fault in found} & {"automatic-gain", "background-lower-after"}


def test_a_blow_inside_one_decay_is_put_down_to_that_clap() -> None:
    take = gained.claps(62, n=3, decay_time_s=0.8, background_db=-75.0)
    sound = gained.sound_of(take)
    blow = room_response(
        rng=np.random.default_rng(8),
        sample_rate_hz=gained.RATE_HZ,
        slopes=[Slope(decay_time_s=0.8)],
        duration_s=0.9,
    )
    at = round((take.claps[1].onset_s + 0.35) * gained.RATE_HZ)
    # Swells over 30 ms, so that no arrival ends the decay before it.
    swell = np.minimum(np.arange(blow.size) / (0.03 * gained.RATE_HZ), 1.0)
    level = 0.02 * np.abs(sound).max() / np.abs(blow).max()
    sound[at : at + blow.size] += level * swell * blow
    found = gained.faults_of(sound)
    assert {fault.place for fault in found} == {1}
    assert "sound-inside-decay" in {fault.remark.code for fault in found}


def test_what_is_followed_before_and_after_a_clap_is_the_same_in_a_steady_background() -> None:
    sound = gained.sound_of(gained.claps(63, n=3, background_db=-60.0))
    recording, heard, fits = gained.hear(sound)
    claps = [clap for clap in gained.find_claps(recording.sound) if clap.used]
    courses = follow_background(recording.sound, claps, list(enumerate(heard)), fits)
    assert len(courses) >= 2
    for course in courses.values():
        assert abs(float(np.median(course.lower_db))) < 1.0
        assert abs(float(np.median(course.rises_db))) < 1.0


def test_quiet_stretches_begin_when_every_band_has_sunk_and_end_before_the_next_event() -> None:
    sound = gained.sound_of(gained.claps(63, n=3, background_db=-60.0))
    recording, heard, fits = gained.hear(sound)
    claps = [clap for clap in gained.find_claps(recording.sound) if clap.used]
    stretches = quiet_stretches(claps, list(enumerate(heard)), fits, end_s=recording.duration_s)
    assert len(stretches) == len(claps)
    for clap, later, (start_s, stop_s) in zip(claps, [*claps[1:], None], stretches, strict=True):
        assert clap.onset_s + 0.2 < start_s
        assert stop_s <= (later.onset_s if later else recording.duration_s)


def test_silence_put_before_a_trimmed_take_is_no_background() -> None:
    take = gained.claps(63, n=1, background_db=-60.0)
    sound = gained.sound_of(take)
    trimmed = sound[round((take.claps[0].onset_s - 0.002) * gained.RATE_HZ) :]
    assert gained.faults_of(np.concatenate([np.zeros(gained.RATE_HZ), trimmed])) == ()
