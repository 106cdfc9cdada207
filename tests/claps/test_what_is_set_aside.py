"""What is no clap, or no clap that can be read, is set aside, and the reason is told."""

import numpy as np
import pytest

from roomir.audio.recording import SoundInMemory
from roomir.claps.find import find_claps
from roomir.synth.distractors import KINDS, speech
from roomir.synth.takes import make_take
from tests.claps.events import RATE_HZ, clap_in, codes, response, take, used

SEEDS = range(40, 43)
SINGLE_BLOWS = {"dropped-object", "knock-with-rattle", "flam"}
"""Kinds that may come as one clean blow, which is as good as a clap; they have tests of their own."""


@pytest.mark.parametrize("kind", sorted(set(KINDS) - SINGLE_BLOWS))
@pytest.mark.parametrize("seed", SEEDS)
def test_only_the_claps_are_used_where_there_is_also(kind, seed):
    known = make_take(
        seed=seed, sample_rate_hz=RATE_HZ, decay_time_s=0.45, n_claps=2, distractors=(kind,), spots=2
    )

    claps = find_claps(known.sound)

    assert [c.onset_s for c in used(claps)] == pytest.approx([c.onset_s for c in known.claps], abs=0.001)
    assert all(c.set_aside_because.says for c in claps if not c.used)


def test_two_claps_in_quick_succession_are_both_set_aside():
    room = response(decay_time_s=0.8)
    sound = take([(0.8, clap_in(room)), (0.92, clap_in(room, seed=2))], duration_s=3.0)

    assert set(codes(find_claps(sound))) == {"second-event-in-decay", "follows-another-sound"}
    assert used(find_claps(sound)) == []


def test_hands_that_meet_twice_are_set_aside():
    room = response(decay_time_s=0.5, direct_db=9.0, n_early=0)
    sound = take([(0.8, clap_in(room)), (0.835, clap_in(room, seed=2))], duration_s=2.5)

    assert codes(find_claps(sound))[0] == "struck-twice"


def test_something_dropped_that_bounces_on_is_set_aside():
    room = response(decay_time_s=1.2)
    bounces = [(0.8, 1.0), (1.0, 0.7), (1.14, 0.5), (1.24, 0.35)]
    sound = take([(t, a * clap_in(room, seed=i)) for i, (t, a) in enumerate(bounces)], duration_s=3.5)

    assert used(find_claps(sound)) == []


def test_a_tail_that_runs_into_the_next_event_is_cut_there():
    room = response(decay_time_s=0.9)
    sound = take([(0.8, clap_in(room)), (1.5, clap_in(room, seed=2))], duration_s=4.0)

    first, second = used(find_claps(sound))

    assert first.stop_s == pytest.approx(1.5, abs=0.002)
    assert second.stop_s == pytest.approx(4.0, abs=0.01)


def test_talk_that_begins_in_a_tail_ends_it():
    room = response(decay_time_s=0.9)
    dry = speech(rng=np.random.default_rng(5), sample_rate_hz=RATE_HZ)
    n = dry.size + room.size
    talk = np.fft.irfft(np.fft.rfft(dry, n) * np.fft.rfft(room, n), n)
    sound = take([(0.8, clap_in(room)), (1.5, 0.3 * talk / np.abs(talk).max())], duration_s=5.0)

    [clap] = used(find_claps(sound))

    assert 1.3 <= clap.stop_s <= 1.6


def test_a_clap_with_too_little_of_its_decay_before_the_next_sound_is_set_aside():
    room = response(decay_time_s=4.0)
    sound = take([(0.8, clap_in(room)), (1.3, clap_in(room, seed=2))], duration_s=7.0)

    claps = find_claps(sound)

    assert codes(claps)[0] == "second-event-in-decay"
    assert "20 dB are needed" in claps[0].set_aside_because.says


def test_a_clap_that_hardly_stands_out_of_the_noise_is_too_weak():
    room = response(decay_time_s=0.8)
    sound = take([(0.8, clap_in(room))], duration_s=3.0, background_db=-21.0)

    assert used(find_claps(sound)) == []
    assert {"too-weak", "no-room-in-it", "not-impulsive"} >= set(codes(find_claps(sound)))


def test_a_click_of_the_recorder_has_no_room_in_it():
    click = np.zeros(100)
    click[:3] = 1.0

    assert codes(find_claps(take([(0.8, click)], duration_s=2.0))) == ["no-room-in-it"]


@pytest.mark.parametrize("left_s", [0.02, 0.06, 0.1])
def test_a_clap_right_before_the_end_of_the_recording_is_not_blamed_on_another_sound(left_s):
    room = response(decay_time_s=0.8)
    sound = take([(0.8, clap_in(room))], duration_s=3.0)

    claps = find_claps(
        SoundInMemory(samples=sound.samples[: round((0.8 + left_s) * RATE_HZ)], sample_rate_hz=RATE_HZ)
    )

    assert codes(claps) == ["stops-inside-decay"]
    assert "the recording ends" in claps[0].set_aside_because.says


def test_a_click_amid_digital_silence_is_followed_by_no_sound():
    samples = np.zeros((RATE_HZ, 1), dtype=np.float32)
    samples[RATE_HZ // 2] = 0.5

    claps = find_claps(SoundInMemory(samples=samples, sample_rate_hz=RATE_HZ))

    assert codes(claps) == ["no-room-in-it"]
    assert "silence follows" in claps[0].set_aside_because.says


def test_a_thump_is_too_dull():
    time_s = np.arange(round(0.2 * RATE_HZ)) / RATE_HZ
    thump = np.sin(2.0 * np.pi * 90.0 * time_s) * np.exp(-time_s / 0.03)
    tick = np.random.default_rng(2).standard_normal(time_s.size) * np.exp(-time_s / 0.0007)
    wet = np.convolve(response(decay_time_s=0.7), thump + 0.05 * tick)

    assert codes(find_claps(take([(0.8, wet / np.abs(wet).max())], duration_s=3.0)))[0] == "too-dull"


def test_noise_that_swells_is_not_impulsive():
    time_s = np.arange(round(0.4 * RATE_HZ)) / RATE_HZ
    noise = np.random.default_rng(2).standard_normal(time_s.size)
    swelling = noise * np.minimum(1.0, time_s / 0.03) * np.exp(-time_s / 0.1)
    wet = np.convolve(response(decay_time_s=0.7), swelling)

    assert used(find_claps(take([(0.8, wet / np.abs(wet).max())], duration_s=3.0))) == []


def test_a_dropout_is_no_clap():
    sound = take([(0.8, clap_in(response()))], duration_s=3.0, background_db=-40.0).samples.copy()
    sound[2 * RATE_HZ : 2 * RATE_HZ + 2000] = 0.0

    claps = find_claps(SoundInMemory(samples=sound, sample_rate_hz=RATE_HZ))

    assert [c.onset_s for c in used(claps)] == pytest.approx([0.8], abs=0.001)
