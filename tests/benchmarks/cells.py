"""The settings that accuracy is measured in, each with its seeds."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Any

import numpy as np

from roomir.bands.band import OCTAVES
from roomir.synth.decay import Slope
from tests.benchmarks.known_takes import Scene

SEED = 20_261_125
STUDIES = ("straight", "spots", "bends", "neighbours", "thirds")

TIMES_S = (0.2, 0.5, 1.0, 2.5)
RANGES_DB = (25.0, 35.0, 45.0, 60.0)
DIRECTS_DB = (None, -6.0, 0.0, 6.0, 9.0)
SPOT_SCENES = ((0.3, 35.0), (0.9, 45.0), (2.0, 55.0))
BENDS = ((0.4, 0.8, -10.0), (0.3, 1.0, -20.0), (0.5, 1.0, -15.0), (0.6, 1.8, -12.0))
MUCH_RANGE_DB = (50.0, 60.0)
LITTLE_RANGE_DB = (30.0, 35.0, 40.0, 45.0)
BEND_ARRANGEMENTS = ("one clap", "six files")
ARRANGEMENTS = ("one spot", "six files", "one walk")
THIRD_SCENES = tuple(itertools.product(TIMES_S, (35.0, 50.0), (-6.0, 6.0)))
RINGING = (2, 4)
"""Octaves that ring longer, as places in ``OCTAVES``: 250 Hz and 1 kHz."""
RATIOS = (1.33, 2.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One setting, tried ``n`` times.

    Attributes
    ----------
    study : str
        Which of the five.
    place : int
        Number within the study, part of the seed.
    n : int
        Takes.
    scene : Scene
        What is heard; of ``neighbours`` only its first slope and its range count.
    arrangement : str
        See ``record_claps``.
    ringing, ratio, sharp : int, float, bool
        Of ``neighbours``: which octave rings how much longer, and how its decay passes into the others'.
    """

    study: str
    place: int
    n: int
    scene: Scene
    arrangement: str = "one clap"
    ringing: int = 0
    ratio: float = 1.0
    sharp: bool = False

    @property
    def name(self) -> str:
        """Stable name, the key in the results."""
        slopes = " + ".join(f"{s.decay_time_s:g} s {s.level_db:+g} dB" for s in self.scene.slopes)
        name = f"{self.arrangement}, {slopes}, range {self.scene.range_db:g} dB"
        if self.study == "neighbours":
            way = "sharp" if self.sharp else "smooth"
            return f"{name}, {OCTAVES[self.ringing].nominal_hz:g} Hz x {self.ratio:g} {way}"
        direct_db = self.scene.direct_db
        return f"{name}, " + ("no direct sound" if direct_db is None else f"direct {direct_db:+g} dB")


def _scene(time_s: float, range_db: float, direct_db: float | None) -> Scene:
    return Scene(slopes=(Slope(decay_time_s=time_s),), range_db=range_db, direct_db=direct_db)


def _bent(bend: tuple[float, float, float], range_db: float, direct_db: float | None) -> Scene:
    first_s, second_s, level_db = bend
    slopes = (Slope(decay_time_s=first_s), Slope(decay_time_s=second_s, level_db=level_db))
    return Scene(slopes=slopes, range_db=range_db, direct_db=direct_db)


def all_cells(*, n: int, quick: bool) -> list[Cell]:
    """Return every cell of every study; ``quick`` leaves most of them out."""
    kinds: list[dict[str, Any]] = []
    for (i, time_s), (j, range_db), (k, direct_db) in itertools.product(
        enumerate(TIMES_S), enumerate(RANGES_DB), enumerate(DIRECTS_DB)
    ):
        keep = (i + j + k) % 5 == 0
        kinds.append({"study": "straight", "scene": _scene(time_s, range_db, direct_db), "keep": keep})
    for (time_s, range_db), arrangement in itertools.product(SPOT_SCENES, ARRANGEMENTS):
        keep = time_s == 0.9
        scene = _scene(time_s, range_db, 0.0)
        kinds.append({"study": "spots", "scene": scene, "arrangement": arrangement, "keep": keep})
    for bend, range_db, arrangement in itertools.product(
        BENDS, LITTLE_RANGE_DB + MUCH_RANGE_DB, BEND_ARRANGEMENTS
    ):
        for direct_db in (-6.0, 3.0):
            keep = range_db in (35.0, 50.0) and direct_db == 3.0 and arrangement == "one clap"
            scene = _bent(bend, range_db, direct_db)
            kinds.append({"study": "bends", "scene": scene, "arrangement": arrangement, "keep": keep})
    for time_s, ringing, ratio, sharp in itertools.product((0.4, 0.8), RINGING, RATIOS, (False, True)):
        keep = time_s == 0.8 and ringing == 4
        scene = _scene(time_s, 60.0, 0.0)
        kinds.append(
            {"study": "neighbours", "scene": scene, "ringing": ringing, "ratio": ratio, "sharp": sharp,
             "arrangement": "one walk", "keep": keep}
        )  # fmt: skip
    for (time_s, range_db, direct_db), arrangement in itertools.product(
        THIRD_SCENES, ("one clap", "six files")
    ):
        keep = time_s == 0.5
        scene = _scene(time_s, range_db, direct_db)
        kinds.append({"study": "thirds", "scene": scene, "arrangement": arrangement, "keep": keep})
    cells: list[Cell] = []
    for kind in kinds:
        place = sum(cell.study == kind["study"] for cell in cells)
        cells.append(Cell(place=place, n=n, **{k: v for k, v in kind.items() if k != "keep"}))
    return [c for c, kind in zip(cells, kinds, strict=True) if kind["keep"] or not quick]


def generator(cell: Cell, take: int) -> np.random.Generator:
    """Return the source of chance of one take; the same whatever else is run."""
    # Neighbours are compared with the same take without one, so all their cells share their seeds.
    place = 0 if cell.study == "neighbours" else cell.place
    return np.random.default_rng([SEED, STUDIES.index(cell.study), place, take])


def describe(cell: Cell) -> dict[str, Any]:
    """Return a cell's setting as plain values, to be kept beside its counts."""
    return {
        "arrangement": cell.arrangement,
        "times_s": [s.decay_time_s for s in cell.scene.slopes],
        "levels_db": [s.level_db for s in cell.scene.slopes],
        "range_db": cell.scene.range_db,
        "direct_db": cell.scene.direct_db,
    } | ({"ratio": cell.ratio, "sharp": cell.sharp} if cell.study == "neighbours" else {})
