"""What begins like a clap and lasts: set aside where the claps tell that the recorder is not to blame."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import fftconvolve

from tests.faults import gained


def with_rattle(seed: int, *, softer_db: float, n: int = 4) -> np.ndarray:
    """Claps, and between two of them noise that lasts for an eighth of a second in the same room."""
    take = gained.claps(seed, background_db=-60.0, n=n)
    sound = gained.sound_of(take)
    rng = np.random.default_rng(seed)
    rattle = rng.standard_normal(gained.RATE_HZ // 8)
    rattle[: gained.RATE_HZ // 500] *= 8.0
    wet = fftconvolve(rattle, take.responses[0])
    wet *= np.abs(sound).max() * 10.0 ** (-softer_db / 20.0) / np.abs(wet).max()
    before, after = (round(take.claps[i].onset_s * gained.RATE_HZ) for i in (1, 2))
    at = (11 * before + 9 * after) // 20
    stop = min(at + wet.size, after)
    sound[at:stop] += wet[: stop - at]
    return sound


@pytest.mark.parametrize("seed", [61, 62, 63])
def test_a_softer_sound_that_lasts_is_set_aside_and_nobody_is_accused(seed: int) -> None:
    reading = gained.read(with_rattle(seed, softer_db=12.0))
    (take,) = reading.takes

    aside = [clap.set_aside_because.code for clap in take.claps if clap.set_aside_because is not None]
    assert aside == ["no-free-decay"]
    assert take.concerns == ()
    assert all(clap.concerns == () for clap in take.claps)
    assert {band.claps_used for band in reading.bands if band.figures.decay_time_s is not None} == {4}


@pytest.mark.parametrize("seed", [61, 62])
def test_one_as_loud_as_the_claps_stays_and_is_said_to_bend(seed: int) -> None:
    claps = gained.read(with_rattle(seed, softer_db=0.0)).takes[0].claps

    assert all(clap.set_aside_because is None for clap in claps)
    assert [bool(clap.concerns) for clap in claps].count(True) == 1
