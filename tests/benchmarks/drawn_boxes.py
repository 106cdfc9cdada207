"""Empty boxes whose walls mirror sound, drawn with image sources: what the room model has to foresee.

Allen and Berkley, J. Acoust. Soc. Am. 65 (1979) 943-950. Nothing here comes from ``roomir``: every image of
the source is counted out to where the decay has fallen far, and beyond that an integral over directions
stands for images too many to count.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

C = 343.2
WALLS = ("west", "east", "south", "north", "floor", "ceiling")
_SLOTS = 1500
_REACH = 0.75
"""Images are counted out to so many of Eyring's decay times."""


@dataclass(frozen=True, kw_only=True)
class Decay:
    """Decay times of one box, shape (bands,). [s]."""

    t20_s: np.ndarray
    t30_s: np.ndarray


def areas_m2(size_m: tuple[float, float, float]) -> np.ndarray:
    """Areas of the six walls, in the order of `WALLS`."""
    length, width, height = size_m
    return np.repeat([width * height, length * height, length * width], 2)


def decay(
    size_m: tuple[float, float, float], alphas: np.ndarray, rng: np.random.Generator, *, n_spots: int = 6
) -> Decay:
    """Decay of the energy of all images, summed over spots; ``alphas`` is (6 walls, bands).

    Six spots: as many combinations as ISO 3382-2:2008, Table 1, asks for in engineering (from memory).
    """
    size = np.array(size_m)
    mean = areas_m2(size_m) @ alphas / areas_m2(size_m).sum()
    eyring_s = 55.26 * float(np.prod(size)) / (C * areas_m2(size_m).sum() * -np.log1p(-mean))
    reach_m = C * _REACH * float(eyring_s.max())
    energy = np.zeros((alphas.shape[1], _SLOTS))
    for _ in range(n_spots):
        source, ear = (0.5 + rng.random(3) * (size - 1.0) for _ in range(2))
        energy += _energies(size, alphas, source, ear, reach_m=reach_m)
    rest_m = np.linspace(reach_m, 3.0 * reach_m, _SLOTS)
    rest = n_spots * _beyond(size, alphas, at_m=rest_m)
    left = np.cumsum(energy[:, ::-1], axis=1)[:, ::-1] + rest[:, :1]
    metres = np.concatenate([np.arange(_SLOTS) * (reach_m / _SLOTS), rest_m])
    level_db = 10.0 * np.log10(np.concatenate([left, rest], axis=1) / left[:, :1])
    return Decay(t20_s=_slopes(metres / C, level_db, -25.0), t30_s=_slopes(metres / C, level_db, -35.0))


def _slopes(time_s: np.ndarray, level_db: np.ndarray, foot_db: float) -> np.ndarray:
    found = []
    for one in level_db:
        # Both halves of the curve are equally dense in the fit.
        fit = (one <= -5.0) & (one >= foot_db)
        even = np.linspace(time_s[fit][0], time_s[fit][-1], 500)
        found.append(-60.0 / float(np.polyfit(even, np.interp(even, time_s, one), 1)[0]))
    return np.array(found)


def _beyond(size: np.ndarray, alphas: np.ndarray, *, at_m: np.ndarray) -> np.ndarray:
    """Energy of all images beyond some distances, shape (bands, distances)."""
    steps = (np.arange(40) + 0.5) / 40
    z, angle = np.meshgrid(steps, steps * np.pi / 2.0, indexing="ij")
    across = np.sqrt(1.0 - z**2)
    way = np.stack([across * np.cos(angle), across * np.sin(angle), z], axis=-1).reshape(-1, 3)
    losses = -0.5 * np.log1p(-alphas).reshape(3, 2, -1).sum(axis=1)
    per_m = way @ (losses / size[:, None])
    left, found = 1.0 / per_m * np.exp(-per_m * at_m[0]), []
    step = np.exp(-per_m * (at_m[1] - at_m[0]))
    for _ in at_m:
        found.append(left.mean(axis=0))
        left = left * step
    # Images lie V apart, so 4 pi dr / V of energy come from each step of distance.
    return 4.0 * np.pi / float(np.prod(size)) * np.array(found).T


def _energies(
    size: np.ndarray, alphas: np.ndarray, source: np.ndarray, ear: np.ndarray, *, reach_m: float
) -> np.ndarray:
    keep = np.log(1.0 - alphas).reshape(3, 2, -1)
    offsets, losses = [], []
    for axis in range(3):
        n = np.arange(-int(reach_m / (2 * size[axis])) - 1, int(reach_m / (2 * size[axis])) + 2)
        one = [source[axis] + 2 * n * size[axis] - ear[axis], -source[axis] + 2 * n * size[axis] - ear[axis]]
        near, far = np.concatenate([np.abs(n), np.abs(n - 1)]), np.concatenate([np.abs(n), np.abs(n)])
        offsets.append(np.concatenate(one))
        losses.append(near[:, None] * keep[axis, 0] + far[:, None] * keep[axis, 1])
    plane = (offsets[1][:, None] ** 2 + offsets[2][None, :] ** 2).ravel()
    plane_kept = np.exp(losses[1][:, None, :] + losses[2][None, :, :]).reshape(-1, alphas.shape[1]).T
    x_kept = np.exp(losses[0])
    energy = np.zeros((alphas.shape[1], _SLOTS))
    for x, kept in zip(offsets[0], x_kept, strict=True):
        r2 = x * x + plane
        near_enough = np.flatnonzero(r2 < reach_m**2)
        if near_enough.size == 0:
            continue
        near2 = r2[near_enough]
        slot = np.minimum((np.sqrt(near2) / reach_m * _SLOTS).astype(int), _SLOTS - 1)
        for band in range(alphas.shape[1]):
            weight = plane_kept[band, near_enough] / near2
            energy[band] += kept[band] * np.bincount(slot, weights=weight, minlength=_SLOTS)
    return energy
