"""Which block moves the decay time by how much, and what that says about claps that belong together."""

from __future__ import annotations

import numpy as np

from roomir.decay.likelihood import DecayFit, Floats, solve_2x2
from roomir.decay.model import log_decay_time_gradient


def influence(fit: DecayFit, shape: Floats) -> tuple[Floats, Floats]:
    """How each block of each clap moves the log decay time of its group.

    Parameters
    ----------
    fit : DecayFit
        The fit.
    shape : array, shape (n_claps, n_blocks)
        Gamma shapes it was made with.

    Returns
    -------
    weights : array, shape (n_claps, n_blocks)
        Change of the group's log decay time per unit of relative residual.
    variance : array, shape (n_groups,)
        Variance of the log decay time if the claps were unrelated, from the efficient information.
    """
    n = fit.n_shared
    if n == 1:
        gradient = np.zeros_like(fit.shared)
        gradient[:, 0] = -1.0
    else:
        gradient = np.array([log_decay_time_gradient(row) for row in fit.shared])
    ridge = 1e-9 * np.eye(n)
    direction = np.linalg.solve(fit.information + ridge, gradient[..., None])[..., 0]
    along = direction[fit.group]
    # The efficient score of a clap along this direction: level and background taken out.
    own = solve_2x2(fit.clap_information[:, n:, n:], fit.clap_information[:, n:, :n] @ along[:, :, None])
    coefficients = np.concatenate([along[:, None, :], -own.transpose(0, 2, 1)], axis=2)
    weights = (coefficients @ fit.jacobian)[:, 0] * shape
    return weights, (direction * gradient).sum(axis=1)


def likeness(fit: DecayFit, shape: Floats) -> Floats:
    """Correlation between claps of the weighted residuals of their own fits, shape (n_claps, n_claps).

    Claps in one spot share the room's fine structure, so their residuals move
    together; claps in different spots have nothing in common, and chance
    makes their correlation negative as often as positive. The fits are each
    clap's own: decays that differ would depart alike from one fitted to all.
    """
    if fit.log_level.size == 1:
        return np.ones((1, 1))
    weights, _ = influence(fit, shape)
    weighted = weights * fit.residual
    cross = weighted @ weighted.T
    norm = np.sqrt(np.maximum(np.diag(cross), np.finfo(float).tiny))
    out = np.asarray(cross / np.outer(norm, norm))
    np.fill_diagonal(out, 1.0)
    return out


def effective_number(likeness_: Floats) -> float:
    """How many unrelated claps a set is worth: n^2 over the sum of all pairwise correlations, at most n."""
    n = likeness_.shape[0]
    return float(n**2 / max(likeness_.sum(), n))
