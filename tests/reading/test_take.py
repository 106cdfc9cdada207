"""From recordings to a reading: what is given, what is withheld and why. All rooms invented."""

import math
from dataclasses import fields, is_dataclass, replace
from datetime import UTC, datetime

import numpy as np
import pytest

from roomir.bands.band import OCTAVES, carries
from roomir.claps.clap import Clap
from roomir.reading.reading import MidFigures
from roomir.reading.take import read_claps, take_reading
from roomir.remarks import Remark
from tests.decays import clap_at, lead_of, noise_decay, take_of, take_of_claps

RATE_HZ = 24_000
"""The lowest rate that carries the 8 kHz octave."""

MEASURED = ("edt_s", "t20_s", "t30_s", "decay_time_s", "c50_db", "c80_db", "d50", "ts_s")


def claps(seed, *, n_spots=1, per_spot=1, background_db=-55.0, decay_time_s=0.5, rate_hz=RATE_HZ, **which):
    """Sounds of claps in spots, one array a clap; in one spot the same response with another background."""
    rng = np.random.default_rng(seed)
    out = []
    for _ in range(n_spots):
        response = noise_decay(
            rng,
            decay_time_s=decay_time_s,
            sample_rate_hz=rate_hz,
            duration_s=2.0 * decay_time_s + 0.4,
            **which,
        )
        for _ in range(per_spot):
            hiss = rng.standard_normal(response.size) * 10.0 ** (background_db / 20.0)
            out.append(response + hiss)
    return out


def read_sounds(sounds, *, rate_hz=RATE_HZ, **options):
    """One reading of one take with all the sounds in it."""
    recording, found = take_of_claps(sounds, sample_rate_hz=rate_hz)
    return read_claps([recording], [found], **options)


def by_octave(reading):
    return {band.figures.band.nominal_hz: band.figures for band in reading.bands}


def codes(figures):
    return {remark.code for remark in figures.reasons}


def walk(value):
    """Every number anywhere in a frozen object."""
    if is_dataclass(value):
        for one in fields(value):
            yield from walk(getattr(value, one.name))
    elif isinstance(value, tuple | list):
        for one in value:
            yield from walk(one)
    elif isinstance(value, float | np.floating):
        yield float(value)


@pytest.fixture(scope="module")
def good():
    """Reading of one clap in each of five spots, 55 dB above the background."""
    return read_sounds(claps(1, n_spots=5))


@pytest.fixture(scope="module")
def noisy():
    """Reading of two claps in one spot, 30 dB above the background."""
    return read_sounds(claps(2, per_spot=2, background_db=-30.0))


# --- what is given -----------------------------------------------------------------------------------------


def test_a_good_take_is_read_in_every_octave(good):
    assert [band.figures.band for band in good.bands] == list(OCTAVES)
    for band in good.bands:
        figures = band.figures
        if figures.band.nominal_hz >= 250.0:
            assert figures.verdict in ("reliable", "indicative")
            assert figures.decay_time_s == pytest.approx(0.5, rel=0.15)
            assert all(getattr(figures, name) is not None for name in MEASURED)
            assert band.claps_used == band.spots == 5
            assert figures.bt == pytest.approx(figures.band.width_hz * figures.decay_time_s)
    for hz in (1000.0, 2000.0, 4000.0, 8000.0):
        assert by_octave(good)[hz].verdict == "reliable"


def test_mid_and_bass_ratio_are_what_their_names_say(good):
    found = by_octave(good)
    time = {hz: found[hz].decay_time_s for hz in (125.0, 250.0, 500.0, 1000.0)}
    assert good.mid.decay_time_s == pytest.approx(0.5 * (time[500.0] + time[1000.0]))
    assert good.mid.t20_s == pytest.approx(0.5 * (found[500.0].t20_s + found[1000.0].t20_s))
    assert good.bass_ratio == pytest.approx((time[125.0] + time[250.0]) / (time[500.0] + time[1000.0]))
    low_s, high_s = good.mid.ci95_s
    assert low_s < good.mid.decay_time_s < high_s
    # Two unrelated bands: the interval of their mean is narrower than the wider of both.
    widest = max(found[hz].ci95_s[1] - found[hz].ci95_s[0] for hz in (500.0, 1000.0))
    assert high_s - low_s < widest


def test_a_take_keeps_its_claps_in_order_with_their_bands(good):
    (take,) = good.takes
    assert len(take.claps) == 5
    onsets = [clap.onset_s for clap in take.claps]
    assert onsets == sorted(onsets)
    assert all(clap.used and len(clap.bands) == len(OCTAVES) for clap in take.claps)
    assert (take.sample_rate_hz, take.channels) == (RATE_HZ, 1)
    assert take.concerns == ()


