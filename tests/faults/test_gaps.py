"""Sound that is missing or stands twice, and silence that is no gap."""

import numpy as np
import pytest

from roomir.audio.recording import SoundInMemory
from roomir.bands.band import OCTAVES
from roomir.claps.find import find_claps
from roomir.faults.gaps import find_gaps
from roomir.faults.in_sound import inspect_sounds
from roomir.faults.repeats import find_repeat
from roomir.reading.reading import Reading
from roomir.reading.take import take_reading
from roomir.synth.takes import make_take
from tests.faults.rooms import RATE_HZ, clapped, codes, inspected, recorded, rounded


def after(ms: float, *, clap: int = 0) -> int:
    return int((clapped().claps[clap].onset_s + ms / 1000.0) * RATE_HZ)


@pytest.mark.parametrize("what", ["zeros", "held"])
@pytest.mark.parametrize("ms", [1.0, 8.0, 60.0])
def test_a_dropout_in_a_decay_is_named_and_the_decay_read_up_to_it(what: str, ms: float):
    sound = rounded(clapped().samples)
    first, stop = after(120.0), after(120.0 + ms)
    sound[first:stop] = 0.0 if what == "zeros" else sound[first]
    recording = recorded(sound)

    faults, kept = inspect_sounds([recording], [find_claps(recording.sound)], bands=OCTAVES)

    assert "dropout" in codes(faults)
    assert faults[0].weighs
    (clap,) = [c for c in kept[0] if abs(c.onset - after(0.0)) < 50]
    assert clap.stop <= first + RATE_HZ // 500


