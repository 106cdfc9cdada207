"""Each fault does to a clean take what its name says, and the exam counts as it says it does.

All takes are made here; no detector is asked.
"""

from __future__ import annotations

import numpy as np
import pytest

from roomir.bands.band import OCTAVES
from tests.benchmarks.fault_records import Record, Row
from tests.benchmarks.fault_score import Score, is_moved, wilson
from tests.benchmarks.faulty_takes.base import RATE_HZ
from tests.benchmarks.faulty_takes.draw import Draw
from tests.benchmarks.faulty_takes.kinds import KINDS, Take, clean_take, faulty_take
from tests.benchmarks.faulty_takes.kit import db, follow, rms_db, through_codec

SEED = 2
"""A box with three claps, 6.6 s long."""


@pytest.fixture(scope="module")
def clean() -> Take:
    return clean_take(seed=SEED)


def samples(take: Take) -> np.ndarray:
    return take.recording.sound.stretch(start=0, stop=take.recording.sound.n_frames)[:, 0].astype(np.float64)


def level_db(sound: np.ndarray, start_s: float, stop_s: float) -> float:
    part = sound[round(start_s * RATE_HZ) : round(stop_s * RATE_HZ)]
    return float(10.0 * np.log10(np.mean(part**2) + 1e-20))


def above_hz(sound: np.ndarray, hz: float) -> float:
    """Part of the energy above a frequency."""
    power = np.abs(np.fft.rfft(sound)) ** 2
    return float(power[np.fft.rfftfreq(sound.size, 1.0 / RATE_HZ) > hz].sum() / power.sum())


def times_s(take: Take, i: int) -> tuple[float, float]:
    clap = take.base.claps[i]
    return clap.onset / RATE_HZ, clap.sunk / RATE_HZ


@pytest.mark.parametrize("kind", KINDS)
def test_every_fault_leaves_a_finite_sound_that_differs_from_the_clean_one(kind, clean):
    take = faulty_take(kind, seed=SEED)
    sound = take.recording.sound
    everything = sound.stretch(start=0, stop=sound.n_frames)
    assert np.isfinite(everything).all()
    assert 0.01 < np.abs(everything).max() <= 1.0
    assert len(take.struck) == len(clean.base.claps)
    assert any(take.struck)
    same = (
        everything.shape == clean.recording.sound.stretch(start=0, stop=clean.recording.sound.n_frames).shape
    )
    if same and sound.sample_rate_hz == RATE_HZ:
        assert not np.array_equal(samples(take), samples(clean))


@pytest.mark.parametrize("kind", ["gain-fast", "dropouts", "speech-in-decay"])
def test_a_seed_gives_the_same_take_each_time(kind):
    np.testing.assert_array_equal(
        samples(faulty_take(kind, seed=SEED)), samples(faulty_take(kind, seed=SEED))
    )


def test_the_exam_draws_from_its_own_ranges():
    tuning, exam = (Draw(rng=np.random.default_rng(1), exam=exam) for exam in (False, True))
    for draw, low, high in ((tuning, 1.0, 2.0), (exam, 3.0, 4.0)):
        assert low <= draw.evenly("even", dev=(1.0, 2.0), exam=(3.0, 4.0)) <= high
        assert low <= draw.evenly_in_log("log", dev=(1.0, 2.0), exam=(3.0, 4.0)) <= high
        assert draw.one_of("one", dev=(low,), exam=(low,)) == low
        assert list(draw.values) == ["even", "log", "one"]