def test_what_a_recording_tells_of_itself_is_kept():
    recording, found = take_of_claps(claps(3), sample_rate_hz=RATE_HZ, name="dairy.m4a")
    when = datetime(2024, 5, 3, 18, 30, tzinfo=UTC)
    note = Remark(code="second-track", says="a second track was left aside")
    recording = replace(
        recording, source_sha256="ab", recorded_at=when, recorded_at_from="metadata", notes=(note,)
    )
    (take,) = read_claps([recording], [found]).takes
    assert (take.path, take.sha256, take.recorded_at) == ("dairy.m4a", "ab", when)
    assert take.recorded_at_from == "metadata"
    assert note in take.notes
    assert take.duration_s == pytest.approx(recording.sound.n_frames / RATE_HZ)


def test_third_octaves_are_read_as_well():
    reading = read_sounds(claps(4, n_spots=2), band_set="third-octave")
    assert reading.band_set == "third-octave"
    assert len(reading.bands) == 24
    found = by_octave(reading)
    for hz in (500.0, 1000.0, 4000.0):
        assert found[hz].decay_time_s == pytest.approx(0.5, rel=0.2)
    assert reading.mid.decay_time_s == pytest.approx(0.5, rel=0.1)


# --- what is withheld --------------------------------------------------------------------------------------


def test_where_the_range_is_missing_figures_are_none_and_the_reason_has_both_numbers(noisy):
    for hz in (500.0, 1000.0, 2000.0, 4000.0):
        figures = by_octave(noisy)[hz]
        assert 25.0 < figures.decay_range_db < 35.0
        assert figures.t20_s is figures.t30_s is figures.curvature_percent is None
        assert figures.decay_time_s == pytest.approx(0.5, rel=0.2)
        assert figures.verdict != "reliable"
        assert {"t20-withheld", "t30-withheld", "later-decay-hidden"} <= codes(figures)
        withheld = next(remark for remark in figures.reasons if remark.code == "t20-withheld")
        assert "35" in withheld.says
        assert f"{math.floor(10.0 * figures.decay_range_db) / 10.0:.1f}" in withheld.says
        assert withheld.remedy


def test_between_35_and_45_db_there_is_t20_but_no_t30():
    found = by_octave(read_sounds(claps(5, n_spots=2, background_db=-40.0)))
    for hz in (1000.0, 2000.0, 4000.0):
        assert found[hz].t20_s is not None
        assert found[hz].t30_s is None
        assert found[hz].curvature_percent is None
        assert found[hz].nonlinearity_permille is not None


def test_a_decay_that_hardly_shows_has_no_decay_time():
    found = by_octave(read_sounds(claps(6, background_db=-9.0)))
    for figures in found.values():
        assert figures.verdict == "unusable"
        assert figures.reasons
        if figures.decay_time_s is None:
            assert figures.ci95_s is figures.spot_ci95_s is figures.bt is None
    assert all(found[hz].decay_time_s is None for hz in (63.0, 125.0))


def with_loud_octave(sounds, *, low_hz, high_hz, rate_hz=RATE_HZ):
    """The same sounds under a background that fills one octave."""
    rng, out = np.random.default_rng(7), []
    for sound in sounds:
        spectrum = np.fft.rfft(rng.standard_normal(sound.size))
        frequency_hz = np.fft.rfftfreq(sound.size, 1.0 / rate_hz)
        spectrum[(frequency_hz < low_hz) | (frequency_hz > high_hz)] = 0.0
        out.append(sound + 3.0 * np.fft.irfft(spectrum, sound.size))
    return out


@pytest.mark.parametrize(("low_hz", "high_hz", "mid_is_given"), [(710.0, 1410.0, False), (90.0, 178.0, True)])
def test_mid_and_bass_ratio_are_none_where_a_member_is_missing(low_hz, high_hz, mid_is_given):
    reading = read_sounds(with_loud_octave(claps(8, n_spots=2), low_hz=low_hz, high_hz=high_hz))
    missing_hz = 1000.0 if not mid_is_given else 125.0
    assert by_octave(reading)[missing_hz].decay_time_s is None
    assert reading.bass_ratio is None
    assert (reading.mid.decay_time_s is not None) == mid_is_given
    assert (reading.mid.ci95_s is not None) == mid_is_given


