"""Decays that sink below the steps they are written in. All figures are invented."""

import numpy as np
import pytest

from roomir.bands.band import OCTAVES
from roomir.claps.find import find_claps
from roomir.faults.in_sound import inspect_sounds
from roomir.faults.steps import quantisation_step
from roomir.reading.reading import Reading
from roomir.reading.take import take_reading
from tests.faults.rooms import RATE_HZ, clapped, codes, inspected, recorded, rounded


def silent(*, peak: float, decay_time_s: float = 0.8, seed: int = 1) -> np.ndarray:
    """Claps in a room without any background."""
    from roomir.synth.takes import make_take

    take = make_take(
        seed=seed,
        sample_rate_hz=RATE_HZ,
        decay_time_s=decay_time_s,
        n_claps=3,
        spots=3,
        background_db=None,
        spacing_s=(1.6 * decay_time_s + 0.7, 1.7 * decay_time_s + 0.8),
    )
    sound = np.array(take.samples, dtype=float)
    return peak * sound / np.abs(sound).max()


def off(reading: Reading, *, decay_time_s: float) -> list[float]:
    """By what part the bands are off that are called reliable."""
    return [
        band.figures.decay_time_s / decay_time_s - 1.0
        for band in reading.bands
        if band.figures.verdict == "reliable" and band.figures.decay_time_s is not None
    ]


@pytest.mark.parametrize("peak", [0.03, 0.3])
def test_a_faint_take_without_hiss_is_read_as_far_as_its_last_bit(peak: float):
    reading = take_reading([recorded(rounded(silent(peak=peak)))])

    assert all(abs(part) < 0.05 for part in off(reading, decay_time_s=0.8))
    upper = [band.figures.decay_time_s for band in reading.bands[3:]]
    assert upper == pytest.approx([0.8] * len(upper), rel=0.06)


def test_where_enough_is_left_the_rounding_is_a_note_and_no_concern():
    (take,) = take_reading([recorded(rounded(silent(peak=0.3)))]).takes

    assert "rounded-away" in {note.code for note in take.notes}
    assert take.concerns == ()
    assert all(clap.concerns == () for clap in take.claps)


@pytest.mark.parametrize("peak", [0.5, 0.05])
def test_a_take_of_8_bits_is_said_to_be_rounded_and_nothing_else(peak: float):
    faults = inspected(rounded(silent(peak=peak), bits=8))

    assert codes(faults) == {"rounded-away"}
    assert all(fault.weighs for fault in faults)
    assert "8 bits" in faults[0].remark.says
    assert "16 bits" in faults[0].remark.remedy


def test_no_band_of_a_take_of_8_bits_is_reliable():
    reading = take_reading([recorded(rounded(silent(peak=0.5), bits=8))])

    assert {band.figures.verdict for band in reading.bands} <= {"indicative", "unusable"}


@pytest.mark.parametrize("bits", [8, 12, 16])
def test_hiss_of_a_step_carries_a_decay_through_rounding(bits: int):
    hiss = np.random.default_rng(4).standard_normal(silent(peak=0.5).size) * 2.0 ** (1 - bits)

    assert codes(inspected(rounded(silent(peak=0.5) + hiss, bits=bits))) == set()


def test_a_take_in_full_precision_is_never_rounded_away():
    assert codes(inspected(silent(peak=0.5).astype(np.float32))) == set()


def test_steps_are_found_between_silences():
    silence = np.zeros(5000, dtype=np.float32)
    sound = np.concatenate([silence, rounded(silent(peak=0.3)), silence])

    assert quantisation_step(sound) == 2.0**-15


def test_a_last_bit_that_comes_and_goes_between_silences_is_no_dropout():
    hiss = np.random.default_rng(6).standard_normal(silent(peak=0.03).size) * 0.25 / 32768.0
    silence = np.zeros(RATE_HZ // 2)
    sound = rounded(np.concatenate([silence, silent(peak=0.03) + hiss, silence]))
    recording = recorded(sound)

    faults, _ = inspect_sounds([recording], [find_claps(recording.sound)], bands=OCTAVES)

    assert codes(faults) <= {"rounded-away"}
    assert not any(fault.weighs for fault in faults)


def test_a_gate_before_the_steps_is_still_a_gate():
    sound = np.array(clapped(background_db=-50.0).samples)
    stop = int((clapped().claps[0].onset_s + 0.2) * RATE_HZ)
    sound[stop : stop + RATE_HZ // 100] = 0.0

    assert "dropout" in codes(inspected(rounded(sound)))
