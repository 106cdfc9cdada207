r"""Maximum-likelihood decay of band energies: one or two slopes over a steady background.

The energy of band-limited Gaussian sound in a block of length :math:`\Delta` is, to
a good approximation, gamma distributed with shape :math:`\nu = B_e \Delta` around
its expectation (:math:`B_e` the statistical bandwidth of the filter as applied;
Bendat and Piersol, "Random Data"). The expectation over a block is

.. math:: m = A\,(c_1 + q\,c_2) + N, \qquad c_s = \overline{e^{-k_s t}},
   \qquad k_s = 6 \ln 10 / T_s .

Slopes and ratio are shared by all claps of a group, each clap has its own level
:math:`A` and background :math:`N`. Everything is fitted in logarithms by Fisher
scoring; the nuisance parameters are eliminated by Schur complement, which leaves
the efficient score and information of the shared ones. All claps of a band are
fitted in one go, as arrays.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from roomir.decay.model import DecayModel

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

_MAX_STEPS = 40
_LARGEST_STEP = 0.7
_SETTLED = 1e-5
_NOISE_FLOOR = 1e-14


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BlockEnergies:
    """Mean energies of one band in consecutive blocks, one row a clap.

    Attributes
    ----------
    edges_s : array, shape (n_blocks + 1,)
        Block edges after the onset, common to all claps. [s]
    energy : array, shape (n_claps, n_blocks)
        Mean squared envelope per block.
    shape : array, shape (n_claps, n_blocks)
        Gamma shape of each block; zero where a block is not to be used.
    """

    edges_s: Floats
    energy: Floats
    shape: Floats

    def starting_at(self, start_s: float) -> BlockEnergies:
        """Return the same blocks without those that begin before ``start_s``."""
        early = self.edges_s[:-1] < start_s - 1e-9
        return BlockEnergies(edges_s=self.edges_s, energy=self.energy, shape=np.where(early, 0.0, self.shape))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DecayFit:
    """Fitted decay of a group structure of claps.

    Attributes
    ----------
    log_rate : array, shape (n_groups, n_slopes)
        Logarithm of the decay rates ``k``, steepest first. [ln 1/s]
    log_ratio : array, shape (n_groups,)
        Level of the second slope over the first at time zero, in nepers; ``-inf`` for one slope.
    log_level, log_noise : array, shape (n_claps,)
        Logarithm of level at time zero (of the first slope) and of the background.
    log_likelihood : array, shape (n_groups,)
        Up to a constant that does not depend on the model.
    information : array, shape (n_groups, n_shared, n_shared)
        Efficient Fisher information of (log rates, log ratio).
    residual : array, shape (n_claps, n_blocks)
        ``energy / expectation - 1``.
    expectation : array, shape (n_claps, n_blocks)
        Fitted mean energies.
    efficient : array, shape (n_claps, n_blocks, n_shared)
        Efficient score coefficients: the score of a clap is the sum over blocks
        of ``residual * efficient``.
    """

    log_rate: Floats
    log_ratio: Floats
    log_level: Floats
    log_noise: Floats
    log_likelihood: Floats
    information: Floats
    residual: Floats
    expectation: Floats
    efficient: Floats

    @property
    def n_slopes(self) -> int:
        """Number of slopes."""
        return int(self.log_rate.shape[1])

    @property
    def shared(self) -> Floats:
        """Shared parameters: log rates, and with two slopes the log ratio; shape (n_groups, 1 or 3)."""
        if self.n_slopes == 1:
            return self.log_rate
        return np.concatenate([self.log_rate, self.log_ratio[:, None]], axis=1)

    def rows(self, index: Ints) -> DecayFit:
        """Return the fits of some claps, where every clap is a group of its own."""
        return DecayFit(**{f.name: getattr(self, f.name)[index] for f in fields(self)})

    def model(self, *, group: int, clap: int) -> DecayModel:
        """Return one clap's decay as plain numbers."""
        level = float(np.exp(self.log_level[clap]))
        levels: tuple[float, ...] = (level,)
        if self.n_slopes == 2:
            levels = (level, level * float(np.exp(self.log_ratio[group])))
        return DecayModel(
            rates=tuple(float(r) for r in np.exp(self.log_rate[group])),
            levels=levels,
            noise=float(np.exp(self.log_noise[clap])),
        )


