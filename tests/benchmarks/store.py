"""Counts kept from run to run, so that a long benchmark can be stopped and taken up again."""

from __future__ import annotations

import hashlib
import json
import subprocess
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tests.benchmarks.cells import Cell, describe

_ROOT = Path(__file__).parents[2]
_READING = (
    "audio/recording.py",
    "bands",
    "claps/clap.py",
    "decay",
    "reading",
    "synth/decay.py",
    "synth/box.py",
)
_BENCHMARK = ("cells.py", "known_takes.py", "trials.py", "truths.py")


@dataclass(kw_only=True)
class Results:
    """Counts of all cells run so far with one state of the code.

    Attributes
    ----------
    seed : int
        Where all takes come from.
    code : str
        Hash of everything the counts depend on.
    commit : str
        Commit that was run, with ``+`` where the files differed from it.
    cells : dict
        By study and name.
    """

    seed: int
    code: str
    commit: str
    cells: dict[str, dict[str, dict[str, Any]]] = field(default_factory=dict)

    def has(self, cell: Cell) -> bool:
        """Whether this cell has been run with as many takes."""
        return self.cells.get(cell.study, {}).get(cell.name, {}).get("n") == cell.n

    def add(self, cell: Cell, counts: dict[str, Any]) -> None:
        """Keep the counts of one cell."""
        kept = {"place": cell.place, "n": cell.n} | describe(cell) | counts
        self.cells.setdefault(cell.study, {})[cell.name] = _rounded(kept)

    def of(self, study: str) -> list[dict[str, Any]]:
        """Return the cells of one study in their order, each with its name."""
        named = [{"name": name} | cell for name, cell in self.cells.get(study, {}).items()]
        return sorted(named, key=lambda cell: cell["place"])

    def save(self, path: Path) -> None:
        """Write everything, one line a cell; a run that is stopped while writing leaves the old file."""
        lines = [
            f"  {json.dumps(study)}: {{\n"
            + ",\n".join(
                f"    {json.dumps(cell.pop('name'))}: {json.dumps(cell, separators=(',', ':'))}"
                for cell in self.of(study)
            )
            + "\n  }"
            for study in self.cells
        ]
        head = "".join(
            f" {json.dumps(k)}: {json.dumps(getattr(self, k))},\n" for k in ("seed", "code", "commit")
        )
        text = "{\n" + head + ' "cells": {\n' + ",\n".join(lines) + "\n }\n}\n"
        path.parent.mkdir(parents=True, exist_ok=True)
        part = path.with_suffix(".part")
        part.write_text(text)
        part.replace(path)


def load(path: Path | None, *, seed: int) -> Results:
    """Take up the counts kept in ``path`` if they come from the same code and seed; else begin afresh."""
    fresh = Results(seed=seed, code=_code(), commit=commit_name())
    if path is None or not path.exists():
        return fresh
    kept = json.loads(path.read_text())
    if (kept["seed"], kept["code"]) != (fresh.seed, fresh.code):
        return fresh
    return Results(seed=seed, code=fresh.code, commit=kept["commit"], cells=kept["cells"])


def _code() -> str:
    files: list[Path] = [_ROOT / "tests/benchmarks" / name for name in _BENCHMARK]
    for name in _READING:
        path = _ROOT / "roomir" / name
        files += sorted(path.glob("*.py")) if path.is_dir() else [path]
    return hashlib.sha256(b"".join(path.read_bytes() for path in files)).hexdigest()[:16]


def commit_name() -> str:
    """Name the commit that is run, with ``+`` where the package differs from it."""

    def git(*arguments: str) -> str:
        done = subprocess.run(
            ["git", "-C", str(_ROOT), *arguments], capture_output=True, text=True, check=False
        )
        return done.stdout.strip()

    return (git("rev-parse", "--short", "HEAD") or "unknown") + (
        "+" if git("status", "--porcelain", "roomir") else ""
    )


def _rounded(value: Any) -> Any:
    if isinstance(value, float):
        return float(f"{value:.4g}")
    if isinstance(value, dict):
        return {k: _rounded(v) for k, v in value.items()}
    return [_rounded(v) for v in value] if isinstance(value, list) else value