def test_without_a_clap_there_are_no_bands_and_the_file_is_named():
    recording = take_of(
        np.random.default_rng(9).standard_normal(RATE_HZ), sample_rate_hz=RATE_HZ, name="attic"
    )
    reading = read_claps([recording], [()])
    assert reading.bands == ()
    assert reading.mid == MidFigures()
    assert reading.bass_ratio is None
    (failure,) = reading.failures
    assert failure.path == "attic"
    assert "attic" in failure.says
    assert failure.code == "no-clap-found"
    assert failure.remedy


def test_an_event_set_aside_is_kept_with_its_reason_and_not_read():
    recording, found = take_of_claps(claps(10, n_spots=2), sample_rate_hz=RATE_HZ)
    speech = Remark(code="sounds-like-speech", says="it swells and lasts like a voice", remedy="keep silent")
    aside = replace(found[1], set_aside_because=speech)
    reading = read_claps([recording], [(found[0], aside)])
    assert [clap.used for clap in reading.takes[0].claps] == [True, False]
    assert reading.takes[0].claps[1].set_aside_because is speech
    assert reading.takes[0].claps[1].bands == ()
    alone = read_claps([recording], [(found[0],)])
    assert reading.bands == alone.bands


# --- rates -------------------------------------------------------------------------------------------------


def test_a_take_of_8000_samples_a_second_names_the_bands_it_cannot_carry():
    reading = read_sounds(claps(11, rate_hz=8_000), rate_hz=8_000)
    found = by_octave(reading)
    for hz in (4000.0, 8000.0):
        assert found[hz].verdict == "unusable"
        assert codes(found[hz]) == {"rate-too-low"}
        assert all(getattr(found[hz], name) is None for name in MEASURED)
    for hz in (500.0, 1000.0, 2000.0):
        assert found[hz].decay_time_s == pytest.approx(0.5, rel=0.2)
    (note,) = (note for note in reading.takes[0].notes if note.code == "rate-too-low")
    assert "8000" in note.says
    assert "4 kHz, 8 kHz" in note.says
    assert "48000" in note.remedy


@pytest.mark.parametrize(
    ("nominal_hz", "rate_hz", "expected"),
    [(8000.0, 24_000, True), (8000.0, 22_050, False), (4000.0, 16_000, True), (4000.0, 11_025, False)],
)
def test_a_band_is_carried_where_the_rate_holds_all_of_it(nominal_hz, rate_hz, expected):
    band = next(band for band in OCTAVES if band.nominal_hz == nominal_hz)
    assert carries(band, sample_rate_hz=rate_hz) == expected


def test_takes_of_different_rates_are_read_together():
    slow = take_of_claps(claps(12, rate_hz=8_000), sample_rate_hz=8_000, name="slow")
    fast = take_of_claps(claps(13), sample_rate_hz=RATE_HZ, name="fast")
    reading = read_claps([slow[0], fast[0]], [slow[1], fast[1]])
    used = {band.figures.band.nominal_hz: band.claps_used for band in reading.bands}
    assert used[1000.0] == 2
    assert used[4000.0] == used[8000.0] == 1
    slow_bands = reading.takes[0].claps[0].bands
    assert {remark.code for remark in slow_bands[-1].reasons} == {"rate-too-low"}


# --- channels ----------------------------------------------------------------------------------------------


def test_two_channels_with_the_same_sound_read_as_one():
    sound = claps(14)[0]
    one = by_octave(read_sounds([sound]))
    two = by_octave(read_sounds([np.stack([sound, sound], axis=1)]))
    for hz in one:
        for name in (*MEASURED, "decay_range_db", "fitted_range_db"):
            assert getattr(two[hz], name) == pytest.approx(getattr(one[hz], name), rel=1e-4)
        if one[hz].ci95_s is not None:
            assert two[hz].ci95_s == pytest.approx(one[hz].ci95_s, rel=1e-3)
        assert two[hz].verdict == one[hz].verdict


def test_two_channels_that_differ_are_combined_and_are_one_spot():
    left, right = claps(15)[0], claps(16)[0]
    reading = read_sounds([np.stack([left, right], axis=1)])
    assert reading.takes[0].channels == 2
    one = by_octave(read_sounds([left]))
    for band in reading.bands:
        if band.figures.band.nominal_hz >= 500.0:
            assert band.spots == band.claps_used == 1
            assert band.figures.decay_time_s == pytest.approx(0.5, rel=0.1)
            # Two ears hear more of the decay than one.
            narrow, wide = band.figures.spot_ci95_s, one[band.figures.band.nominal_hz].spot_ci95_s
            assert math.log(narrow[1] / narrow[0]) < math.log(wide[1] / wide[0])


