"""How many spots it takes: against Student's t, and against rooms that are drawn."""

from __future__ import annotations

import math

import numpy as np
import pytest

from roomir.decay.more_spots import MOST_SPOTS, spots_needed

# Student's t, 97.5 %, 3 to 8 degrees of freedom. Source: W. S. Gosset's distribution as tabulated in every
# handbook of statistics; written down from memory.
T975 = {3: 3.182, 4: 2.776, 5: 2.571, 6: 2.447, 7: 2.365, 8: 2.306}


def test_the_projection_follows_students_t():
    scatter = 0.1 * math.sqrt(4) / T975[3]
    by_hand = next(n for n in range(5, 10) if T975[n - 1] * scatter / math.sqrt(n) <= 0.05)

    assert spots_needed(0.1, n_spots=4, interval_from="scatter", target=0.05) == by_hand == 9


def test_an_assumed_scatter_is_checked_in_four_spots_at_least():
    assert spots_needed(0.01, n_spots=1, interval_from="prior", target=0.05) == 4
    assert spots_needed(0.01, n_spots=3, interval_from="prior", target=0.05) == 4


def test_an_interval_that_is_narrow_enough_needs_no_more():
    assert spots_needed(0.05, n_spots=6, interval_from="scatter", target=0.05) == 6


def test_where_nobody_could_clap_in_enough_spots_none_is_named():
    assert spots_needed(0.9, n_spots=4, interval_from="scatter", target=0.05) is None
    assert spots_needed(0.9, n_spots=1, interval_from="prior", target=0.05) is None


def test_a_wider_interval_never_needs_fewer():
    for n_spots, interval_from in ((1, "prior"), (3, "prior"), (5, "scatter")):
        needed = [
            spots_needed(half, n_spots=n_spots, interval_from=interval_from, target=0.05) or MOST_SPOTS + 1
            for half in np.linspace(0.01, 0.4, 60)
        ]
        assert needed == sorted(needed)


@pytest.mark.parametrize("seed", [1, 2])
def test_in_drawn_rooms_the_spots_named_are_about_right(seed: int):
    """Logarithms of decay times drawn from a normal distribution with a scatter of 6 % (invented)."""
    rng = np.random.default_rng(seed)
    t = {
        n: T975.get(n - 1, 1.96 + 2.4 / (n - 1)) for n in range(2, 60)
    }  # 1.96 + 2.4/df fits to 1 % from 8 on
    too_few = 0
    for _ in range(400):
        first = 0.06 * rng.standard_normal(6)
        half = t[6] * first.std(ddof=1) / math.sqrt(6)
        needed = spots_needed(half, n_spots=6, interval_from="scatter", target=0.05)
        assert needed is not None
        every = np.concatenate([first, 0.06 * rng.standard_normal(needed - 6)])
        too_few += t[needed] * every.std(ddof=1) / math.sqrt(needed) > 0.05

    # The next spots decide: a projection that is right on average misses in less than half of the rooms.
    assert 0.1 < too_few / 400 < 0.5
