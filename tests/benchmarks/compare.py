"""How often no change is called a change, how often one is found, and how often intervals hold the truth.

Run ``python -m tests.benchmarks.compare`` for the full counts, ``--quick`` for a
look. Full runs keep their counts in ``tests/benchmarks/results/compare.json``
and print what stands in ``compare.txt`` beside it.
"""

from __future__ import annotations

import argparse
import json
import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from roomir.compare.change import Comparison
from roomir.compare.compare import compare_readings
from roomir.reading.reading import Reading
from tests.benchmarks.rooms_twice import PAIRED, SPOTS, draw_readings, record_twice
from tests.benchmarks.store import commit_name

SEED = 20_261_126
RESULTS = Path(__file__).parent / "results"
N_DRAWN = 2000
N_HEARD = {1.0: 100, 0.9: 60}
"""Pairs read from sound, by decay time after over before."""

CHANGE = 0.9
CHANGED_HZ = (500.0, 1000.0, 2000.0, 4000.0)


@dataclass(kw_only=True)
class Tally:
    """Counts over many pairs of one setting."""

    pairs: int = 0
    bands: int = 0
    holds: int = 0
    called: int = 0
    within: int = 0
    headlines_changed: int = 0
    headlines: dict[str, int] = field(default_factory=dict)
    found: dict[float, int] = field(default_factory=dict)
    asked: dict[float, int] = field(default_factory=dict)
    ranges_db: list[float] = field(default_factory=list)

    def add(self, comparison: Comparison, *, truth: dict[float, tuple[float, float]]) -> None:
        """Count one comparison; ``truth`` by nominal frequency [s]."""
        self.pairs += 1
        verdict = comparison.headline.verdict
        self.headlines[verdict] = self.headlines.get(verdict, 0) + 1
        self.headlines_changed += verdict == "changed"
        for one in comparison.bands:
            if not one.usable or one.change_ci95_s is None:
                continue
            hz = one.band.nominal_hz
            before_s, after_s = truth[hz]
            low, high = one.change_ci95_s
            self.bands += 1
            self.holds += low <= after_s - before_s <= high
            self.called += one.verdict in ("shorter", "longer")
            self.within += one.verdict == "within 5 percent"
            self.asked[hz] = self.asked.get(hz, 0) + 1
            self.found[hz] = self.found.get(hz, 0) + (one.verdict == "shorter")
            if one.before.decay_range_db is not None and hz in CHANGED_HZ:
                self.ranges_db.append(one.before.decay_range_db)

    def summary(self) -> dict[str, Any]:
        """Return shares in percent."""
        out: dict[str, Any] = {
            "pairs": self.pairs,
            "bands": self.bands,
            "interval_holds_percent": percent(self.holds, self.bands),
            "bands_called_changed_percent": percent(self.called, self.bands),
            "bands_within_5_percent": percent(self.within, self.bands),
            "headlines_changed_percent": percent(self.headlines_changed, self.pairs),
            "headlines": dict(sorted(self.headlines.items())),
            "shorter_percent_by_hz": {f"{hz:g}": percent(self.found[hz], n) for hz, n in self.asked.items()},
        }
        if self.ranges_db:
            out["median_range_db"] = round(float(np.median(self.ranges_db)), 1)
        return out


def percent(part: int, whole: int) -> float:
    """Return a share."""
    return round(100.0 * part / whole, 2) if whole else math.nan


def compared(before: Reading, after: Reading, *, where: str) -> Comparison:
    """Compare as the setting says."""
    names = [f"spot{i}" for i in range(len(before.takes))]
    return compare_readings(before, after, positions=(names, names) if where == PAIRED else None)


def drawn(n: int, *, where: str, change: float, seed: int = SEED) -> Tally:
    """Compare pairs of drawn readings; spots and scatter vary, five spots where something changes."""
    tally = Tally()
    rng = np.random.default_rng([seed, SPOTS.index(where), round(100 * change)])
    for _ in range(n):
        n_spots = 5 if change != 1.0 else int(rng.integers(4, 9))
        extra = 1.0 if change != 1.0 else float(rng.uniform(1.0, 2.0))
        before, after, truth = draw_readings(rng, where=where, n_spots=n_spots, change=change, extra=extra)
        tally.add(
            compared(before, after, where=where), truth={b.nominal_hz: times for b, times in truth.items()}
        )
    return tally


def heard(n: int, *, where: str, change: float, seed: int = SEED) -> Tally:
    """Compare pairs of readings taken from sound, five spots each."""
    tally = Tally()
    for pair in range(n):
        rng = np.random.default_rng([seed, SPOTS.index(where), round(100 * change), pair])
        time_s = math.exp(rng.uniform(math.log(0.4), math.log(1.0)))
        before, after = record_twice(rng, where=where, n_spots=5, decay_time_s=time_s, change=change)
        truth = {one.figures.band.nominal_hz: (time_s, change * time_s) for one in before.bands}
        tally.add(compared(before, after, where=where), truth=truth)
    return tally


def settings() -> Iterator[tuple[str, str, float]]:
    """List what is run: how, where, and the change."""
    for how in ("drawn", "heard"):
        yield from ((how, where, 1.0) for where in SPOTS)
        yield how, SPOTS[0], CHANGE
    yield "drawn", PAIRED, CHANGE


def as_text(results: dict[str, Any]) -> str:
    """Lay the results out to be read."""
    lines = [f"commit {results['commit']}, seed {results['seed']}", ""]
    for name, one in results["settings"].items():
        lines += [
            f"{name}: {one['pairs']} pairs, {one['bands']} bands"
            + (f", median range {one['median_range_db']} dB" if "median_range_db" in one else ""),
            f"  the 95 % interval of the change holds the truth in {one['interval_holds_percent']} %",
            f"  called a change: {one['bands_called_changed_percent']} % of bands",
            f"  changed by its headline: {one['headlines_changed_percent']} %; {one['headlines']}",
            f"  shorter, by octave in %: {one['shorter_percent_by_hz']}",
        ]
    return "\n".join(lines) + "\n"


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--quick", action="store_true", help="a twentieth of the pairs; nothing is kept")
    quick = parser.parse_args().quick
    results: dict[str, Any] = {"seed": SEED, "commit": commit_name(), "settings": {}}
    for how, where, change in settings():
        n = N_DRAWN if how == "drawn" else N_HEARD[change]
        run = drawn if how == "drawn" else heard
        tally = run(max(n // 20, 5) if quick else n, where=where, change=change)
        name = f"{how}, {where}, {'no change' if change == 1.0 else f'times {change:g}'}"
        results["settings"][name] = tally.summary()
        print(name, flush=True)
    print(as_text(results))
    if not quick:
        (RESULTS / "compare.json").write_text(json.dumps(results, indent=1) + "\n")
        (RESULTS / "compare.txt").write_text(as_text(results))


if __name__ == "__main__":
    main()