def test_a_dropout_behind_the_decay_costs_nothing_but_the_rest_of_the_background():
    take = clapped(decay_time_s=0.2, background_db=-45.0)
    sound = rounded(take.samples)
    first = int((take.claps[0].onset_s + 0.8) * RATE_HZ)
    sound[first : first + RATE_HZ // 100] = 0.0

    (fault,) = [fault for fault in inspected(sound) if fault.place == 0]

    assert fault.remark.code == "dropout"
    assert not fault.weighs


def test_a_dropout_that_a_codec_has_rounded_is_named():
    rng = np.random.default_rng(5)
    sound = rounded(clapped().samples).astype(float)
    sound[after(150.0) : after(156.0)] = 1e-4 * rng.standard_normal(after(156.0) - after(150.0))

    assert "dropout" in codes(inspected(sound.astype(np.float32), codec="AAC"))


def test_digital_silence_around_a_take_is_no_dropout():
    sound = rounded(clapped().samples)
    silence = np.zeros(RATE_HZ, dtype=np.float32)

    assert codes(inspected(np.concatenate([silence, sound, silence]))) == set()


@pytest.mark.parametrize("bits", [8, 10, 12])
def test_a_faint_background_in_coarse_steps_has_no_dropouts(bits: int):
    found = codes(inspected(rounded(clapped(background_db=-45.0).samples, bits=bits)))

    # Of 8 bits one step is more than all of this background.
    assert found <= ({"rounded-away"} if bits == 8 else set())


def test_silence_between_the_first_reflections_of_a_calculated_response_is_no_dropout():
    response = np.zeros(RATE_HZ, dtype=np.float32)
    response[np.array([0, 140, 600, 1400, 1900, 2600, 3900])] = [1.0, -0.6, 0.5, 0.3, -0.2, 0.2, 0.1]

    assert find_gaps(response, rate_hz=RATE_HZ) == []


def test_a_block_written_twice_is_named_wherever_the_copy_stands():
    sound = rounded(clapped().samples)
    at, n = after(140.0), RATE_HZ // 50

    over = sound.copy()
    over[at : at + n] = sound[at - n : at]
    put_in = np.concatenate([sound[:at], sound[at - n : at], sound[at:]])

    for faulty in (over, put_in):
        (fault,) = [fault for fault in inspected(faulty) if fault.place == 0]
        assert fault.remark.code == "repeated-block"
        assert "20 ms of sound a second time" in fault.remark.says


def test_the_repeat_is_found_to_the_sample():
    sound = np.random.default_rng(1).standard_normal(9000).astype(np.float32)
    sound[5000:5600] = sound[4100:4700]

    repeat = find_repeat(sound, rate_hz=RATE_HZ)

    assert repeat is not None
    assert (repeat.first, repeat.stop, repeat.lag) == (5000, 5600, 900)


def test_a_hum_in_coarse_steps_does_not_repeat_itself():
    hum = 0.03 * np.sin(2.0 * np.pi * 50.0 * np.arange(RATE_HZ) / RATE_HZ)

    assert find_repeat(rounded(hum, bits=8), rate_hz=RATE_HZ) is None


def test_a_beep_with_flat_tops_is_neither_clipped_nor_full_of_dropouts():
    take = clapped(seed=6)
    sound = np.array(take.samples)
    beep = 0.2 * np.sign(np.sin(2.0 * np.pi * 700.0 * np.arange(RATE_HZ // 4) / RATE_HZ))
    quiet = SoundInMemory(samples=sound, sample_rate_hz=RATE_HZ).n_frames

    assert codes(inspected(rounded(np.concatenate([sound, beep, 0.001 * sound[: quiet // 2]])))) <= {
        "clipped",
        "rounded-away",
    }
    assert "dropout" not in codes(inspected(rounded(np.concatenate([sound, beep, sound]))))


def lost(*, of: int, claps: int, after_s: float, background_db: float = -60.0) -> Reading:
    """Read a take in which so many claps have lost 10 ms of their decay."""
    take = make_take(
        seed=3,
        sample_rate_hz=RATE_HZ,
        decay_time_s=0.5,
        n_claps=claps,
        spots=claps,
        background_db=background_db,
        spacing_s=(1.7, 1.8),
    )
    sound = rounded(take.samples)
    for clap in take.claps[:of]:
        first = int((clap.onset_s + after_s) * RATE_HZ)
        sound[first : first + RATE_HZ // 100] = 0.0
    return take_reading([recorded(sound)])


def _all_codes(reading: Reading) -> set[str]:
    return {remark.code for band in reading.bands for remark in band.figures.reasons}


def test_one_clap_struck_among_five_is_left_out_and_the_others_stand():
    reading = lost(of=1, claps=5, after_s=0.1)
    (take,) = reading.takes

    assert [clap.used for clap in take.claps] == [False, True, True, True, True]
    assert take.claps[0].set_aside_because is not None
    assert take.claps[0].set_aside_because.code == "dropout"
    assert "dropout" not in _all_codes(reading)


def test_claps_that_are_all_struck_are_read_as_far_as_they_go_and_not_trusted():
    reading = lost(of=3, claps=3, after_s=0.1)

    assert all(clap.used for clap in reading.takes[0].claps)
    assert "dropout" in _all_codes(reading)
    assert "reliable" not in {band.figures.verdict for band in reading.bands}


def test_a_dropout_late_in_a_decay_is_said_and_lowers_no_verdict():
    reading = lost(of=1, claps=3, after_s=0.38)
    (take,) = reading.takes

    assert all(clap.used for clap in take.claps)
    assert [remark.code for remark in take.claps[0].concerns] == ["dropout"]
    assert "dropout" not in {
        remark.code
        for band in reading.bands[3:]
        for remark in band.figures.reasons
        if (take.claps[0].bands[reading.bands.index(band)].decay_range_db or 0.0) >= 35.0
    }
    read_far = [figures.decay_range_db or 0.0 for figures in take.claps[0].bands]
    assert max(read_far) >= 35.0


def test_silence_between_direct_sound_and_the_first_reflections_is_no_dropout():
    rng = np.random.default_rng(5)
    sound = (rng.standard_normal(RATE_HZ // 2) * np.exp(-np.arange(RATE_HZ // 2) / 4000.0)).astype(np.float32)
    onset = 4800
    sound = np.concatenate([np.float32(1e-4) * rng.standard_normal(onset).astype(np.float32), 0.5 * sound])
    silent = slice(onset + 400, onset + 700)
    sound[silent] *= np.float32(1e-3)

    assert find_gaps(sound, rate_hz=RATE_HZ)
    assert not find_gaps(sound, rate_hz=RATE_HZ, onset=onset)


def test_a_clap_cut_by_a_dropout_is_set_aside_for_it_and_not_for_the_sound_that_comes_back():
    take = clapped(seed=11, background_db=-65.0, n_claps=3)
    sound = np.array(take.samples)
    at = int((take.claps[0].onset_s + 0.1) * RATE_HZ)
    sound[at : at + RATE_HZ // 50] = 0.0
    recording = recorded(rounded(sound))
    found = find_claps(recording.sound)
    assert found[0].set_aside_because is not None
    assert found[0].set_aside_because.code == "second-event-in-decay"

    _, kept = inspect_sounds([recording], [found], bands=OCTAVES)

    assert kept[0][0].set_aside_because is not None
    assert kept[0][0].set_aside_because.code == "dropout"
