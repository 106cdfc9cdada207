"""A fade through the last decay is told from the decay itself; a take that is merely cut is not accused."""

from __future__ import annotations

import numpy as np
import pytest

from roomir.synth.takes import SynthTake
from tests.faults import gained


def cut_at(take: SynthTake, after_s: float) -> np.ndarray:
    """The take up to some time after its last clap."""
    return gained.sound_of(take)[: round((take.claps[-1].onset_s + after_s) * gained.RATE_HZ)]


def faded(take: SynthTake, *, from_s: float, to_s: float) -> np.ndarray:
    """Faded in a straight line, both ends after the last clap."""
    sound = cut_at(take, to_s)
    ramp = np.linspace(1.0, 0.0, round((to_s - from_s) * gained.RATE_HZ))
    sound[-ramp.size :] *= ramp
    return sound


@pytest.mark.parametrize(("from_s", "to_s"), [(0.0, 0.4), (0.1, 0.5), (-0.2, 0.35)])
@pytest.mark.parametrize("seed", [81, 82])
def test_a_fade_that_leaves_no_background_is_told_from_the_decay(
    seed: int, from_s: float, to_s: float
) -> None:
    take = gained.claps(seed, n=2, background_db=-60.0)
    found = [
        f for f in gained.faults_of(faded(take, from_s=from_s, to_s=to_s)) if f.remark.code == "faded-out"
    ]

    assert [fault.place for fault in found] == [1]
    assert found[0].weighs
    assert "too short" in found[0].remark.says


@pytest.mark.parametrize("after_s", [0.2, 0.35, 0.5, 0.8])
@pytest.mark.parametrize("seed", [81, 82])
def test_a_take_that_stops_inside_or_behind_a_decay_is_not_faded(seed: int, after_s: float) -> None:
    found = gained.faults_of(cut_at(gained.claps(seed, n=2, background_db=-60.0), after_s))

    assert "faded-out" not in {fault.remark.code for fault in found}


def test_silence_put_behind_a_take_is_no_fade() -> None:
    sound = gained.sound_of(gained.claps(83, n=2, background_db=-60.0))
    found = gained.faults_of(np.concatenate([sound, np.zeros(gained.RATE_HZ // 5)]))

    assert "faded-out" not in {fault.remark.code for fault in found}
