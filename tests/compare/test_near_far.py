"""A source near and far. The room is invented: direct sound by the inverse square law and a diffuse tail."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.signal import fftconvolve

from roomir.audio.recording import Recording, SoundInMemory
from roomir.compare.near_far import LEVEL_FAULTS, compare_near_far, predicted_fall_db
from roomir.errors import ParameterError
from roomir.reading.take import take_reading
from roomir.remarks import Remark
from roomir.report.near_far_words import near_far_document, near_far_says
from roomir.rooms.statistics import reverberation_distance_m
from roomir.synth.decay import Slope, room_response
from roomir.synth.sources import clap_pulse
from tests.compare.strummed import RATE_HZ, played

VOLUME_M3 = 60.0
DECAY_TIME_S = 0.6
# Q between the 1 and the 2 that the prediction spans.
CRITICAL_M = reverberation_distance_m(
    volume_m3=VOLUME_M3, decay_time_s=DECAY_TIME_S, sound_speed=343.2, directivity=1.4
)


def claps_at(distance_m, *, seed, gain_db=0.0, n=5, spread_db=1.0):
    """A take of claps, each up to half of ``spread_db`` louder or softer."""
    rng = np.random.default_rng(seed)
    tail = room_response(
        rng=rng,
        sample_rate_hz=RATE_HZ,
        slopes=[Slope(decay_time_s=DECAY_TIME_S, level_db=0.0)],
        duration_s=1.2 * DECAY_TIME_S,
    )
    response = tail / (CRITICAL_M * math.sqrt((tail**2).sum()))
    response[0] += 1.0 / distance_m
    parts = [np.zeros(RATE_HZ)]
    for _ in range(n):
        clap = clap_pulse(rng=rng, sample_rate_hz=RATE_HZ)
        clap = clap / math.sqrt((clap**2).sum()) * 10.0 ** (rng.uniform(-0.5, 0.5) * spread_db / 20.0)
        parts.append(fftconvolve(clap, response)[: 2 * RATE_HZ])
        parts[-1] = np.pad(parts[-1], (0, 2 * RATE_HZ - parts[-1].size))
    sound = 0.05 * 10.0 ** (gain_db / 20.0) * np.concatenate(parts)
    sound += 1e-5 * rng.standard_normal(sound.size)
    memory = SoundInMemory(samples=sound.astype(np.float32), sample_rate_hz=RATE_HZ)
    return Recording(sound=memory, source_name=f"{distance_m} m.wav")


def heard(near, far, *, near_m, far_m, volume_m3=VOLUME_M3):
    readings = take_reading([near]), take_reading([far])
    return compare_near_far([near], [far], readings=readings, near_m=near_m, far_m=far_m, volume_m3=volume_m3)


def codes(found):
    return {remark.code for remark in found.remarks}


def test_the_fall_is_what_the_textbook_says():
    # Kuttruff, "Room Acoustics", chapter 5: at the reverberation distance both are equal, 3 dB over the tail.
    assert predicted_fall_db(near_m=1.0, far_m=1e6, reverberation_distance=1.0) == pytest.approx(
        3.01, abs=0.01
    )
    assert predicted_fall_db(near_m=0.5, far_m=1.0, reverberation_distance=1.0) == pytest.approx(
        10 * math.log10(5 / 2)
    )


def test_claps_fall_as_the_decay_time_says():
    found = heard(claps_at(0.3, seed=1), claps_at(2.5, seed=2), near_m=0.3, far_m=2.5)
    truth_db = predicted_fall_db(near_m=0.3, far_m=2.5, reverberation_distance=CRITICAL_M)
    assert found.verdict == "as predicted"
    assert found.sounds == "claps"
    assert found.measured_db == pytest.approx(truth_db, abs=1.0)
    assert found.predicted_db[0] < truth_db < found.predicted_db[1]
    assert "as the room's decay time says" in near_far_says(found)[0]
    assert near_far_document(found)["verdict"] == "as predicted"


def test_a_gain_that_was_turned_is_noticed():
    louder = heard(claps_at(0.3, seed=1), claps_at(2.5, seed=2, gain_db=6.0), near_m=0.3, far_m=2.5)
    softer = heard(claps_at(0.3, seed=1), claps_at(2.5, seed=2, gain_db=-6.0), near_m=0.3, far_m=2.5)
    assert (louder.verdict, softer.verdict) == ("falls less", "falls more")


def test_both_beyond_the_reverberation_distance_tell_nothing():
    found = heard(claps_at(1.5, seed=1), claps_at(3.0, seed=2), near_m=1.5, far_m=3.0)
    assert found.verdict == "cannot tell"
    assert "both-beyond" in codes(found)


def test_claps_that_differ_wildly_tell_nothing():
    found = heard(
        claps_at(0.3, seed=1, spread_db=18.0), claps_at(2.5, seed=2, spread_db=18.0), near_m=0.3, far_m=2.5
    )
    assert found.verdict == "cannot tell"
    assert "levels-scatter" in codes(found)


def test_without_a_volume_or_with_two_claps_nothing_is_told():
    near, far = claps_at(0.3, seed=1), claps_at(2.5, seed=2)
    assert "no-reverberation-distance" in codes(heard(near, far, near_m=0.3, far_m=2.5, volume_m3=None))
    few = heard(claps_at(0.3, seed=1, n=2), far, near_m=0.3, far_m=2.5)
    assert few.verdict == "cannot tell"
    assert "too-few-sounds" in codes(few)


def test_chords_tell_no_more_than_they_can():
    near, far = (played("C G Am F C G", decay_time_s=0.5, seed=seed) for seed in (1, 2))
    found = heard(near, far, near_m=0.3, far_m=2.5)
    assert (found.sounds, found.verdict) == ("playing", "cannot tell")
    assert {"level-of-playing", "no-reverberation-distance"} <= codes(found)


@pytest.mark.parametrize(("near_m", "far_m"), [(2.0, 1.0), (0.0, 1.0), (1.0, 1.0)])
def test_distances_that_make_no_sense_are_refused(near_m, far_m):
    near = claps_at(0.3, seed=1, n=1)
    readings = take_reading([near]), take_reading([near])
    with pytest.raises(ParameterError, match="not nearer"):
        compare_near_far([near], [near], readings=readings, near_m=near_m, far_m=far_m, volume_m3=60.0)


def test_faults_that_spoil_levels_are_faults_that_exist(checkout):
    said = "".join(file.read_text("utf-8") for file in (checkout / "roomir" / "faults").glob("*.py"))
    assert all(f'"{code}"' in said for code in LEVEL_FAULTS)


def test_a_clipped_take_has_no_level():
    near, far = claps_at(0.3, seed=1), claps_at(2.5, seed=2)
    clipped, clean = take_reading([near]), take_reading([far])
    remark = Remark(code="clipped", says="it goes over full scale")
    clipped = replace(clipped, takes=(replace(clipped.takes[0], concerns=(remark,)),))
    found = compare_near_far(
        [near], [far], readings=(clipped, clean), near_m=0.3, far_m=2.5, volume_m3=VOLUME_M3
    )
    assert found.verdict == "cannot tell"
    assert "levels-not-kept" in codes(found)
