"""Tops that are cut off, and loud sound that is not."""

from pathlib import Path

import numpy as np
import pytest
import soundfile
from scipy import signal

from roomir.audio.load import open_recording
from roomir.bands.band import OCTAVES
from roomir.claps.clap import Clap
from roomir.claps.find import find_claps
from roomir.faults.clipping import cut_tops, find_clipping
from roomir.faults.heard import hear
from roomir.faults.in_sound import inspect_sounds
from roomir.remarks import Remark
from roomir.synth.sources import clap_pulse, pop_pulse
from tests.audio.sound_files import save_film
from tests.faults.rooms import RATE_HZ, clapped, codes, inspected, recorded, rounded


def overdriven(db: float, *, seed: int = 3) -> np.ndarray:
    take = clapped(seed=seed, n_claps=1)
    return np.asarray(take.samples / np.abs(take.samples).max() * 10.0 ** (db / 20.0))


def test_a_clap_at_full_scale_that_is_not_cut_off_is_not_accused():
    assert codes(inspected(rounded(overdriven(0.0) * 0.9999))) == set()


@pytest.mark.parametrize("db", [6.0, 12.0, 20.0])
def test_flat_tops_at_full_scale_are_named(db: float):
    (fault,) = inspected(rounded(overdriven(db)))

    assert fault.remark.code == "clipped"
    assert "at full scale" in fault.remark.says


def test_clipping_of_the_direct_sound_leaves_the_decay_time_alone_and_long_clipping_does_not():
    (short,) = inspected(rounded(overdriven(6.0)))
    (long,) = inspected(rounded(overdriven(25.0)))

    assert not short.weighs
    assert "EDT and clarity" in short.remark.says
    assert long.weighs
    assert "too long" in long.remark.says


def test_an_input_that_gave_in_below_full_scale_is_named_with_its_level():
    (fault,) = inspected(rounded(0.25 * np.clip(overdriven(15.0), -1.0, 1.0)))

    assert "at -12.0 dB, below full scale" in fault.remark.says


def test_an_input_that_gives_in_on_one_side_only_is_named_so():
    (fault,) = inspected(rounded(0.2 * np.clip(overdriven(12.0), -np.inf, 0.5)))

    assert "on one side" in fault.remark.says


def test_a_rounder_knee_behind_a_coupling_capacitor_is_named_where_it_lasts():
    loud = overdriven(27.0)
    soft = loud / (1.0 + np.abs(loud) ** 4) ** 0.25
    high_pass = signal.butter(1, 20.0, "high", fs=RATE_HZ, output="sos")

    (fault,) = inspected(rounded(0.6 * signal.sosfilt(high_pass, soft)))

    assert fault.remark.code == "clipped"
    assert fault.weighs


def test_a_codec_that_goes_beyond_full_scale_gives_clipping_away():
    rng = np.random.default_rng(0)
    sound = np.concatenate([rng.standard_normal(400) * 0.6, rng.standard_normal(9000) * 0.01]).astype(
        np.float32
    )

    assert cut_tops(sound * 0.5) is None
    assert cut_tops(np.float32(1.3) * sound / sound.max(), lossy=True) is not None
    assert cut_tops(np.float32(1.3) * sound / sound.max(), lossy=False) is None


@pytest.mark.parametrize("make", [clap_pulse, pop_pulse])
@pytest.mark.parametrize("bits", [8, 16])
def test_dry_sources_in_coarse_steps_are_not_clipped(make, bits: int):
    for seed in range(20):
        pulse = 0.3 * make(rng=np.random.default_rng(seed), sample_rate_hz=RATE_HZ)
        for sign in (1.0, -1.0):
            assert cut_tops(rounded(sign * pulse, bits=bits)) is None, seed


def test_a_hum_louder_than_most_of_the_decay_is_no_ceiling():
    take = clapped(seed=4)
    hum = np.sin(2.0 * np.pi * 50.0 * np.arange(take.samples.size) / RATE_HZ)

    assert codes(inspected(rounded(take.samples + 0.05 * hum))) == set()


def test_samples_that_are_written_again_for_a_higher_rate_are_no_cut_tops():
    take = clapped(seed=2, n_claps=1)
    slow = signal.resample_poly(take.samples, 1, 6)

    assert "clipped" not in codes(inspected(rounded(0.5 * np.repeat(slow, 6) / np.abs(slow).max())))


def test_a_clean_take_packed_by_a_phone_is_not_clipped(sample_data: Path, tmp_path: Path):
    samples, rate_hz = soundfile.read(sample_data / "booth_2_lined.wav", dtype="float32", always_2d=True)
    path = save_film(
        tmp_path / "booth.m4a", [samples], rate_hz=rate_hz, container="mp4", codec="aac", bit_rate=128_000
    )
    recording = open_recording(path)

    faults, _ = inspect_sounds([recording], [find_claps(recording.sound)], bands=OCTAVES)

    assert codes(faults) == set()


def test_a_sound_that_is_no_clap_and_has_even_tops_below_louder_claps_is_not_accused():
    # A vowel's pulses are all alike, so that its tops crowd as cut ones do: far below the claps'
    # height a recorder cannot have cut them.
    claps = overdriven(-6.0)
    pulses = np.zeros(RATE_HZ // 4)
    pulses[:: RATE_HZ // 110] = 1.0
    vowel = signal.lfilter(*signal.iirpeak(700.0, 4.0, fs=RATE_HZ), pulses)
    sound = recorded(rounded(np.concatenate([claps, 0.1 * vowel / np.abs(vowel).max(), np.zeros(9600)])))
    (clap, *_) = find_claps(sound.sound)
    voice = Clap(
        onset=claps.size,
        stop=claps.size + vowel.size + 9600,
        sample_rate_hz=RATE_HZ,
        peak_dbfs=-20.0,
        set_aside_because=Remark(code="no-clap", says="a voice", remedy=""),
    )

    (alone,) = hear(sound, [voice], take=0)
    _, beside = hear(sound, [clap, voice], take=0)

    assert find_clipping(alone)
    assert not find_clipping(beside)
