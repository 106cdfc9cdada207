"""A bend short of proof costs bands their full trust and accuses nobody; one band's own bend is nobody's."""

from __future__ import annotations

import numpy as np
import pytest

from roomir.faults.bends import find_bends, weigh_claps
from roomir.faults.fault import Fault, concerns_of
from roomir.faults.limits import SURE, SUSPECTED, reaches
from roomir.faults.scores import Scores, agreed, without_loudest
from roomir.faults.shapes import SHAPES, Law
from roomir.remarks import Remark
from tests.faults import gained


def slightly_compressed(sound: np.ndarray) -> np.ndarray:
    """1.25 to one above a threshold 20 dB below the loudest: a few per cent of the decay time."""
    over_db = np.maximum(gained.levels_db(sound) + 20.0, 0.0)
    return gained.ridden(sound, -(1.0 - 1.0 / 1.25) * over_db, down_s=0.002, up_s=0.05)


@pytest.mark.parametrize("seed", [61, 63])
def test_a_compressor_too_weak_to_be_proven_costs_bands_their_full_trust_and_no_more(seed: int) -> None:
    clean = gained.sound_of(gained.claps(seed, background_db=-55.0))
    reading = gained.read(slightly_compressed(clean))

    struck = [
        band.figures
        for band in reading.bands
        if any(remark.code == "gain-suspected" for remark in band.figures.reasons)
    ]
    assert len(struck) >= 3
    assert all(figures.verdict != "reliable" for figures in struck)
    assert reading.takes[0].concerns == ()
    assert all(clap.concerns == () for clap in reading.takes[0].claps)


@pytest.mark.parametrize("seed", [61, 63])
def test_the_same_takes_without_it_keep_their_trust(seed: int) -> None:
    assert gained.faults_of(gained.sound_of(gained.claps(seed, background_db=-55.0))) == ()


def test_a_suspicion_says_how_far_the_number_would_be_off_and_how_to_settle_it() -> None:
    sound = slightly_compressed(gained.sound_of(gained.claps(61, background_db=-55.0)))
    (fault,) = gained.faults_of(sound)

    assert fault.suspected
    assert fault.columns
    assert "% too long" in fault.remark.says
    assert "more spots" in fault.remark.remedy


def test_concerns_leave_out_what_is_only_suspected() -> None:
    sure, unsure = (Remark(code=code, says=code, remedy="") for code in ("one", "other"))
    faults = [Fault(remark=unsure, take=0, suspected=True), Fault(remark=sure, take=0)]

    assert concerns_of(faults) == (sure,)


def _scores(per_band: list[float], *, shape: int, n_claps: int = 3) -> Scores:
    """Significances of one shape in a few bands, the same for every clap; nothing else is there."""
    score = np.zeros((n_claps, len(per_band), len(SHAPES)))
    variance, bend_s = np.ones_like(score), np.full_like(score, 0.3)
    score[:, :, shape] = per_band
    return Scores(score=score, variance=variance, bend_s=bend_s, courses=(None,) * len(per_band))


_TIMED = next(i for i, shape in enumerate(SHAPES) if shape.law is Law.TIME and shape.at == 0.25)
_RECOVERS = next(i for i, shape in enumerate(SHAPES) if shape.law is Law.RECOVERS and shape.at == 0.5)


def test_one_band_that_bends_by_itself_accuses_nobody_however_loudly_it_speaks() -> None:
    scores = _scores([30.0, 0.0, 0.0, 0.0], shape=_TIMED)

    claps = weigh_claps(scores, [None] * 4, rows=[0, 1, 2])
    for limits in (SURE, SUSPECTED):
        reach = reaches(claps.together, claps.without, limits=limits, bend_s=claps.bend_s, alike=claps.alike)
        assert reach.max() < 1.0
    assert find_bends(scores, [None] * 4, rows=[0, 1, 2]) == ()


def test_bands_that_agree_reach_further_than_the_loudest_of_them() -> None:
    score = np.array([[3.0], [3.0], [3.0], [3.0]])
    together, without = agreed(score, np.ones_like(score))

    # Four equal bands: 12 / sqrt(4); without one of them: 9 / sqrt(3).
    assert together == pytest.approx([6.0])
    assert without == pytest.approx([9.0 / np.sqrt(3.0)])


def test_a_background_that_grows_behind_one_clap_is_no_gain_that_recovers() -> None:
    alike, one = _scores([2.0] * 4, shape=_RECOVERS), _scores([2.0] * 4, shape=_RECOVERS)
    one.score[1:] = 0.0
    one.score[0] *= 3.0

    both = [weigh_claps(scores, [None] * 4, rows=[0, 1, 2]) for scores in (alike, one)]
    assert both[0].together[_RECOVERS] == pytest.approx(both[1].together[_RECOVERS])
    assert both[0].without[_RECOVERS] > 4.0
    assert both[1].without[_RECOVERS] == 0.0


def test_the_loudest_part_is_left_out_for_each_shape_by_itself() -> None:
    score = np.array([[5.0, 0.0], [1.0, 4.0], [1.0, 1.0]])

    assert without_loudest(score, np.ones_like(score)) == pytest.approx(
        [2.0 / np.sqrt(2.0), 1.0 / np.sqrt(2.0)]
    )
