"""The likelihood fit on block energies drawn from the very distribution it assumes. All values invented.

A gamma variable of shape nu and mean m has the relative variance 1/nu; what the maximum of the likelihood can
reach is the inverse of the Fisher information (Cramer and Rao), which the fit states.
"""

import numpy as np
import pytest

from roomir.decay.likelihood import BlockEnergies, fit_decay
from tests.decays import LN_60_DB, model_of

WIDTH_HZ = 176.0
"""Statistical bandwidth of the drawn blocks, near the 250 Hz octave's. [Hz]"""


def drawn(model, *, n_claps, end_s, seed, step_s=0.01, start_s=0.0, level_db=0.0):
    """Blocks whose energies are gamma distributed around the model, one row a clap."""
    rng = np.random.default_rng(seed)
    edges_s = np.arange(start_s, end_s + 0.5 * step_s, step_s)
    left = np.array([model.energy_after(t) for t in edges_s])
    mean = (-np.diff(left) / np.diff(edges_s) + model.noise) * 10.0 ** (level_db / 10.0)
    shape = np.broadcast_to(WIDTH_HZ * np.diff(edges_s), (n_claps, mean.size))
    return BlockEnergies(edges_s=edges_s, energy=mean * rng.gamma(shape) / shape, shape=shape.copy())


def fitted(blocks, *, group, start_s, second=None, background_db=-40.0):
    """Fit from a start that is off by what a first guess may be off."""
    n_claps, n_groups = blocks.energy.shape[0], int(group.max()) + 1
    shared = [np.log(LN_60_DB / start_s)]
    if second is not None:
        shared += [np.log(LN_60_DB / second[0]), second[1] / 10.0 * np.log(10.0)]
    return fit_decay(
        blocks,
        group=group,
        shared=np.tile(shared, (n_groups, 1)),
        log_level=np.log(blocks.energy[:, 0]),
        log_noise=np.full(n_claps, background_db / 10.0 * np.log(10.0)),
    )


def times_s(fit):
    return LN_60_DB / np.exp(fit.log_rate)


@pytest.mark.parametrize(("time_s", "range_db"), [(0.5, 50.0), (0.5, 25.0), (1.5, 40.0)])
def test_single_slopes_are_recovered_without_bias_and_as_narrowly_as_the_bound_says(time_s, range_db):
    n = 200
    blocks = drawn(model_of((time_s, 0.0), noise_db=-range_db), n_claps=n, end_s=2.0 * time_s, seed=1)
    fit = fitted(blocks, group=np.arange(n), start_s=0.7 * time_s)
    off = fit.log_rate[:, 0] - np.log(LN_60_DB / time_s)
    bound = 1.0 / np.sqrt(fit.information[:, 0, 0])
    assert abs(off.mean()) < 0.01
    # The bound is reached, within what 200 draws can tell.
    assert np.std(off / bound) == pytest.approx(1.0, abs=0.15)
    assert np.median(10.0 / np.log(10.0) * fit.log_level) == pytest.approx(0.0, abs=0.1)
    assert np.median(10.0 / np.log(10.0) * fit.log_noise) == pytest.approx(-range_db, abs=0.2)


def test_the_stated_bound_is_the_one_of_theory():
    # With the whole decay far above the background, B the bandwidth and L the observed length, the relative
    # standard error is about sqrt(3/(B L^3)) T/6.91, plus a tenth for what level and background cost.
    time_s, length_s = 0.5, 0.4
    blocks = drawn(model_of((time_s, 0.0), noise_db=-90.0), n_claps=1, end_s=length_s, seed=2)
    fit = fitted(blocks, group=np.zeros(1, dtype=int), start_s=0.5, background_db=-90.0)
    bound = 1.0 / np.sqrt(fit.information[0, 0, 0])
    theory = np.sqrt(3.0 / (WIDTH_HZ * length_s**3)) * time_s / 6.91
    assert 0.95 * theory < bound < 1.35 * theory


def test_claps_fitted_together_share_one_slope_and_keep_their_own_levels():
    model = model_of((0.6, 0.0), noise_db=-45.0)
    loud = drawn(model, n_claps=4, end_s=1.2, seed=3)
    faint = drawn(model, n_claps=4, end_s=1.2, seed=4, level_db=-15.0)
    both = BlockEnergies(
        edges_s=loud.edges_s,
        energy=np.concatenate([loud.energy, faint.energy]),
        shape=np.concatenate([loud.shape, faint.shape]),
    )
    alone = fitted(loud, group=np.arange(4), start_s=0.5)
    together = fitted(both, group=np.zeros(8, dtype=int), start_s=0.5)
    assert times_s(together).shape == (1, 1)
    assert times_s(together)[0, 0] == pytest.approx(0.6, rel=0.03)
    levels_db = 10.0 / np.log(10.0) * together.log_level
    assert levels_db[:4].mean() - levels_db[4:].mean() == pytest.approx(15.0, abs=0.5)
    # Eight equal claps hold eight times the information of one.
    assert together.information[0, 0, 0] == pytest.approx(8.0 * alone.information[:, 0, 0].mean(), rel=0.05)


