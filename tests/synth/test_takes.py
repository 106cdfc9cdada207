"""Takes say the truth about themselves."""

import numpy as np
import pytest

from roomir.bands.band import OCTAVES
from roomir.errors import ParameterError
from roomir.synth.corpus import draw_take
from roomir.synth.decay import Slope
from roomir.synth.distractors import KINDS
from roomir.synth.takes import Flutter, make_take

RATE_HZ = 48_000


def make(**changes):
    settings = {"seed": 1, "sample_rate_hz": RATE_HZ, "decay_time_s": 0.5, "n_claps": 2}
    return make_take(**(settings | changes))


def octave(sound, *, centre_hz):
    """Cut the middle of an octave out, with edges that ring little."""
    spectrum = np.fft.rfft(sound, 2 * sound.size)
    frequency = np.fft.rfftfreq(2 * sound.size, 1.0 / RATE_HZ)
    away = np.abs(np.log2(np.maximum(frequency, 1e-3) / centre_hz))
    return np.fft.irfft(spectrum * np.cos(np.pi * np.clip(away, 0.0, 0.5)) ** 2)[: sound.size]


def decay_time_s(response):
    """Decay time from -5 to -35 dB of the backward-integrated energy (ISO 3382-1:2009, 5.3)."""
    level_db = 10.0 * np.log10(np.cumsum(response[::-1] ** 2)[::-1] / np.sum(response**2))
    inside = np.flatnonzero((level_db < -5.0) & (level_db > -35.0))
    return -60.0 / np.polyfit(inside / RATE_HZ, level_db[inside], 1)[0]


def test_each_octave_dies_away_as_told():
    told = {250.0: 0.9, 500.0: 0.9, 1000.0: 0.6, 2000.0: 0.4, 4000.0: 0.4}
    take = make(decay_time_s=told, direct_to_reverberant_db=-20.0, n_early=0, spots=4)

    for centre_hz in (250.0, 4000.0):  # with a neighbour that falls alike
        heard = [decay_time_s(octave(r, centre_hz=centre_hz)) for r in take.responses]
        assert np.mean(heard) == pytest.approx(told[centre_hz], rel=0.05)


def test_the_direct_sound_is_as_strong_as_told():
    [response] = make(direct_to_reverberant_db=6.0, n_early=0).responses

    assert 10.0 * np.log10(response[0] ** 2 / np.sum(response[1:] ** 2)) == pytest.approx(6.0, abs=0.2)


def test_each_clap_begins_where_told():
    take = make(background_db=None, level_spread_db=0.0)

    for clap in take.claps:
        start = round(clap.onset_s * RATE_HZ)
        assert np.abs(take.samples[start : start + 4800]).max() == pytest.approx(clap.peak, rel=1e-4)
        assert abs(take.samples[start]) >= 0.1 * clap.peak * (1.0 - 1e-4)
        assert np.abs(take.samples[max(start - 48, 0) : start]).max() < 0.1 * clap.peak


def test_each_decay_stands_over_the_background_as_told():
    i_octave = [band.nominal_hz for band in OCTAVES].index(1000.0)
    # 0.15 s of 60 dB in 0.5 s lie between the onset and the middle of a stretch of 12 dB; the
    # mean over it is sinh(x)/x times its middle, with x half of 12 dB in nepers of energy.
    half = 0.5 * 12.0 * np.log(10.0) / 10.0
    off_db = []
    for seed in range(8):
        take = make(seed=seed, n_claps=1, background_db=-50.0, lead_s=1.0, n_early=0)
        sound = octave(take.samples.astype(np.float64), centre_hz=1000.0)
        begin = round((take.claps[0].onset_s + 0.1) * RATE_HZ)
        over = np.mean(sound[begin : begin + 4800] ** 2) / np.mean(sound[: RATE_HZ // 2] ** 2)
        heard_db = 10.0 * np.log10(over * half / np.sinh(half)) + 18.0
        off_db.append(take.claps[0].decay_range_db[i_octave] - heard_db)

    assert np.mean(off_db) == pytest.approx(0.0, abs=1.5)


def test_another_background_leaves_every_event_as_it_was():
    quiet, noisy = make(background_db=None), make(background_db=-40.0)

    assert [c.onset_s for c in quiet.claps] == [c.onset_s for c in noisy.claps]
    noise = noisy.samples - quiet.samples
    assert 20.0 * np.log10(np.std(noise) / np.abs(quiet.samples).max()) == pytest.approx(-40.0, abs=0.1)


def test_the_same_seed_gives_the_same_take_and_another_does_not():
    assert np.array_equal(make(seed=3).samples, make(seed=3).samples)
    assert not np.array_equal(make(seed=3).samples[:1000], make(seed=4).samples[:1000])


@pytest.mark.parametrize("kind", sorted(KINDS))
@pytest.mark.parametrize("rate_hz", [8_000, 48_000])
def test_a_disturbance_lies_where_told(kind, rate_hz):
    take = make(sample_rate_hz=rate_hz, distractors=(kind,), background_db=None)
    [disturbance] = take.distractors
    start, stop = (round(t * rate_hz) for t in (disturbance.start_s, disturbance.stop_s))

    assert disturbance.kind == kind
    assert np.abs(disturbance.dry).max() == pytest.approx(1.0)
    assert np.abs(take.samples[start:stop]).max() > 0.0
    assert all(not disturbance.start_s <= c.onset_s < disturbance.stop_s for c in take.claps)


def test_spots_differ_and_claps_go_round_them():
    take = make(spots=2, n_claps=4)

    assert [c.spot for c in take.claps] == [0, 1, 0, 1]
    assert not np.array_equal(take.responses[0], take.responses[1])


def test_flutter_repeats_and_falls_as_told():
    flutter = Flutter(period_s=0.05, decay_time_s=0.6, level_db=-6.0)
    [response] = make(flutter=flutter, direct_to_reverberant_db=30.0, n_early=0).responses
    echoes = np.abs(response[[2400, 4800, 7200]]) / response[0]

    assert 20.0 * np.log10(echoes) == pytest.approx([-11.0, -16.0, -21.0], abs=1.0)


def test_a_second_slope_is_heard_late():
    plain = make(n_early=0).responses[0]
    coupled = make(n_early=0, second_slope=Slope(decay_time_s=1.5, level_db=-20.0)).responses[0]

    late = slice(round(0.5 * RATE_HZ), round(0.55 * RATE_HZ))
    assert np.sum(coupled[late] ** 2) > 10.0 * np.sum(plain[late] ** 2)


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"source": "cannon"}, "there is no source called 'cannon'"),
        ({"distractors": ("elephant",)}, "there is no disturbance called 'elephant'"),
        ({"n_claps": 0}, "n_claps has to be at least 1, not 0"),
        ({"decay_time_s": 0.0}, "decay_time_s has to be above zero"),
    ],
)
def test_what_cannot_be_made_is_refused(changes, says):
    with pytest.raises(ParameterError, match=says):
        make(**changes)


def test_takes_drawn_at_random_vary_in_everything():
    takes = [draw_take(seed=seed) for seed in range(20)]

    assert len({t.sample_rate_hz for t in takes}) >= 3
    assert len({d.kind for t in takes for d in t.distractors}) >= 10
    assert min(t.decay_time_s[4] for t in takes) < 0.3
    assert max(t.decay_time_s[4] for t in takes) > 1.5