# --- where the clap lies -----------------------------------------------------------------------------------


def test_a_file_that_begins_with_the_clap_is_read():
    sound = claps(17)[0][lead_of(RATE_HZ) :]
    recording = take_of(sound, sample_rate_hz=RATE_HZ)
    whole = by_octave(read_sounds(claps(17)))
    trimmed = by_octave(read_claps([recording], [(clap_at(0, stop=sound.size, sample_rate_hz=RATE_HZ),)]))
    for hz in (250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0):
        assert trimmed[hz].decay_time_s == pytest.approx(whole[hz].decay_time_s, rel=0.02)


def test_the_next_event_ends_the_decay():
    sound = claps(18, decay_time_s=1.0)[0]
    loud = sound.copy()
    cut = lead_of(RATE_HZ) + round(0.6 * RATE_HZ)
    loud[cut:] += np.random.default_rng(19).standard_normal(sound.size - cut)
    # Same scale for both: the later event must not change what is heard before it.
    recording = take_of(loud, sample_rate_hz=RATE_HZ)
    found = by_octave(
        read_claps([recording], [(clap_at(lead_of(RATE_HZ), stop=cut, sample_rate_hz=RATE_HZ),)])
    )
    for hz in (500.0, 1000.0, 2000.0, 4000.0):
        assert found[hz].decay_time_s == pytest.approx(1.0, rel=0.2)
        assert 25.0 < found[hz].decay_range_db < 42.0
        assert "decay-cut-off" in codes(found[hz])
        assert found[hz].verdict != "reliable"


def test_many_claps_in_one_spot_are_one_spot_and_files_are_read_like_claps():
    sounds = claps(20, n_spots=2, per_spot=2)
    in_one = read_sounds(sounds)
    apart = [take_of_claps([sound], sample_rate_hz=RATE_HZ, name=f"{i}") for i, sound in enumerate(sounds)]
    in_four = read_claps([recording for recording, _ in apart], [found for _, found in apart])
    for one, four in zip(in_one.bands, in_four.bands, strict=True):
        if one.figures.band.nominal_hz >= 250.0:
            assert one.spots == four.spots == 2
            assert one.claps_used == four.claps_used == 4
            assert four.figures.decay_time_s == pytest.approx(one.figures.decay_time_s, rel=0.01)


# --- no number that is none --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "sound",
    [
        pytest.param(np.eye(1, RATE_HZ, 3000)[0], id="a lone impulse in digital silence"),
        pytest.param(np.ones(RATE_HZ), id="a constant"),
        pytest.param(np.sin(np.arange(RATE_HZ)), id="a tone"),
        pytest.param(np.eye(1, 4000, 3999)[0], id="an impulse on the last frame"),
        pytest.param(np.random.default_rng(0).standard_normal(RATE_HZ), id="hiss"),
        pytest.param(
            np.exp(-np.arange(RATE_HZ) / 20.0) * np.random.default_rng(1).standard_normal(RATE_HZ),
            id="no room",
        ),
    ],
)
def test_whatever_is_taken_for_a_clap_there_is_never_a_nan(sound):
    recording = take_of(sound, sample_rate_hz=RATE_HZ)
    at = int(np.argmax(np.abs(sound)))
    reading = read_claps(
        [recording], [(Clap(onset=at, stop=sound.size, sample_rate_hz=RATE_HZ, peak_dbfs=-6.0),)]
    )
    assert all(math.isfinite(number) for number in walk(reading))


def test_no_reading_holds_a_nan_or_infinity(good, noisy):
    for reading in (good, noisy):
        numbers = list(walk(reading))
        assert len(numbers) > 200
        assert all(math.isfinite(number) for number in numbers)


def test_intervals_lie_around_their_times(good, noisy):
    for reading in (good, noisy):
        for band in reading.bands:
            for figures in (band.figures, *(clap.bands[0] for clap in reading.takes[0].claps)):
                for interval in (figures.ci95_s, figures.spot_ci95_s):
                    if interval is not None:
                        assert interval[0] < figures.decay_time_s < interval[1]


def test_the_whole_way_from_sound_to_reading_finds_the_claps_itself():
    recording, found = take_of_claps(
        claps(21, n_spots=4, direct_db=3.0, rate_hz=48_000), sample_rate_hz=48_000
    )
    reading = take_reading([recording])
    used = [clap.onset_s for clap in reading.takes[0].claps if clap.used]
    assert used == pytest.approx([clap.onset_s for clap in found], abs=0.001)
    assert reading.mid.decay_time_s == pytest.approx(0.5, rel=0.1)