def test_the_reverberation_of_a_clean_take_decays_as_its_truth_says(clean):
    # Past the direct sound and the first reflections; silence behind it takes up what the filter rings.
    late = clean.base.responses[0][round(0.04 * RATE_HZ) :]
    time_s = np.arange(late.size) / RATE_HZ
    spectrum, frequency = np.fft.rfft(late, 2 * late.size), np.fft.rfftfreq(2 * late.size, 1.0 / RATE_HZ)
    # An octave rings at its edges as its neighbours do, so late on a little longer than at its middle.
    for i in (4, 5, 6):
        inside = (frequency >= OCTAVES[i].low_hz) & (frequency < OCTAVES[i].high_hz)
        part = np.fft.irfft(np.where(inside, spectrum, 0.0), 2 * late.size)[: late.size]
        curve_db = 10.0 * np.log10(np.cumsum(part[::-1] ** 2)[::-1] / np.sum(part**2) + 1e-30)
        straight = (curve_db < -5.0) & (curve_db > -35.0)
        slope, _ = np.polyfit(time_s[straight], curve_db[straight], 1)
        assert -60.0 / slope == pytest.approx(clean.base.decay_time_s[i], rel=0.15)


def test_clipping_flattens_the_tops_of_the_claps_it_struck():
    clipped = samples(faulty_take("clipped", seed=SEED))
    assert np.sum(np.abs(clipped) > 0.9999) >= 3
    below = samples(faulty_take("clipped-below", seed=SEED))
    assert np.abs(below).max() < 0.9
    one_side = samples(faulty_take("clipped-one-side", seed=SEED))
    flat = [int(np.sum(side > 0.9999 * side.max())) for side in (one_side, -one_side)]
    assert max(flat) >= 3 > min(flat)


def test_automatic_gain_comes_back_after_each_clap(clean):
    for kind in ("gain-slow", "gain-fast"):
        gain = gain_db(samples(faulty_take(kind, seed=SEED)), clean)
        for i in range(3):
            onset, _ = times_s(clean, i)
            assert gain(onset - 0.05) - gain(onset + 0.08) > 3.0
        assert gain(times_s(clean, 2)[0] - 0.05) - gain(times_s(clean, 1)[0] + 0.08) > 3.0


def gain_db(faulty: np.ndarray, clean: Take):
    """Level of the faulty over that of the clean sound around a moment."""
    before = samples(clean)

    def at(moment_s: float) -> float:
        return level_db(faulty, moment_s - 0.02, moment_s + 0.02) - level_db(
            before, moment_s - 0.02, moment_s + 0.02
        )

    return at


def test_levelling_brings_the_claps_closer_to_one_peak(clean):
    def spread(sound):
        peaks = [np.abs(sound[c.onset : c.onset + 2000]).max() for c in clean.base.claps]
        return float(db(max(peaks) / min(peaks)))

    assert spread(samples(faulty_take("levelled", seed=SEED))) < 0.5 * spread(samples(clean))


def test_a_limiter_is_down_before_the_peak_and_lifts_what_follows(clean):
    gain = gain_db(samples(faulty_take("limiter", seed=SEED)), clean)
    onset, sunk = times_s(clean, 0)
    assert gain(onset + 0.01) < gain(sunk) - 2.0


@pytest.mark.parametrize("kind", ["compressor", "compressor-deep"])
def test_a_compressor_presses_the_levels_together(kind, clean):
    gain = gain_db(samples(faulty_take(kind, seed=SEED)), clean)
    onset, sunk = times_s(clean, 0)
    assert gain(onset + 0.03) < gain(sunk) - 2.0


@pytest.mark.parametrize("kind", ["gate", "expander", "noise-suppression"])
def test_what_takes_quiet_sound_away_lowers_the_background_and_keeps_the_clap(kind, clean):
    gain = gain_db(samples(faulty_take(kind, seed=SEED)), clean)
    for i in range(3):
        onset, _ = times_s(clean, i)
        assert gain(onset + 0.015) > -2.0
        assert gain(onset - 0.1) < -3.0


def test_echo_suppression_turns_the_late_tail_down_and_keeps_the_clap(clean):
    gain = gain_db(samples(faulty_take("echo-suppression", seed=SEED)), clean)
    onset, sunk = times_s(clean, 0)
    assert gain(onset + 0.015) > -3.0
    assert gain(0.5 * (onset + sunk)) < -4.0


def test_coding_and_low_rates_empty_the_upper_bands_and_keep_the_time(clean):
    assert above_hz(samples(faulty_take("voice-call", seed=SEED)), 4200.0) < 1e-3
    for kind in ("lossy-codec", "low-rate", "voice-call"):
        coded = samples(faulty_take(kind, seed=SEED))
        peak = int(np.argmax(np.abs(coded[: clean.base.claps[1].onset - 9600])))
        assert abs(peak - clean.base.claps[0].onset) < 0.03 * RATE_HZ