def mean_decay(rate: Floats, edges_s: Floats) -> tuple[Floats, Floats]:
    """Average of ``exp(-rate t)`` over each block, and its derivative by ``log rate``.

    Parameters
    ----------
    rate : array, shape (n,)
        Decay rates. [1/s]
    edges_s : array, shape (n_blocks + 1,)
        Block edges. [s]

    Returns
    -------
    tuple of array, shape (n, n_blocks)
        Mean and derivative.
    """
    x = rate[:, None] * edges_s[None, :]
    falling = np.exp(-x)
    width = np.diff(x, axis=1)
    mean = (falling[:, :-1] - falling[:, 1:]) / width
    # d/dlog k of the integral of exp(-k t) over a block is -int k t exp(-k t) dt.
    tail = (x + 1.0) * falling
    slope = -(tail[:, :-1] - tail[:, 1:]) / width
    return mean, slope


def expected_energies(
    *, edges_s: Floats, group: Ints, shared: Floats, log_level: Floats, log_noise: Floats
) -> tuple[Floats, Floats]:
    """Return expectation (n_claps, n_blocks) and its log-derivatives (n_claps, n_blocks, n_shared + 2)."""
    n_shared = shared.shape[1]
    level = np.exp(log_level)[:, None]
    first, first_slope = mean_decay(np.exp(shared[:, 0]), edges_s)
    parts = [level * first_slope[group]]
    decaying = first[group]
    if n_shared == 3:
        second, second_slope = mean_decay(np.exp(shared[:, 1]), edges_s)
        ratio = np.exp(shared[:, 2])[group][:, None]
        parts += [level * ratio * second_slope[group], level * ratio * second[group]]
        decaying = decaying + ratio * second[group]
    signal = level * decaying
    noise = np.broadcast_to(np.exp(log_noise)[:, None], signal.shape)
    expectation = signal + noise
    jacobian = np.stack([*parts, signal, noise], axis=-1) / expectation[..., None]
    return expectation, jacobian


def _log_likelihood(blocks: BlockEnergies, expectation: Floats) -> Floats:
    terms = blocks.shape * (-blocks.energy / expectation - np.log(expectation))
    return np.asarray(terms.sum(axis=1))


def _sum_by_group(values: Floats, group: Ints, n_groups: int) -> Floats:
    out = np.zeros((n_groups, *values.shape[1:]))
    np.add.at(out, group, values)
    return out


def fit_decay(
    blocks: BlockEnergies,
    *,
    group: Ints,
    shared: Floats,
    log_level: Floats,
    log_noise: Floats,
) -> DecayFit:
    """Fit the decay model from a starting point.

    Parameters
    ----------
    blocks : BlockEnergies
        Energies of ``n_claps`` claps in one band.
    group : int array, shape (n_claps,)
        Which claps share their slopes, numbered from zero without gaps.
    shared : array, shape (n_groups, 1) or (n_groups, 3)
        Start: log rate; or log rates of both slopes and log ratio.
    log_level, log_noise : array, shape (n_claps,)
        Start of each clap's level at time zero and background.

    Returns
    -------
    DecayFit
        At the maximum that scoring reaches from the start.
    """
    n_groups, n_shared = shared.shape
    floor = np.log(np.maximum(blocks.energy.max(axis=1), np.finfo(float).tiny) * _NOISE_FLOOR)
    log_noise = np.maximum(log_noise, floor)
    state = (shared, log_level, log_noise)
    expectation, jacobian = expected_energies(
        edges_s=blocks.edges_s, group=group, shared=shared, log_level=log_level, log_noise=log_noise
    )
    height = _sum_by_group(_log_likelihood(blocks, expectation), group, n_groups)
    damping = np.full(n_groups, 1e-6)
    active = np.ones(n_groups, dtype=bool)
    for _ in range(_MAX_STEPS):
        shared_step, nuisance_step, size = _scoring_step(
            blocks, expectation, jacobian, group=group, n_shared=n_shared, damping=damping
        )
        live = active[group][:, None]
        trial = (
            state[0] + np.where(active[:, None], shared_step, 0.0),
            state[1] + np.where(live, nuisance_step, 0.0)[:, 0],
            np.maximum(state[2] + np.where(live, nuisance_step, 0.0)[:, 1], floor),
        )
        trial_expectation, trial_jacobian = expected_energies(
            edges_s=blocks.edges_s, group=group, shared=trial[0], log_level=trial[1], log_noise=trial[2]
        )
        trial_height = _sum_by_group(_log_likelihood(blocks, trial_expectation), group, n_groups)
        better = trial_height >= height - 1e-9
        took = better[group]
        state = (
            np.where(better[:, None], trial[0], state[0]),
            np.where(took, trial[1], state[1]),
            np.where(took, trial[2], state[2]),
        )
        expectation = np.where(took[:, None], trial_expectation, expectation)
        jacobian = np.where(took[:, None, None], trial_jacobian, jacobian)
        height = np.where(better, trial_height, height)
        damping = np.where(better, np.maximum(damping * 0.1, 1e-9), damping * 20.0 + 1e-3)
        active &= ~((better & (size < _SETTLED)) | (damping > 1e8))
        if not active.any():
            break
    return _result(blocks, expectation, jacobian, group=group, state=state, height=height)


