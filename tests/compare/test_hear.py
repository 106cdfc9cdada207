"""Before and after in one sound: what is written, how loud, and when it is refused."""

import numpy as np
import pyloudnorm
import pytest
import soundfile

import roomir
from roomir import api
from roomir.compare.chords import find_same_chords
from roomir.compare.hear import GAP_S, audition
from roomir.errors import RoomirError
from tests.compare.strummed import played
from tests.readings import nothing_read

SONG = "C G Am F C G E Am"


def takes(sample_data, pattern):
    return sorted(sample_data.glob(pattern))


@pytest.fixture(scope="module")
def sides(sample_data):
    """Hands in the dairy with curtains, and with panels."""
    before, after = (
        takes(sample_data, f"dairy_{which}") for which in ("3_curtains_spot4*", "4_panels_spot2*")
    )
    return before, after, roomir.read(before), roomir.read(after)


def test_the_same_clap_is_written_twice_and_equally_loud(sides, tmp_path):
    before, after, *readings = sides
    comparison = api.compare_readings(*readings)
    made = api.hear(
        comparison, before=map(api.Source, before), after=map(api.Source, after), path=tmp_path / "x.wav"
    )
    sound, rate_hz = soundfile.read(tmp_path / "x.wav")
    assert made.passage.kind == "clap"
    length = round(made.passage.before.length_s * rate_hz)
    gap = round(GAP_S * rate_hz)
    assert sound.size == pytest.approx(2 * length + gap, abs=4)
    assert np.abs(sound).max() == pytest.approx(0.89, abs=0.01)
    assert not np.any(sound[length + 2 : length + gap - 2])
    # Rec. ITU-R BS.1770, measured again on what was written.
    loudness = [
        pyloudnorm.Meter(rate_hz).integrated_loudness(part) for part in (sound[:length], sound[-length:])
    ]
    assert loudness[0] == pytest.approx(loudness[1], abs=0.1)
    assert loudness[0] == pytest.approx(made.loudness_lufs, abs=0.1)


def test_what_exists_is_never_overwritten(sides, tmp_path):
    before, after, *readings = sides
    (tmp_path / "x.wav").write_text("a recording, for all roomir knows")
    with pytest.raises(RoomirError) as refused:
        api.hear(
            api.compare_readings(*readings),
            before=map(api.Source, before),
            after=map(api.Source, after),
            path=tmp_path / "x.wav",
        )
    assert refused.value.code == "exists-already"


def test_the_same_chords_are_found_at_another_tempo_and_in_another_place():
    before = played(SONG, decay_time_s=1.2, seed=1)
    after = played("E F " + SONG, decay_time_s=0.4, seed=2, tempo=1.04)
    found = audition(nothing_read(), nothing_read(), recordings=([before], [after]))
    assert found.passage.kind == "chords"
    # Two chords more come before them.
    assert found.passage.after.start_s - found.passage.before.start_s == pytest.approx(2.0, abs=0.6)


@pytest.mark.parametrize("other", ["Bb Eb Cm Bb Eb Cm Bb Eb", "E Am Eb F Bb E Cm F"])
def test_other_chords_are_nothing_to_compare(other):
    before, after = played(SONG, decay_time_s=1.2, seed=1), played(other, decay_time_s=0.4, seed=3)
    assert find_same_chords([before], [after]) is None
    with pytest.raises(RoomirError, match="nothing to be heard"):
        audition(nothing_read(), nothing_read(), recordings=([before], [after]))


def test_noise_and_silence_are_no_chords():
    song = played(SONG, decay_time_s=0.5, seed=1)
    hiss = song.__class__(
        sound=song.sound.__class__(
            samples=np.random.default_rng(1).standard_normal(100_000).astype(np.float32) * 0.1,
            sample_rate_hz=16_000,
        ),
        source_name="hiss.wav",
    )
    assert find_same_chords([hiss], [hiss]) is None
    assert find_same_chords([song], []) is None