def test_a_codec_gives_back_the_length_and_the_place_of_a_tone_burst():
    sound = np.zeros(24_000)
    sound[12_000:12_480] = 0.5 * np.sin(2.0 * np.pi * 1000.0 * np.arange(480) / RATE_HZ)
    for codec, container in (("aac", "mp4"), ("libmp3lame", "mp3"), ("libopus", "ogg")):
        back = through_codec(sound, rate_hz=RATE_HZ, codec=codec, container=container, kbps=96.0)
        assert back.size == sound.size
        lag = int(np.argmax(np.correlate(back, sound, "full"))) - (sound.size - 1)
        assert abs(lag) <= 2


def test_a_wrong_rate_changes_the_header_alone(clean):
    take = faulty_take("wrong-rate", seed=SEED)
    assert take.recording.sound.sample_rate_hz == take.truth["label_hz"] != RATE_HZ
    np.testing.assert_array_equal(samples(take), samples(clean))


def longest_run(flags: np.ndarray) -> int:
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(int)))
    return int((edges[1::2] - edges[::2]).max(initial=0))


def test_lost_buffers_are_zero_held_or_repeated():
    dropped = faulty_take("dropouts", seed=SEED)
    assert longest_run(samples(dropped) == 0.0) >= 0.99 * dropped.truth["length_s"] * RATE_HZ
    held = faulty_take("held", seed=SEED)
    assert longest_run(np.diff(samples(held)) == 0.0) >= 0.95 * held.truth["length_s"] * RATE_HZ
    repeated = faulty_take("repeated", seed=SEED)
    length = round(repeated.truth["length_s"] * RATE_HZ)
    twice = samples(repeated)
    found = [d for d in range(length - 3, length + 4) if longest_run(twice[d:] == twice[:-d]) >= length - 4]
    assert found


def test_what_is_cut_makes_the_take_shorter(clean):
    for kind in ("splice", "starts-inside", "stops-inside"):
        assert samples(faulty_take(kind, seed=SEED)).size < samples(clean).size


def test_a_fade_ends_or_begins_in_silence():
    faded = samples(faulty_take("fade", seed=SEED))
    assert min(np.abs(faded[:100]).max(), np.abs(faded[-100:]).max()) < 1e-4


def test_a_fade_straight_in_db_makes_the_decay_drier_by_its_rate(clean):
    take = faulty_take("fade-db", seed=SEED)
    gain = gain_db(samples(take), clean)
    onset, _ = times_s(clean, 0)
    assert gain(onset + 0.05) - gain(onset + 0.15) == pytest.approx(0.1 * take.truth["db_per_s"], abs=0.6)


@pytest.mark.parametrize("kind", ["two-microphones", "two-with-gain"])
def test_two_microphones_hear_one_room_differently(kind):
    sound = faulty_take(kind, seed=SEED).recording.sound
    both = sound.stretch(start=0, stop=sound.n_frames)
    assert both.shape[1] == 2
    assert 0.0 < np.corrcoef(both.T)[0, 1] < 0.9999


@pytest.mark.parametrize(("kind", "hz"), [("wind", 500.0), ("hum", 1000.0)])
def test_wind_and_hum_lie_low(kind, hz, clean):
    added = samples(faulty_take(kind, seed=SEED)) - samples(clean)
    assert above_hz(added, hz) < 0.15


