"""Takes that begin or end while a clap dies away. All figures are invented."""

import numpy as np
import pytest

from roomir.reading.take import take_reading
from tests.faults.rooms import RATE_HZ, clapped, codes, inspected, recorded, rounded


def at(clap: int, after_s: float) -> int:
    return int((clapped(seed=12, decay_time_s=0.8).claps[clap].onset_s + after_s) * RATE_HZ)


def samples() -> np.ndarray:
    return rounded(clapped(seed=12, decay_time_s=0.8).samples)


@pytest.mark.parametrize("after_s", [0.25, 0.35])
def test_a_recording_that_ends_inside_a_decay_is_named(after_s: float):
    (fault,) = inspected(samples()[: at(1, after_s)])

    assert fault.remark.code == "stops-inside-decay"
    assert fault.place == 1
    assert not fault.weighs


def test_a_recording_that_ends_in_silence_is_complete():
    assert codes(inspected(samples())) == set()
    assert codes(inspected(samples()[: at(1, 1.1)])) == set()


def test_a_measured_response_without_any_silence_before_it_is_no_cut_take():
    response = samples()[at(0, 0.0) : at(0, 0.25)]

    assert codes(inspected(response)) == set()


def test_a_recording_that_begins_inside_a_decay_says_so_and_reads_the_other_claps():
    (take,) = take_reading([recorded(samples()[at(0, 0.05) :])]).takes

    assert "starts-inside-decay" in {note.code for note in take.notes}
    assert take.concerns == ()
    assert sum(clap.used for clap in take.claps) == 1
