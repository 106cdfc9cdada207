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

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomir.decay.model import DecayModel

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

_MAX_STEPS = 40
_LARGEST_STEP = 0.7
_NOISE_FLOOR = 1e-14
_RIDGE = 1e-9


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
    """Fitted decays of claps in groups.

    Attributes
    ----------
    group : int array, shape (n_claps,)
        Group of each clap.
    log_rate : array, shape (n_groups, n_slopes)
        Logarithm of the decay rates ``k``, steepest first. [ln 1/s]
    log_ratio : array, shape (n_groups,)
        Level of the second slope over the first at time zero, in nepers; ``-inf`` for one slope.
    log_level, log_noise : array, shape (n_claps,)
        Logarithm of level at time zero (of the first slope) and of the background.
    log_likelihood : array, shape (n_groups,)
        Up to a constant that does not depend on the model.
    expectation : array, shape (n_claps, n_blocks)
        Fitted mean energies.
    residual : array, shape (n_claps, n_blocks)
        ``energy / expectation - 1``.
    jacobian : array, shape (n_claps, n_shared + 2, n_blocks)
        Derivative of the log expectation by the shared parameters (log rates, log ratio), the
        clap's log level and its log noise.
    clap_information : array, shape (n_claps, n_shared + 2, n_shared + 2)
        Fisher information of each clap.
    information : array, shape (n_groups, n_shared, n_shared)
        Efficient Fisher information of the shared parameters.
    """

    group: Ints
    log_rate: Floats
    log_ratio: Floats
    log_level: Floats
    log_noise: Floats
    log_likelihood: Floats
    expectation: Floats
    residual: Floats
    jacobian: Floats
    clap_information: Floats
    information: Floats

    @property
    def n_slopes(self) -> int:
        """Number of slopes."""
        return int(self.log_rate.shape[1])

    @property
    def n_shared(self) -> int:
        """Number of shared parameters: 1 for one slope, 3 for two."""
        return 2 * self.n_slopes - 1

    @property
    def shared(self) -> Floats:
        """Shared parameters: log rates, and with two slopes the log ratio; shape (n_groups, 1 or 3)."""
        if self.n_slopes == 1:
            return self.log_rate
        return np.concatenate([self.log_rate, self.log_ratio[:, None]], axis=1)

    def model(self, clap: int) -> DecayModel:
        """Return one clap's decay as plain numbers."""
        group = self.group[clap]
        level = float(np.exp(self.log_level[clap]))
        levels: tuple[float, ...] = (level,)
        if self.n_slopes == 2:
            levels = (level, level * float(np.exp(self.log_ratio[group])))
        return DecayModel(
            rates=tuple(float(r) for r in np.exp(self.log_rate[group])),
            levels=levels,
            noise=float(np.exp(self.log_noise[clap])),
        )

    def without_nuisance(self, direction: Floats, weight: Floats) -> tuple[Floats, Floats]:
        """Take what level, background and slopes could explain out of one more direction.

        Parameters
        ----------
        direction : array, shape (n_claps, n_blocks)
            Derivative of the log expectation by one more parameter, common to all claps (of a
            single group).
        weight : array, shape (n_claps, n_blocks)
            Gamma shapes.

        Returns
        -------
        (float array, float array)
            Score of the parameter at zero and the variance it has by chance.
        """
        shares = direction * weight
        score = np.einsum("fj,fj->", self.residual, shares)
        own = (self.jacobian @ shares[:, :, None])[..., 0]
        n = self.n_shared
        solved = solve_2x2(self.clap_information[:, n:, n:], own[:, n:, None])[..., 0]
        inner = np.einsum("fp,fp->", own[:, n:], solved)
        left = (own[:, :n] - (self.clap_information[:, :n, n:] @ solved[..., None])[..., 0]).sum(axis=0)
        explained = inner + left @ np.linalg.solve(self.information[0] + _RIDGE * np.eye(n), left)
        return score, np.maximum(np.einsum("fj,fj->", shares, direction) - explained, 0.0)


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
    width = x[:, 1:] - x[:, :-1]
    mean = (falling[:, :-1] - falling[:, 1:]) / width
    # d/dlog k of the mean of exp(-k t) is -mean(k t exp(-k t)).
    tail = (x + 1.0) * falling
    slope = (tail[:, 1:] - tail[:, :-1]) / width + mean
    return mean, slope - mean


