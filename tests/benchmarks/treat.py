"""How long a proposal takes: twelve kinds of panel, six surfaces, from an invented booth to an invented hall.

``python -m tests.benchmarks.treat`` writes ``results/treat.json``. Processor seconds, one thread, the solver
among them; what else the machine has to do does not count.
"""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path

import numpy as np

from roomir.plan.model import StageReading, expect, learn
from roomir.plan.propose import Wishes, propose
from roomir.plan.treatment import absorbers_of
from tests.benchmarks.store import commit_name
from tests.plan.rooms import TABLE, box, window
from tests.plan.test_propose import TWELVE

RESULTS = Path(__file__).parent / "results" / "treat.json"
ROOMS_M = ((2.4, 2.0, 2.2), (5.0, 4.0, 2.8), (9.0, 6.0, 3.2), (20.0, 12.5, 8.0))
TARGETS_S = {"narrow": (0.9, 1.2), "wide": (0.7, 1.4), "out of reach": (0.1, 0.15)}
"""As shares of (V / 100 m3)^(1/3) times 0.4 s."""


def main() -> None:
    """Time all rooms and targets, without a reading and with one."""
    rows = []
    wishes = Wishes(absorbers=tuple(absorbers_of(TABLE, TWELVE)))
    for size_m in ROOMS_M:
        room = box(size_m)
        told = expect(room)
        times_s = {i: (float(t), 0.02) for i, t in zip(told.octaves, told.decay_time_s, strict=True)}
        for name, (low, high) in TARGETS_S.items():
            scale_s = 0.4 * (float(np.prod(size_m)) / 100.0) ** (1.0 / 3.0)
            for taught in (False, True):
                known = learn(room, StageReading(name="bare", decay_time_s=times_s)) if taught else None
                start = time.process_time()
                found = propose(
                    room, window(low * scale_s, high * scale_s), wishes, materials=TABLE, knowledge=known
                )
                row = {
                    "size_m": size_m,
                    "target": name,
                    "taught": taught,
                    "feasible": found.feasible,
                    "panels": sum(item.count for item in found.then.items),
                    "processor_s": round(time.process_time() - start, 1),
                }
                sys.stderr.write(f"{row}\n")
                rows.append(row)
    seconds = [row["processor_s"] for row in rows]
    document = {
        "commit": commit_name(),
        "kinds": len(TWELVE),
        "surfaces": 6,
        "median_s": float(np.median(seconds)),
        "most_s": max(seconds),
        "rooms": rows,
    }
    RESULTS.write_text(json.dumps(document, indent=1) + "\n")


if __name__ == "__main__":
    main()
