"""Claps and disturbances drawn at random: a small share of what the benchmark runs.

The limits leave room for the small number; the benchmark's figures are the
ones that count.
"""

import numpy as np

from tests.benchmarks.claps_corpus import run

FIRST_SEED = 700_000
N_TAKES = 40


def test_claps_are_told_from_everything_else():
    tally = run(first=FIRST_SEED, takes=N_TAKES)

    assert tally.f1_of_fitness >= 0.98, tally.missed + tally.wrong
    assert tally.f1 >= 0.95, tally.missed + tally.wrong
    assert np.mean(np.abs(tally.onset_errors_ms) <= 1.0) >= 0.95