def solve_2x2(matrix: Floats, right: Floats) -> Floats:
    """Solve many symmetric two-by-two systems at once, with a ridge that keeps them regular.

    Parameters
    ----------
    matrix : array, shape (n, 2, 2)
        Positive semidefinite.
    right : array, shape (n, 2, m)
        Right-hand sides.
    """
    a = matrix[:, 0, 0] + _RIDGE
    b = matrix[:, 0, 1]
    d = matrix[:, 1, 1] + _RIDGE
    scale = 1.0 / (a * d - b * b)
    out = np.empty_like(right)
    out[:, 0] = (d * scale)[:, None] * right[:, 0] - (b * scale)[:, None] * right[:, 1]
    out[:, 1] = (a * scale)[:, None] * right[:, 1] - (b * scale)[:, None] * right[:, 0]
    return out


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _State:
    """Parameters of a fit with what follows from them."""

    shared: Floats
    log_level: Floats
    log_noise: Floats
    expectation: Floats
    jacobian: Floats
    height: Floats


def _evaluate(
    blocks: BlockEnergies,
    *,
    member: Floats,
    group: Ints,
    shared: Floats,
    log_level: Floats,
    log_noise: Floats,
) -> _State:
    level = np.exp(log_level)[:, None]
    noise = np.exp(log_noise)[:, None]
    n_claps, n_blocks = blocks.energy.shape
    n_shared = shared.shape[1]
    parts = np.empty((n_claps, n_shared + 2, n_blocks))
    mean, slope = mean_decay(np.exp(shared[:, 0]), blocks.edges_s)
    parts[:, 0] = level * slope[group]
    signal = level * mean[group]
    if n_shared == 3:
        mean, slope = mean_decay(np.exp(shared[:, 1]), blocks.edges_s)
        second = level * np.exp(shared[:, 2])[group][:, None]
        parts[:, 1] = second * slope[group]
        parts[:, 2] = second * mean[group]
        signal = signal + parts[:, 2]
    expectation = signal + noise
    parts[:, n_shared] = signal
    parts[:, n_shared + 1] = noise
    parts /= expectation[:, None, :]
    terms = blocks.shape * (blocks.energy / expectation + np.log(expectation))
    return _State(
        shared=shared,
        log_level=log_level,
        log_noise=log_noise,
        expectation=expectation,
        jacobian=parts,
        height=-(member @ terms.sum(axis=1)),
    )


