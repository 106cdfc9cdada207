"""``python -m tests.fuzz``: thousands of hostile files, each with one clear end, and logging that is killed.

Stopped, it goes on where it was as long as the code is the same. ``--case N`` writes the file of one case.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import subprocess
import tempfile
from collections import Counter
from copy import deepcopy
from pathlib import Path
from typing import Any

from tests.fuzz.hostile import Hostility
from tests.fuzz.pool import ROOT, Pool, Result, run_command
from tests.logbook.kills import LossError, kill_at_random

SEED = 20250503
N_CASES = 10_000
N_COMMANDS = 200
N_KILLS = 200
AT_A_TIME = 250
RESULTS = ROOT / "tests" / "benchmarks" / "results" / "fuzz.json"
KILLS = RESULTS.with_name("kills.json")
_DECODER_LOST = ("decoder-crashed", "decoder-hangs")
_CODE = ("roomir/**/*.py", "tests/fuzz/*.py", "tests/audio/damage.py", "tests/audio/sound_files.py")


def main() -> int:
    """Run what has not been run yet; 1 if any case made trouble."""
    options = _options()
    if options.case is not None:
        case = Hostility(seed=options.seed).case(options.case)
        options.out.write_bytes(case.data)
        print(f"{options.out}: {case.kind}")
        return 0
    tally = _take_up(options.results, seed=options.seed)
    with Pool(seed=options.seed, n_workers=options.workers) as pool:
        while (done := tally["cases"]["done"]) < options.cases:
            for result in pool.run(range(done, min(done + AT_A_TIME, options.cases))):
                _count(tally["cases"], result)
            _save(options.results, tally)
            print(f"{tally['cases']['done']} of {options.cases}", flush=True)
    hostility = Hostility(seed=options.seed)
    while (done := tally["commands"]["done"]) < options.commands:
        # Other cases than above would do as well; spread over all of them.
        _count(
            tally["commands"], run_command(hostility, done * max(1, options.cases // options.commands) + 7)
        )
        if tally["commands"]["done"] % 20 == 0 or tally["commands"]["done"] == options.commands:
            _save(options.results, tally)
    troubles = tally["cases"]["troubles"] + tally["commands"]["troubles"]
    print(json.dumps({"cases": tally["cases"], "commands": tally["commands"]}, indent=1))
    return 1 if troubles or not _kill(options) else 0


def _kill(options: argparse.Namespace) -> bool:
    """Kill processes that log, and keep what came of it; whether nothing confirmed was lost."""
    if not options.kills:
        return True
    tally: dict[str, Any] = {"seed": options.seed, "commit": _commit()}
    with tempfile.TemporaryDirectory() as folder:
        try:
            tally |= kill_at_random(Path(folder), n_kills=options.kills, seed=options.seed)
        except LossError as error:
            tally["lost"] = str(error)
    print(json.dumps(tally, indent=1))
    KILLS.write_text(json.dumps(tally, indent=1) + "\n")
    return "lost" not in tally


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument("--cases", type=int, default=N_CASES, help="files read through roomir.read")
    parser.add_argument("--commands", type=int, default=N_COMMANDS, help="files read through the command")
    parser.add_argument("--kills", type=int, default=N_KILLS, help="times that logging is killed")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--results", type=Path, default=RESULTS)
    parser.add_argument("--case", type=int, help="write the file of this case and do nothing else")
    parser.add_argument("--out", type=Path, default=Path("case.bin"), help="where --case writes it")
    return parser.parse_args()


def _take_up(path: Path, *, seed: int) -> dict[str, Any]:
    code = _code()
    if path.exists():
        kept = json.loads(path.read_text())
        if (kept["seed"], kept["code"]) == (seed, code):
            return kept
    nothing = {"done": 0, "outcomes": {}, "kinds": {}, "most": {}, "decoder_lost": [], "troubles": []}
    return {
        "seed": seed,
        "commit": _commit(),
        "code": code,
        "cases": nothing,
        "commands": deepcopy(nothing),
    }


def _count(tally: dict[str, Any], result: Result) -> None:
    tally["done"] += 1
    for key, value in (("outcomes", result["outcome"]), ("kinds", result["kind"].split(":")[0])):
        tally[key] = dict(sorted((Counter(tally[key]) + Counter([value])).items()))
    for key in ("seconds", "cpu_s", "peak_mb", "decoder_peak_mb"):
        if key in result and result[key] > tally["most"].get(key, {"value": 0.0})["value"]:
            tally["most"][key] = {"value": round(result[key], 2), "number": result["number"]}
    if result["outcome"] in _DECODER_LOST:
        tally["decoder_lost"].append({key: result[key] for key in ("number", "kind", "outcome")})
    if result["trouble"]:
        tally["troubles"].append({key: result[key] for key in ("number", "kind", "trouble")})


def _save(path: Path, tally: dict[str, Any]) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_suffix(".part")
    part.write_text(json.dumps(tally, indent=1) + "\n")
    os.replace(part, path)  # noqa: PTH105 - in one step, so that stopping leaves the old file


def _code() -> str:
    files = sorted(file for pattern in _CODE for file in ROOT.glob(pattern))
    return hashlib.sha256(b"".join(file.read_bytes() for file in files)).hexdigest()[:16]


def _commit() -> str:
    def git(*arguments: str) -> str:
        command = ["git", "-C", str(ROOT), *arguments]
        return subprocess.run(command, capture_output=True, text=True, check=False).stdout.strip()

    changed = git("status", "--porcelain", "roomir", "tests/fuzz")
    return (git("rev-parse", "--short", "HEAD") or "unknown") + ("+" if changed else "")


if __name__ == "__main__":
    raise SystemExit(main())
