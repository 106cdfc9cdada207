r"""The decay of a box between two ends: walls that mirror sound, and a field that is diffuse.

Sound in direction :math:`(\omega_x, \omega_y, \omega_z)` keeps its direction but for
signs where walls mirror, and meets the pair of walls normal to axis k
:math:`c |\omega_k| / L_k` times a second, losing :math:`a_k = -\ln(1 - \alpha)` in the
mean each time. What scatters sound (furniture, edges, rough walls) moves every
direction towards the mean of all, which decays as Eyring's formula says. With a share
w of mirroring,

.. math:: r(\omega) = c \left( w \sum_k \frac{|\omega_k|}{L_k} a_k
          + (1 - w) \frac{S}{4 V} a_\text{Eyring} + m \right), \qquad
          E(t) = \int \frac{e^{-r(\omega) t}}{r(\omega)} d\omega

is the backward-integrated energy of all directions together. For w = 1 it falls ever
more slowly, because what skims along hard walls remains; that is the limit of many
image sources (E. A. Lehmann and A. M. Johansson, J. Acoust. Soc. Am. 124 (2008)
269-277, from memory; integrated here). Moving the rates in one step by w is an own
choice: the simplest family that has both ends.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from roomir.rooms.five_formulas import MOST_ALPHA, Absorbing, Values, eyring_s

T20 = (-5.0, -25.0)
T30 = (-5.0, -35.0)
"""Stretches of the decay that a time is read from. [dB]"""

_NODES = 9
_ROUNDS = 8
_NEPERS = 6.0 * np.log(10.0)


def mirror_box_s(
    body: Absorbing,
    *,
    size_m: tuple[float, float, float],
    walls: tuple[int, ...],
    mirroring: Values | float = 1.0,
    stretches: Sequence[tuple[float, float]] = (T30,),
) -> Values | None:
    """Decay times of an empty box, shape (stretches, bands). [s].

    Parameters
    ----------
    body : Absorbing
        The room; every patch has its axis.
    size_m : (float, float, float)
        Length, width, height. [m]
    walls : tuple of int
        Which surface each patch belongs to.
    mirroring : float or array, shape (bands,), default 1
        w: 1 where walls mirror, 0 in a diffuse field.
    stretches : sequence of (float, float)
        From and to which level a time is read, extrapolated to 60 dB. [dB]

    Returns
    -------
    array or None
        ``None`` unless all three axes have surfaces.
    """
    if set(body.facings) != {"x", "y", "z"}:
        return None
    losses = np.stack([_loss(body, axis, walls) for axis in "xyz"])
    furnishings = body.furnishings_m2 / body.areas_m2.sum()
    per_metre = (losses + furnishings) / np.array(size_m)[:, np.newaxis]
    weights, directions = _octant()
    air = body.air_m2 / (4.0 * body.volume_m3)
    mirrored = body.sound_speed * (directions @ per_metre + air)
    rates = mirroring * mirrored + (1.0 - mirroring) * _NEPERS / eyring_s(body)
    return np.stack([_between(rates, weights, *stretch) for stretch in stretches])


def _loss(body: Absorbing, axis: str, walls: tuple[int, ...]) -> Values:
    """Mean of -ln(1 - mean coefficient) over the walls normal to an axis, shape (bands,)."""
    number = np.array(walls)
    ours = np.array([facing == axis for facing in body.facings])
    total, area = np.zeros(body.alphas.shape[-1]), 0.0
    for wall in np.unique(number[ours]):
        here = ours & (number == wall)
        wall_m2 = float(body.areas_m2[here].sum())
        if wall_m2 <= 0.0:
            continue
        mean = body.areas_m2[here] @ body.alphas[here] / wall_m2
        total += wall_m2 * -np.log1p(-np.minimum(mean, MOST_ALPHA))
        area += wall_m2
    return np.asarray(total / area)


@lru_cache(maxsize=1)
def _octant() -> tuple[Values, Values]:
    """Weights and directions over an eighth of a sphere, shapes (n,) and (n, 3)."""
    nodes, weights = np.polynomial.legendre.leggauss(_NODES)
    z, share = 0.5 * (nodes + 1.0), 0.5 * weights
    angle = z * (np.pi / 2.0)
    across = np.sqrt(1.0 - z**2)[:, np.newaxis]
    grid = np.stack(
        [across * np.cos(angle), across * np.sin(angle), np.broadcast_to(z[:, np.newaxis], (z.size, z.size))],
        axis=-1,
    )
    return np.outer(share, share).ravel(), grid.reshape(-1, 3)


def _between(rates: Values, weights: Values, high_db: float, low_db: float) -> Values:
    """Decay time from the slope between two levels of the backward-integrated decay, per band."""
    parts = weights[:, np.newaxis] / rates
    start = np.log(parts.sum(axis=0))
    times = []
    for level_db in (high_db, low_db):
        goal = start + level_db * np.log(10.0) / 10.0
        # ln E is convex and falls, so Newton's steps come from the left and never pass the goal.
        time_s = np.zeros(rates.shape[1])
        for _ in range(_ROUNDS):
            left = parts * np.exp(-rates * time_s)
            whole = left.sum(axis=0)
            time_s = time_s + (np.log(whole) - goal) * whole / (left * rates).sum(axis=0)
        times.append(time_s)
    return np.asarray(60.0 / (high_db - low_db) * (times[1] - times[0]))
