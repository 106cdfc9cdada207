"""How well the room model learns: rooms drawn with image sources, next stage predicted.

``python -m tests.benchmarks.plan`` writes ``results/plan.json``.

The truth is an empty box with specular walls, each coefficient drawn; its decay time is the slope from -5
to -25 dB of the backward-integrated energy of its image sources in three spots. Three old materials of 0.10
to 0.30, known to 20 %; the new one of 0.25 to 0.85, each octave off by the spread. The model is told the
tables' coefficients, one reading of the bare room with its interval, and no more.

One end of what the model can learn about a box (``rooms/mirror_box.py``) is the limit of such rooms, the
other a diffuse field; ``diffuse_field_alone`` shows the model without that freedom, ``without_reading``
what tables alone say, ``new_material_alone_would_allow`` how often a model without any fault could be
within 10 %.
"""

from __future__ import annotations

import json
import math
import sys
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from roomir.plan.model import StageReading, expect, learn
from roomir.plan.treatment import Item, treated
from roomir.rooms.description import Patch, Room, Surface
from roomir.rooms.materials import Material, Panel
from tests.benchmarks.store import commit_name

SEED = 20_261_127
C = 343.2
OCTAVES = tuple(range(2, 7))
"""250 Hz to 4 kHz."""

READ_SHARE = 0.015
"""Standard uncertainty of a reading as a share: five spots, reliable (README's tour has 0.8 to 2.2 %)."""

WALLS = ("west", "east", "south", "north", "floor", "ceiling")
RESULTS = Path(__file__).parent / "results"


@dataclass(frozen=True, kw_only=True)
class Setting:
    """How rooms are drawn."""

    name: str
    n: int
    new_share: tuple[float, float]
    spread: float
    layout: str


def decay_time_s(
    size_m: tuple[float, float, float], alphas: np.ndarray, rng: np.random.Generator
) -> np.ndarray:
    """Slope from -5 to -25 dB over three spots; ``alphas`` is (6 walls, bands), the result (bands,)."""
    size = np.array(size_m)
    volume = float(np.prod(size))
    areas = np.repeat([size[1] * size[2], size[0] * size[2], size[0] * size[1]], 2)
    mean = areas @ alphas / areas.sum()
    guess_s = 55.26 * volume / (C * areas.sum() * -np.log1p(-mean))
    # Beyond, an integral over directions takes over.
    reach_m = C * 0.6 * float(guess_s.max())
    energy = np.zeros((alphas.shape[1], 1500))
    for _ in range(3):
        source, ear = (0.5 + rng.random(3) * (size - 1.0) for _ in range(2))
        energy += _energies(size, alphas, source, ear, reach_m=reach_m)
    left = np.cumsum(energy[:, ::-1], axis=1)[:, ::-1] + 3.0 * _beyond(size, alphas, reach_m=reach_m)[:, None]
    level_db = 10.0 * np.log10(left / left[:, :1])
    time_s = np.arange(1500) * (reach_m / C / 1500)
    return np.array([_slope(time_s, one) for one in level_db])


def _slope(time_s: np.ndarray, level_db: np.ndarray) -> float:
    fit = (level_db <= -5.0) & (level_db >= -25.0)
    return -60.0 / float(np.polyfit(time_s[fit], level_db[fit], 1)[0])


def _beyond(size: np.ndarray, alphas: np.ndarray, *, reach_m: float) -> np.ndarray:
    """Energy of all images beyond the reach, too many to count: an integral over directions."""
    steps = (np.arange(40) + 0.5) / 40
    z, angle = np.meshgrid(steps, steps * np.pi / 2.0, indexing="ij")
    across = np.sqrt(1.0 - z**2)
    way = np.stack([across * np.cos(angle), across * np.sin(angle), z], axis=-1).reshape(-1, 3)
    losses = -0.5 * np.log1p(-alphas).reshape(3, 2, -1).sum(axis=1)
    per_m = way @ (losses / size[:, None])
    # Images lie V apart, so 4 pi dr / V of energy come from each step of distance.
    return 4.0 * np.pi / float(np.prod(size)) * np.mean(np.exp(-per_m * reach_m) / per_m, axis=0)


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
    plane = offsets[1][:, None] ** 2 + offsets[2][None, :] ** 2
    plane_loss = (losses[1][:, None, :] + losses[2][None, :, :]).reshape(-1, alphas.shape[1])
    plane = plane.ravel()
    energy = np.zeros((alphas.shape[1], 1500))
    for x, loss in zip(offsets[0], losses[0], strict=True):
        r2 = x * x + plane
        near_enough = np.flatnonzero(r2 < reach_m**2)
        if near_enough.size == 0:
            continue
        r = np.sqrt(r2[near_enough])
        slot = np.minimum((r / reach_m * 1500).astype(int), 1499)
        for band in range(alphas.shape[1]):
            weight = np.exp(plane_loss[near_enough, band] + loss[band]) / r2[near_enough]
            energy[band] += np.bincount(slot, weights=weight, minlength=1500)
    return energy


