r"""The decay of an empty box whose walls mirror sound: the far end from a diffuse field.

Sound in direction :math:`(\omega_x, \omega_y, \omega_z)` keeps its direction but for
signs and meets the pair of walls normal to axis k :math:`c |\omega_k| / L_k` times a
second, losing :math:`a_k = -\ln(1 - \alpha)` in the mean each time. The energy of all
directions together,

.. math:: E(t) = \int \frac{e^{-r(\omega) t}}{r(\omega)} d\omega, \qquad
          r(\omega) = c \sum_k \frac{|\omega_k|}{L_k} a_k + c m,

falls ever more slowly, because what skims along hard walls remains. This is the
limit of many image sources (E. A. Lehmann and A. M. Johansson, J. Acoust. Soc. Am.
124 (2008) 269-277, from memory; integrated here). Furniture, edges and anything
that scatters bring a room back towards Eyring's formula.
"""

from __future__ import annotations

import numpy as np

from roomir.rooms.five_formulas import MOST_ALPHA, Absorbing, Values

_NODES = 9
_ROUNDS = 26


def mirror_box_s(
    body: Absorbing, *, size_m: tuple[float, float, float], walls: tuple[int, ...]
) -> Values | None:
    """Decay time between -5 and -25 dB of an empty box, shape (bands,). [s].

    Parameters
    ----------
    body : Absorbing
        The room; every patch has its axis.
    size_m : (float, float, float)
        Length, width, height. [m]
    walls : tuple of int
        Which surface each patch belongs to.

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
    rates = body.sound_speed * (directions @ per_metre + air)
    return _between(rates, weights)


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


def _between(rates: Values, weights: Values) -> Values:
    """Three times the time from -5 to -25 dB of the backward-integrated decay, per band."""
    start = (weights[:, np.newaxis] / rates).sum(axis=0)
    times = []
    for level_db in (-5.0, -25.0):
        goal = start * 10.0 ** (level_db / 10.0)
        low, high = np.zeros(rates.shape[1]), 60.0 / rates.min(axis=0)
        for _ in range(_ROUNDS):
            middle = 0.5 * (low + high)
            left = (weights[:, np.newaxis] * np.exp(-rates * middle) / rates).sum(axis=0) > goal
            low, high = np.where(left, middle, low), np.where(left, high, middle)
        times.append(0.5 * (low + high))
    return np.asarray(3.0 * (times[1] - times[0]))