def fit_decay(
    blocks: BlockEnergies,
    *,
    group: Ints,
    shared: Floats,
    log_level: Floats,
    log_noise: Floats,
    settled: float = 1e-4,
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
    settled : float
        Step of the shared parameters below which the fit is done.

    Returns
    -------
    DecayFit
        At the maximum that scoring reaches from the start.
    """
    n_groups = shared.shape[0]
    member = (group[None, :] == np.arange(n_groups)[:, None]).astype(float)
    # With no background in sight its logarithm runs off to minus infinity; this stops it.
    floor = np.log(np.maximum(blocks.energy.max(axis=1), np.finfo(float).tiny) * _NOISE_FLOOR)
    state = _evaluate(
        blocks,
        member=member,
        group=group,
        shared=shared,
        log_level=log_level,
        log_noise=np.maximum(log_noise, floor),
    )
    damping = np.full(n_groups, 1e-6)
    active = np.ones(n_groups, dtype=bool)
    for _ in range(_MAX_STEPS):
        step, own_step, size = _scoring_step(blocks, state, member=member, group=group, damping=damping)
        step *= active[:, None]
        own_step *= active[group][:, None]
        trial = _evaluate(
            blocks,
            member=member,
            group=group,
            shared=state.shared + step,
            log_level=state.log_level + own_step[:, 0],
            log_noise=np.maximum(state.log_noise + own_step[:, 1], floor),
        )
        better = trial.height >= state.height - 1e-9
        state = trial if better.all() else _take_better(state, trial, better=better, group=group)
        damping = np.where(better, np.maximum(damping * 0.1, 1e-9), damping * 20.0 + 1e-3)
        active &= ~((better & (size < settled)) | (damping > 1e8))
        if not active.any():
            break
    return _result(blocks, state, member=member, group=group)


def _take_better(state: _State, trial: _State, *, better: NDArray[np.bool_], group: Ints) -> _State:
    took = better[group]
    return _State(
        shared=np.where(better[:, None], trial.shared, state.shared),
        log_level=np.where(took, trial.log_level, state.log_level),
        log_noise=np.where(took, trial.log_noise, state.log_noise),
        expectation=np.where(took[:, None], trial.expectation, state.expectation),
        jacobian=np.where(took[:, None, None], trial.jacobian, state.jacobian),
        height=np.where(better, trial.height, state.height),
    )


def _information(blocks: BlockEnergies, state: _State) -> tuple[Floats, Floats]:
    """Return the weighted Jacobian and the Fisher information of each clap."""
    weighted = state.jacobian * blocks.shape[:, None, :]
    return weighted, weighted @ state.jacobian.transpose(0, 2, 1)


def _scoring_step(
    blocks: BlockEnergies, state: _State, *, member: Floats, group: Ints, damping: Floats
) -> tuple[Floats, Floats, Floats]:
    """Return the damped Fisher step of shared and nuisance parameters, and its size per group."""
    n = state.shared.shape[1]
    weighted, information = _information(blocks, state)
    residual = blocks.energy / state.expectation - 1.0
    score = weighted @ residual[:, :, None]
    diagonal = np.arange(n + 2)
    information[:, diagonal, diagonal] *= 1.0 + damping[group][:, None]
    cross = information[:, :n, n:]
    solved = solve_2x2(
        information[:, n:, n:], np.concatenate([cross.transpose(0, 2, 1), score[:, n:]], axis=2)
    )
    reduced = np.concatenate([information[:, :n, :n], score[:, :n]], axis=2) - cross @ solved
    total = (member @ reduced.reshape(reduced.shape[0], -1)).reshape(-1, n, n + 1)
    if n == 1:
        step: Floats = total[:, 0, 1:] / (total[:, 0, :1] + _RIDGE)
    else:
        step = np.asarray(np.linalg.solve(total[:, :, :n] + _RIDGE * np.eye(n), total[:, :, n:])[..., 0])
    size = np.abs(step).max(axis=1)
    step = step * np.minimum(1.0, _LARGEST_STEP / np.maximum(size, 1e-300))[:, None]
    own_step = solved[:, :, n] - (solved[:, :, :n] @ step[group][:, :, None])[..., 0]
    return step, np.clip(own_step, -3.0, 3.0), size


def _result(blocks: BlockEnergies, state: _State, *, member: Floats, group: Ints) -> DecayFit:
    n = state.shared.shape[1]
    _, information = _information(blocks, state)
    cross = information[:, :n, n:]
    reduced = information[:, :n, :n] - cross @ solve_2x2(information[:, n:, n:], cross.transpose(0, 2, 1))
    return DecayFit(
        group=group,
        log_rate=state.shared[:, :1] if n == 1 else state.shared[:, :2],
        log_ratio=state.shared[:, 2] if n == 3 else np.full(state.shared.shape[0], -np.inf),
        log_level=state.log_level,
        log_noise=state.log_noise,
        log_likelihood=state.height,
        expectation=state.expectation,
        residual=blocks.energy / state.expectation - 1.0,
        jacobian=state.jacobian,
        clap_information=information,
        information=(member @ reduced.reshape(reduced.shape[0], -1)).reshape(-1, n, n),
    )