def draw(setting: Setting, rng: np.random.Generator) -> dict[str, np.ndarray]:
    """Draw one room, read it bare, learn, and hold the next stage against its truth; arrays over bands."""
    size_m = (rng.uniform(3.5, 8.0), rng.uniform(3.0, 6.0), rng.uniform(2.3, 3.5))
    areas = np.repeat([size_m[1] * size_m[2], size_m[0] * size_m[2], size_m[0] * size_m[1]], 2)
    bands = len(OCTAVES)
    # Three materials: walls, floor, ceiling, as the tables say, and 15 to 30 % off in truth.
    table = rng.uniform(0.10, 0.30, 3)[:, None] * np.exp(0.25 * rng.standard_normal((3, bands)))
    of_wall = [0, 0, 0, 0, 1, 2]
    said_spread = 0.20
    true = table * np.exp(said_spread * rng.standard_normal((3, bands)))
    bare_true = true[of_wall]
    new = rng.uniform(0.25, 0.85) * np.exp(0.15 * rng.standard_normal(bands))
    new = np.minimum(new, 0.95)
    new_true = np.minimum(new * np.exp(setting.spread * rng.standard_normal(bands)), 0.98)
    covered = _covered(setting, areas, rng)
    room = _room(size_m, areas, table, of_wall, said_spread)
    absorber = Material(
        name="new",
        alpha=(None, 0.5, *map(float, new), None),
        mounting="drawn",
        source="drawn",
        panel=Panel(kind="porous", area_m2=1.0, thickness_mm=50, weight_kg_per_m2=2),
    )
    stage = treated(room, _items(absorber, covered))
    stage = replace(stage, surfaces=tuple(_respread(s, setting.spread) for s in stage.surfaces))
    bare_s = decay_time_s(size_m, bare_true, rng)
    share = np.array(covered) / areas
    then_s = decay_time_s(size_m, bare_true * (1 - share)[:, None] + new_true * share[:, None], rng)
    read = bare_s * np.exp(READ_SHARE * rng.standard_normal(bands))
    reading = StageReading(
        name="bare", decay_time_s={i: (float(t), READ_SHARE) for i, t in zip(OCTAVES, read, strict=True)}
    )
    untaught = expect(stage)
    known = learn(room, reading)
    taught = expect(stage, known)
    diffuse = expect(stage, learn(room, reading, mixings=(0.0,)))
    ours_m2 = sum(covered) * new
    part = ours_m2 / (ours_m2 + (areas - np.array(covered)) @ bare_true)
    pick = [taught.octaves.index(i) for i in OCTAVES]
    z = np.log(then_s / taught.decay_time_s[pick]) / taught.log_spread[pick]
    return {
        "error": np.log(then_s / taught.decay_time_s[pick]),
        "untaught": np.log(then_s / untaught.decay_time_s[pick]),
        "diffuse": np.log(then_s / diffuse.decay_time_s[pick]),
        "limit": np.array(
            [math.erf(0.0953 / (max(one, 1e-9) * setting.spread * math.sqrt(2.0))) for one in part]
        ),
        "held": np.abs(z) <= 1.959964,
        "spread": taught.log_spread[pick],
    }


def _covered(setting: Setting, areas: np.ndarray, rng: np.random.Generator) -> list[float]:
    """Square metres of new material on each wall, whole panels."""
    wanted = rng.uniform(*setting.new_share) * areas.sum()
    if setting.layout == "all walls":
        weights = areas * rng.uniform(0.7, 1.3, 6)
    elif setting.layout == "one of each pair":
        weights = np.zeros(6)
        for pair in range(3):
            weights[2 * pair + rng.integers(2)] = areas[2 * pair]
    else:
        weights = np.zeros(6)
        two = rng.choice(6, 2, replace=False)
        weights[two] = areas[two]
    return [
        float(math.floor(min(w, 0.95 * a)))
        for w, a in zip(weights / weights.sum() * wanted, areas, strict=True)
    ]