@pytest.mark.parametrize("kind", ["machine-between", "machine-in-decay", "drifting"])
def test_a_background_that_changes_has_a_louder_and_a_quieter_part(kind, clean):
    added = samples(faulty_take(kind, seed=SEED)) - samples(clean)
    levels = rms_db(added, step=RATE_HZ // 4)
    assert levels.max() - levels.min() > 3.0


@pytest.mark.parametrize("kind", ["hammer-in-decay", "clap-in-decay", "speech-in-decay", "door-in-decay"])
def test_an_event_falls_into_a_decay_and_not_onto_the_clap(kind, clean):
    take = faulty_take(kind, seed=SEED)
    added = samples(take) - samples(clean)
    # The first one struck: what speaks into it may go on into the next clap.
    clap = clean.base.claps[take.struck.index(True)]
    onset, die_s = clap.onset / RATE_HZ, clean.base.die_s(clap)
    later = level_db(added, onset + 0.03, onset + 1.2 * die_s)
    assert later > level_db(added, onset, onset + 0.03) + 3.0


@pytest.mark.parametrize("kind", ["reverb-combs", "reverb-even", "reverb-room"])
def test_added_reverberation_lifts_the_sound_after_a_clap(kind, clean):
    gain = gain_db(samples(faulty_take(kind, seed=SEED)), clean)
    onset, sunk = times_s(clean, 0)
    assert max(gain(moment) for moment in np.linspace(onset + 0.1, sunk, 10)) > gain(onset + 0.01) + 1.0


def test_a_gain_covers_63_percent_of_a_step_in_its_time_constant():
    step_s = 0.001
    falling = follow(np.full(100, -10.0), step_s=step_s, fall_s=0.02, rise_s=1.0, start_db=0.0)
    assert falling[19] == pytest.approx(-10.0 * (1.0 - np.exp(-1.0)))
    held = follow(
        np.concatenate([np.full(50, -10.0), np.zeros(100)]),
        step_s=step_s, fall_s=1e-6, rise_s=0.01, hold_s=0.03, start_db=0.0,
    )  # fmt: skip
    assert held[50 + 29] == pytest.approx(-10.0)
    assert held[50 + 31] > -9.5


def row(time_s, *, half=0.02, verdict="reliable", reasons=()) -> Row:
    ends = None if time_s is None else (time_s * (1.0 - half), time_s * (1.0 + half))
    return Row(time_s=time_s, room=ends, spot=ends, verdict=verdict, reasons=reasons)


def test_an_octave_is_moved_only_away_from_both_the_clean_reading_and_the_truth():
    assert is_moved(row(1.1), was=row(1.0), true_s=1.0)
    assert not is_moved(row(1.04), was=row(1.0), true_s=1.0)
    assert not is_moved(row(1.1, half=0.12), was=row(1.0), true_s=1.0)
    assert not is_moved(row(1.1), was=row(1.1), true_s=1.0)
    assert not is_moved(row(1.0), was=row(1.1), true_s=1.0)
    assert not is_moved(row(1.1), was=row(1.0, half=0.15), true_s=1.0)
    assert not is_moved(row(None), was=row(1.0), true_s=1.0)
    assert is_moved(row(1.2), was=row(None), true_s=1.0)


def one(kind, *rows, take=()) -> Record:
    return Record(kind=kind, seed=1, rows=rows, take=take, claps=(), true_s=(1.0,) * len(rows), truth={})


def test_a_moved_octave_is_caught_by_a_concern_a_reason_or_a_verdict():
    before = one("clean", row(1.0), row(1.0), row(1.0), row(1.0))
    score = Score()
    rows = (
        row(1.2),
        row(1.2, verdict="indicative"),
        row(1.2, verdict="indicative", reasons=("gate",)),
        row(1.0),
    )
    score.add(one("gate", *rows), before, codes=frozenset({"gate"}))
    assert (score.moved, score.caught, score.named, score.trusted) == (3, 2, 1, 3)
    assert len(score.missed) == 1
    score.add(one("gate", *rows, take=("gate",)), before, codes=frozenset({"gate"}))
    assert (score.moved, score.caught, score.named, score.takes_missed) == (6, 5, 4, 1)


@pytest.mark.parametrize(
    ("hits", "n", "low", "high"),
    [
        # Newcombe, Stat. Med. 17 (1998) 857, Table I, score method uncorrected (from memory).
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0000, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_the_interval_of_a_share_is_the_published_one(hits, n, low, high):
    assert wilson(hits, n) == pytest.approx((low, high), abs=5e-5)
