"""A single sharp sound with a free decay is used, whoever made it and wherever it lies in the file."""

import numpy as np
import pytest

from roomir.audio.recording import SoundInMemory
from roomir.claps.find import LONGEST_DECAY_S, find_claps
from roomir.synth.sources import board_pulse, pop_pulse
from roomir.synth.takes import make_take
from tests.claps.events import RATE_HZ, clap_in, response, take, used

ONE_MS = 0.001


def test_three_claps_in_a_room_are_three_claps():
    room = response()
    sound = take([(t, clap_in(room, seed=i)) for i, t in enumerate((0.8, 2.6, 4.5))], duration_s=6.0)

    claps = find_claps(sound)

    assert [c.onset_s for c in used(claps)] == pytest.approx([0.8, 2.6, 4.5], abs=ONE_MS)
    assert [c.stop_s for c in used(claps)] == pytest.approx([2.6, 4.5, 6.0], abs=0.01)


@pytest.mark.parametrize("rate_hz", [8_000, 16_000, 44_100, 96_000, 192_000])
def test_a_clap_is_found_at_every_sample_rate(rate_hz):
    room = response(rate_hz=rate_hz)
    sound = take([(0.7, clap_in(room, rate_hz=rate_hz))], duration_s=2.0, rate_hz=rate_hz)

    assert [c.onset_s for c in used(find_claps(sound))] == pytest.approx([0.7], abs=ONE_MS)


@pytest.mark.parametrize("decay_time_s", [0.1, 0.25, 1.0, 2.5, 5.0])
@pytest.mark.parametrize("direct_db", [-6.0, 9.0])
def test_a_clap_is_found_in_dry_and_in_live_rooms(decay_time_s, direct_db):
    room = response(decay_time_s=decay_time_s, direct_db=direct_db)
    sound = take([(0.7, clap_in(room))], duration_s=2.0 + decay_time_s, background_db=-70.0)

    assert [c.onset_s for c in used(find_claps(sound))] == pytest.approx([0.7], abs=ONE_MS)


@pytest.mark.parametrize("make_pulse", [pop_pulse, board_pulse])
def test_a_balloon_or_two_boards_do_as_well_as_hands(make_pulse):
    pulse = make_pulse(rng=np.random.default_rng(3), sample_rate_hz=RATE_HZ)
    wet = np.convolve(response(), pulse)
    sound = take([(0.7, wet / np.abs(wet).max())], duration_s=2.0)

    assert len(used(find_claps(sound))) == 1


def test_a_clap_ten_decibels_weaker_is_as_good():
    room = response()
    sound = take([(0.7, clap_in(room)), (2.5, 0.3 * clap_in(room, seed=2))], duration_s=4.5)

    assert len(used(find_claps(sound))) == 2


def test_a_take_cut_so_that_it_begins_with_the_clap_is_read():
    whole = take([(0.5, clap_in(response()))], duration_s=2.5)
    begin = whole.samples[round(0.5 * RATE_HZ) :]
    sound = SoundInMemory(samples=begin, sample_rate_hz=RATE_HZ)

    [clap] = find_claps(sound)

    assert clap.used
    assert clap.onset_s < ONE_MS


def test_a_measured_response_with_the_direct_sound_some_milliseconds_in_is_read():
    quiet = np.zeros(round(0.006 * RATE_HZ))
    room = np.concatenate([quiet, response(decay_time_s=0.3, duration_s=1.0)])
    sound = SoundInMemory(samples=room / np.abs(room).max(), sample_rate_hz=RATE_HZ)

    [clap] = find_claps(sound)

    assert clap.used
    assert clap.onset == quiet.size


@pytest.mark.parametrize("background_db", [-34.0, -45.0])
def test_noise_before_a_clap_does_not_move_its_onset(background_db):
    room = response(decay_time_s=1.0, direct_db=0.0)
    times_s = [0.8, 3.0, 5.2, 7.4]
    events = [(t, clap_in(room, seed=i)) for i, t in enumerate(times_s)]
    claps = find_claps(take(events, duration_s=9.6, background_db=background_db))
    onsets_s = [min((c.onset_s for c in claps), key=lambda t, at=at: abs(t - at)) for at in times_s]

    assert onsets_s == pytest.approx(times_s, abs=ONE_MS)


def test_hum_as_loud_as_the_clap_does_not_move_its_onset():
    room = response()
    sound = take([(0.7, clap_in(room))], duration_s=2.0)
    hum = 0.3 * np.sin(2.0 * np.pi * 50.0 * np.arange(sound.n_frames) / RATE_HZ)
    humming = SoundInMemory(samples=sound.samples[:, 0] + hum, sample_rate_hz=RATE_HZ)

    assert [c.onset_s for c in used(find_claps(humming))] == pytest.approx([0.7], abs=ONE_MS)