def _room(
    size_m: tuple[float, float, float],
    areas: np.ndarray,
    table: np.ndarray,
    of_wall: list[int],
    spread: float,
) -> Room:
    names = ("walls", "floor", "ceiling")
    surfaces = []
    for wall, area, facing, which in zip(WALLS, areas, "xxyyzz", of_wall, strict=True):
        alpha = (None, 0.1, *map(float, table[which]), None)
        spreads = tuple(None if a is None else spread for a in alpha)
        patch = Patch(area_m2=float(area), material=names[which], alpha=alpha, log_spread=spreads)
        surfaces.append(Surface(name=wall, area_m2=float(area), facing=facing, patches=(patch,)))
    return Room(name="drawn", volume_m3=math.prod(size_m), dimensions_m=size_m, surfaces=tuple(surfaces))


def _respread(surface: Surface, spread: float) -> Surface:
    patches = tuple(
        replace(p, log_spread=tuple(None if a is None else spread for a in p.alpha))
        if p.material == "new"
        else p
        for p in surface.patches
    )
    return replace(surface, patches=patches)


def _items(absorber: Material, covered: list[float]) -> list[Item]:
    return [
        Item(absorber=absorber, surface=wall, count=int(area))
        for wall, area in zip(WALLS, covered, strict=True)
        if area >= 1.0
    ]


def study(setting: Setting) -> dict[str, Any]:
    """Run one setting and sum it up."""
    rng = np.random.default_rng([SEED, len(setting.name), setting.n, round(100 * setting.spread)])
    drawn = [draw(setting, rng) for _ in range(setting.n)]
    error, held = (np.array([one[key] for one in drawn]) for key in ("error", "held"))
    untaught, diffuse, limit = (
        np.array([one[key] for one in drawn]) for key in ("untaught", "diffuse", "limit")
    )
    return {
        "n": setting.n,
        "spread_percent": round(100 * setting.spread),
        "new_percent": [round(100 * one) for one in setting.new_share],
        "layout": setting.layout,
        "within_10_percent": round(100 * float(np.mean(np.abs(np.expm1(error)) <= 0.10)), 1),
        "without_reading_within_10_percent": round(
            100 * float(np.mean(np.abs(np.expm1(untaught)) <= 0.10)), 1
        ),
        "diffuse_field_alone_within_10_percent": round(
            100 * float(np.mean(np.abs(np.expm1(diffuse)) <= 0.10)), 1
        ),
        "new_material_alone_would_allow_percent": round(100 * float(limit.mean()), 1),
        "interval_holds_percent": round(100 * float(held.mean()), 1),
        "bias_percent": round(100 * float(np.expm1(error.mean())), 1),
        "rms_percent": round(100 * float(np.sqrt(np.mean(error**2))), 1),
        "stated_sd_percent": round(100 * float(np.mean([one["spread"] for one in drawn])), 1),
    }


SETTINGS = [
    *(
        Setting(
            name=f"{layout}, spread {spread:g}, new to 30 %",
            n=30,
            new_share=(0.05, 0.3),
            spread=spread,
            layout=layout,
        )
        for layout in ("all walls", "one of each pair", "two walls")
        for spread in (0.10, 0.15, 0.30)
    ),
    *(
        Setting(
            name=f"all walls, spread {spread:g}, new 30 to 70 %",
            n=30,
            new_share=(0.3, 0.7),
            spread=spread,
            layout="all walls",
        )
        for spread in (0.10, 0.15, 0.30)
    ),
]


def main(n: int | None = None) -> None:
    """Run all settings and write what came of them."""
    rows = {}
    for setting in SETTINGS:
        rows[setting.name] = study(setting if n is None else replace(setting, n=n))
        sys.stderr.write(f"{setting.name}: {rows[setting.name]}\n")
        document = {"seed": SEED, "commit": commit_name(), "reading_share": READ_SHARE, "settings": rows}
        (RESULTS / "plan.json").write_text(json.dumps(document, indent=1) + "\n")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else None)
