"""Figures drawn from the counts: shares, pooled errors, limits."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import numpy as np

Counts = dict[str, Any]
Rows = list[Counts]

TIGHT_BOUND = 0.10
"""Below this bound bias and scatter are held to it; above, only the median."""

COVERAGE = (90.0, 98.0)
"""What every cell has to keep to, of intervals meant to hold the truth in 95 %. [percent]"""

BIAS = 0.01
SCATTER = 1.15
MEDIAN = 0.025


def flat(cells: Iterable[Counts]) -> Rows:
    """One row per cell and octave."""
    return [
        {k: v for k, v in cell.items() if k != "bands"} | band for cell in cells for band in cell["bands"]
    ]


def groups(rows: Rows, by: str) -> list[tuple[Any, Rows]]:
    """Split by the value of one setting, in the order in which the values appear."""
    return [(value, [r for r in rows if r[by] == value]) for value in dict.fromkeys(r[by] for r in rows)]


def share(rows: Rows, what: str, *, of: str = "n") -> float:
    """Pooled share in percent."""
    n = sum(r[of] for r in rows)
    return 100.0 * sum(r[what] for r in rows) / n if n else np.nan


def spot_coverage(rows: Rows) -> float:
    """Return how often ``spot_ci95_s`` holds the truth, where a decay time is given, in percent."""
    return share(rows, "spot_holds", of="given")


def room_coverage(rows: Rows) -> float:
    """Return how often ``ci95_s`` holds the truth, where a decay time is given, in percent."""
    return share(rows, "room_holds", of="given")


def pooled_bias(rows: Rows) -> float:
    """Pooled mean error of the decay time, in percent."""
    return _pooled([(r["given"], r["mean"]) for r in rows if r["given"]])


def pooled_mean(rows: Rows, what: str) -> float:
    """Pooled mean of a relative error of T20 or T30, in percent."""
    return _pooled([(r[what]["n"], r[what]["mean"]) for r in rows if r[what]["n"]])


def _pooled(pairs: list[tuple[int, float]]) -> float:
    n = sum(k for k, _ in pairs)
    return 100.0 * sum(k * m for k, m in pairs) / n if n else np.nan


def over_bound(rows: Rows) -> float:
    """Median over cells of the rms error over its bound."""
    return float(np.median([r["rms"] / r["bound"] for r in rows])) if rows else np.nan


def with_direct(rows: Rows) -> Rows:
    """Leave out reverberation alone, which no microphone ever hears."""
    return [r for r in rows if r["direct_db"] is not None]


def tight(rows: Rows) -> Rows:
    """Cells in which theory allows an error below ``TIGHT_BOUND``."""
    return [r for r in rows if r["given"] and r["bound"] < TIGHT_BOUND]


def loose(rows: Rows) -> Rows:
    """The other cells."""
    return [r for r in rows if r["given"] and r["bound"] >= TIGHT_BOUND]


def counted(rows: Rows) -> Rows:
    """Cells in which a decay time is given often enough to speak of coverage."""
    return [r for r in rows if r["given"] >= 0.5 * r["n"]]


def iso_rows(rows: Rows, name: str, *, direct_db: float | None) -> Rows:
    """Cells in which T20 or T30 is given often enough to speak of bias."""
    return [
        r for r in rows if r["direct_db"] == direct_db and r[f"{name}_error"]["n"] >= max(5, 0.1 * r["n"])
    ]


def beyond_limit(row: Counts, name: str) -> float:
    """Bias of T20 or T30 over what is accepted: above 1 is too much."""
    limit = iso_limit(row, name)
    return abs(row[f"{name}_error"]["mean"]) / limit


def iso_limit(row: Counts, name: str) -> float:
    """Largest bias that is accepted: 1.5 %, or 150 % (T20) or 90 % (T30) of 1/BT."""
    return max(0.015, {"t20": 1.5, "t30": 0.9}[name] / row["bt"])


def direct_name(direct_db: float | None) -> str:
    """Name a direct-to-reverberant ratio."""
    return "no direct sound" if direct_db is None else f"direct {direct_db:+g} dB"


SETTINGS: tuple[tuple[str, Callable[[Any], str]], ...] = (
    ("time_s", "T {:g} s".format),
    ("range_db", "range {:g} dB".format),
    ("direct_db", direct_name),
)
"""What the cells of straight decays differ in, and how to name it."""