def test_groups_do_not_hear_each_other():
    short = drawn(model_of((0.4, 0.0), noise_db=-50.0), n_claps=3, end_s=1.2, seed=5)
    long = drawn(model_of((0.8, 0.0), noise_db=-50.0), n_claps=3, end_s=1.2, seed=6)
    mixed = BlockEnergies(
        edges_s=short.edges_s,
        energy=np.concatenate([short.energy, long.energy]),
        shape=np.concatenate([short.shape, long.shape]),
    )
    fit = fitted(mixed, group=np.array([0, 0, 0, 1, 1, 1]), start_s=0.6)
    apart = [fitted(blocks, group=np.zeros(3, dtype=int), start_s=0.6) for blocks in (short, long)]
    assert times_s(fit)[:, 0] == pytest.approx([times_s(one)[0, 0] for one in apart], rel=1e-3)
    assert times_s(fit)[:, 0] == pytest.approx([0.4, 0.8], rel=0.05)


def test_two_slopes_are_recovered():
    model = model_of((0.5, 0.0), (1.0, -12.0), noise_db=-60.0)
    blocks = drawn(model, n_claps=12, end_s=1.6, seed=7)
    fit = fitted(blocks, group=np.zeros(12, dtype=int), start_s=0.45, second=(1.2, -8.0), background_db=-60.0)
    assert fit.n_slopes == 2
    error = 1.0 / np.sqrt(1.0 / np.diag(np.linalg.inv(fit.information[0])))
    expected = [np.log(LN_60_DB / 0.5), np.log(LN_60_DB / 1.0), -1.2 * np.log(10.0)]
    assert np.all(np.abs(fit.shared[0] - expected) < 3.5 * error)
    assert np.all(error < 0.5)
    assert fit.model(0).decay_times_s == pytest.approx((0.5, 1.0), rel=0.15)


def test_a_second_slope_raises_the_likelihood_where_there_is_one():
    gains = []
    for model in (model_of((0.5, 0.0), (1.0, -12.0), noise_db=-60.0), model_of((0.5, 0.0), noise_db=-60.0)):
        blocks, group = drawn(model, n_claps=4, end_s=1.6, seed=8), np.zeros(4, dtype=int)
        one = fitted(blocks, group=group, start_s=0.5, background_db=-60.0)
        two = fitted(blocks, group=group, start_s=0.45, second=(1.0, -12.0), background_db=-60.0)
        gains.append(two.log_likelihood[0] - one.log_likelihood[0])
    assert gains[0] > 20.0
    assert gains[1] < 6.0


def test_blocks_without_weight_are_not_looked_at():
    blocks = drawn(model_of((0.5, 0.0), noise_db=-45.0), n_claps=2, end_s=1.0, seed=9)
    spoilt = blocks.energy.copy()
    spoilt[:, :5] *= 1e3
    weights = blocks.shape.copy()
    weights[:, :5] = 0.0
    masked = BlockEnergies(edges_s=blocks.edges_s, energy=spoilt, shape=weights)
    later = blocks.starting_at(float(blocks.edges_s[5]))
    group = np.zeros(2, dtype=int)
    assert times_s(fitted(masked, group=group, start_s=0.5))[0, 0] == pytest.approx(
        times_s(fitted(later, group=group, start_s=0.5))[0, 0], rel=2e-3
    )


@pytest.mark.parametrize("start_s", [0.25, 0.5, 1.0])
def test_the_start_does_not_matter(start_s):
    blocks = drawn(model_of((0.5, 0.0), noise_db=-40.0), n_claps=3, end_s=1.0, seed=10)
    fit = fitted(blocks, group=np.zeros(3, dtype=int), start_s=start_s)
    best = fitted(blocks, group=np.zeros(3, dtype=int), start_s=0.5)
    assert times_s(fit)[0, 0] == pytest.approx(times_s(best)[0, 0], rel=1e-3)


@pytest.mark.parametrize("gain_db", [-120.0, 60.0])
def test_a_louder_or_fainter_recording_has_the_same_slope(gain_db):
    blocks = drawn(model_of((0.5, 0.0), noise_db=-40.0), n_claps=3, end_s=1.0, seed=11)
    gain = 10.0 ** (gain_db / 10.0)
    group = np.zeros(3, dtype=int)
    moved = BlockEnergies(edges_s=blocks.edges_s, energy=gain * blocks.energy, shape=blocks.shape)
    one = fitted(blocks, group=group, start_s=0.5)
    other = fitted(moved, group=group, start_s=0.5, background_db=-40.0 + gain_db)
    assert other.log_rate == pytest.approx(one.log_rate, abs=1e-4)
    assert other.log_level == pytest.approx(one.log_level + np.log(gain), abs=1e-3)
    assert other.information == pytest.approx(one.information, rel=1e-3)