@pytest.mark.parametrize("gain", [2.0**-12, 2.0**9])
def test_louder_or_softer_changes_nothing(gain):
    sound = make_take(
        seed=5,
        sample_rate_hz=RATE_HZ,
        decay_time_s=0.4,
        n_claps=3,
        distractors=("counting", "footsteps"),
    ).sound
    scaled = SoundInMemory(samples=sound.samples * np.float32(gain), sample_rate_hz=RATE_HZ)

    def as_told(claps):
        return [(c.onset, c.stop, c.set_aside_because) for c in claps]

    assert as_told(find_claps(scaled)) == as_told(find_claps(sound))


def test_silence_before_or_after_moves_the_claps_and_nothing_else():
    room = response()
    sound = take([(0.8, clap_in(room)), (2.4, clap_in(room, seed=2))], duration_s=4.0)
    silence = np.zeros((RATE_HZ, 1), dtype=np.float32)
    longer = SoundInMemory(samples=np.concatenate([silence, sound.samples, silence]), sample_rate_hz=RATE_HZ)

    later = [c.onset - RATE_HZ for c in used(find_claps(longer))]

    assert later == [c.onset for c in used(find_claps(sound))]


def test_the_same_sound_on_two_channels_is_found_once():
    sound = take([(0.8, clap_in(response()))], duration_s=2.5)
    both = SoundInMemory(
        samples=np.concatenate([sound.samples, -sound.samples], axis=1), sample_rate_hz=RATE_HZ
    )

    assert find_claps(both) == find_claps(sound)


@pytest.mark.parametrize("period_s", [0.018, 0.045, 0.11])
def test_flutter_between_two_walls_belongs_to_the_room(period_s):
    room = response(decay_time_s=0.6, direct_db=0.0)
    step = round(period_s * RATE_HZ)
    for n in range(1, room.size // step):
        room[n * step] += 0.7 * room[0] * 10.0 ** (-3.0 * n * period_s / 0.7)

    [clap] = find_claps(take([(0.8, clap_in(room))], duration_s=2.5))

    assert clap.used
    assert clap.stop_s == pytest.approx(2.5, abs=0.01)


@pytest.mark.parametrize("delay_s", [0.006, 0.014, 0.028])
def test_a_strong_early_reflection_belongs_to_the_room(delay_s):
    room = response(decay_time_s=0.6)
    room[round(delay_s * RATE_HZ)] += 0.6 * room[0]

    [clap] = find_claps(take([(0.8, clap_in(room))], duration_s=2.5))

    assert clap.used


def test_a_decay_of_two_slopes_is_still_one_decay():
    sound = response(decay_time_s=0.4, duration_s=2.0) + 0.05 * response(
        seed=2, decay_time_s=1.5, n_early=0, duration_s=2.0
    )

    [clap] = find_claps(take([(0.8, clap_in(sound))], duration_s=3.5, background_db=-75.0))

    assert clap.used


def test_an_endless_take_is_followed_no_longer_than_a_decay_lasts():
    [clap] = find_claps(take([(0.8, clap_in(response()))], duration_s=LONGEST_DECAY_S + 5.0))

    assert clap.stop_s - clap.onset_s == pytest.approx(LONGEST_DECAY_S, abs=0.01)


@pytest.mark.parametrize("samples", [np.zeros(48_000), np.zeros(0), np.ones(1), np.full(5000, 0.3)])
def test_where_nothing_happens_nothing_is_found(samples):
    assert find_claps(SoundInMemory(samples=samples, sample_rate_hz=RATE_HZ)) == ()


def test_hiss_holds_no_clap():
    hiss = 0.1 * np.random.default_rng(4).standard_normal(10 * RATE_HZ)

    assert used(find_claps(SoundInMemory(samples=hiss, sample_rate_hz=RATE_HZ))) == []


class LongSound:
    """A sound that remembers the longest stretch that was asked for."""

    def __init__(self, sound):
        self.sound = sound
        self.longest = 0

    def __getattr__(self, name):
        return getattr(self.sound, name)

    def blocks(self, *, n_frames):
        self.longest = max(self.longest, n_frames)
        return self.sound.blocks(n_frames=n_frames)

    def stretch(self, *, start, stop):
        self.longest = max(self.longest, stop - start)
        return self.sound.stretch(start=start, stop=stop)


def test_a_long_take_is_never_held_at_once():
    room = response()
    events = [(2.0 + 20.0 * i, clap_in(room, seed=i)) for i in range(3)]
    sound = LongSound(take(events, duration_s=90.0))

    assert len(used(find_claps(sound))) == 3
    assert sound.longest <= (LONGEST_DECAY_S + 0.5) * RATE_HZ