def _moments(blocks: BlockEnergies, expectation: Floats, jacobian: Floats) -> tuple[Floats, Floats, Floats]:
    residual = blocks.energy / expectation - 1.0
    weighted = jacobian * blocks.shape[..., None]
    score = np.einsum("fj,fjp->fp", residual, weighted)
    information = np.einsum("fjp,fjq->fpq", weighted, jacobian)
    return residual, score, information


def _scoring_step(
    blocks: BlockEnergies,
    expectation: Floats,
    jacobian: Floats,
    *,
    group: Ints,
    n_shared: int,
    damping: Floats,
) -> tuple[Floats, Floats, Floats]:
    """Return the damped Fisher step of shared and nuisance parameters, and its size per group."""
    n_groups = damping.shape[0]
    _, score, information = _moments(blocks, expectation, jacobian)
    scale = 1.0 + damping[group][:, None]
    diagonal = np.arange(n_shared + 2)
    information[:, diagonal, diagonal] = information[:, diagonal, diagonal] * scale + 1e-9
    own = information[:, n_shared:, n_shared:]
    cross = information[:, :n_shared, n_shared:]
    solved = np.linalg.solve(own, np.concatenate([np.swapaxes(cross, 1, 2), score[:, n_shared:, None]], 2))
    reduced = information[:, :n_shared, :n_shared] - cross @ solved[:, :, :n_shared]
    reduced_score = score[:, :n_shared] - (cross @ solved[:, :, n_shared:])[..., 0]
    total = _sum_by_group(reduced, group, n_groups)
    total_score = _sum_by_group(reduced_score, group, n_groups)
    shared_step = np.linalg.solve(total, total_score[..., None])[..., 0]
    largest = np.abs(shared_step).max(axis=1)
    shrink = np.minimum(1.0, _LARGEST_STEP / np.maximum(largest, 1e-300))
    shared_step = shared_step * shrink[:, None]
    nuisance_step = solved[:, :, n_shared] - (solved[:, :, :n_shared] @ shared_step[group][..., None])[..., 0]
    nuisance_step = np.clip(nuisance_step, -3.0, 3.0)
    return shared_step, nuisance_step, largest


def _result(
    blocks: BlockEnergies,
    expectation: Floats,
    jacobian: Floats,
    *,
    group: Ints,
    state: tuple[Floats, Floats, Floats],
    height: Floats,
) -> DecayFit:
    shared, log_level, log_noise = state
    n_groups, n_shared = shared.shape
    residual, _, information = _moments(blocks, expectation, jacobian)
    own = information[:, n_shared:, n_shared:] + 1e-9 * np.eye(2)
    cross = information[:, :n_shared, n_shared:]
    projection = np.swapaxes(np.linalg.solve(own, np.swapaxes(cross, 1, 2)), 1, 2)
    efficient = blocks.shape[..., None] * (
        jacobian[..., :n_shared] - np.einsum("fpn,fjn->fjp", projection, jacobian[..., n_shared:])
    )
    reduced = information[:, :n_shared, :n_shared] - projection @ np.swapaxes(cross, 1, 2)
    return DecayFit(
        log_rate=shared[:, :1] if n_shared == 1 else shared[:, :2],
        log_ratio=shared[:, 2] if n_shared == 3 else np.full(n_groups, -np.inf),
        log_level=log_level,
        log_noise=log_noise,
        log_likelihood=height,
        information=_sum_by_group(reduced, group, n_groups),
        residual=residual,
        expectation=expectation,
        efficient=efficient,
    )
