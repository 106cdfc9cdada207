"""How right the decay times are, and how often their intervals hold the truth.

Run ``python -m tests.benchmarks.accuracy`` for the full counts (long; it goes on
where it stopped), ``--quick`` for a look in a few minutes. Full runs keep their
counts in ``tests/benchmarks/results`` and write the tables of the README.

The claps' places are told: what is measured is the reading of decays, not the
finding of claps. Five studies:

- ``straight``: one clap, one straight decay, over decay time, range and
  direct-to-reverberant ratio.
- ``spots``: six claps in one spot, six spots in six files, six spots in one file.
- ``bends``: decays with two slopes, with much range and with little.
- ``neighbours``: an octave beside one that rings longer.
- ``thirds``: one clap and six spots, read in third-octaves.
"""

from __future__ import annotations

import argparse
import time
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path

from tests.benchmarks import readme_tables, screen, store
from tests.benchmarks.cells import SEED, STUDIES, Cell, all_cells
from tests.benchmarks.trials import run_cell

KEPT = Path(__file__).parent / "results"
RESULTS = {"accuracy": KEPT / "accuracy.json", "thirds": KEPT / "thirds.json"}
"""Where the counts are kept: thirds by themselves, since they are as long as all octaves together."""

README = Path(__file__).parents[2] / "README.md"
FULL_N = 400
QUICK_N = 20


def run(cells: list[Cell], *, results: store.Results, processes: int, keep: Path | None) -> None:
    """Run every cell that has no results yet, and keep them after each."""
    todo = [cell for cell in cells if not results.has(cell)]
    print(f"{len(todo)} of {len(cells)} cells to run", flush=True)
    began = time.monotonic()
    with ProcessPoolExecutor(max_workers=processes) as pool:
        running = {pool.submit(run_cell, cell): cell for cell in todo}
        for done, future in enumerate(as_completed(running), start=1):
            results.add(running[future], future.result())
            if keep is not None:
                results.save(keep)
                minutes = (time.monotonic() - began) / 60.0
                print(f"{done}/{len(todo)} after {minutes:.1f} min: {running[future].name}", flush=True)


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--quick", action="store_true", help="a few cells, a few takes each; nothing is kept")
    parser.add_argument("--n", type=int, help=f"takes per cell ({FULL_N}; {QUICK_N} with --quick)")
    parser.add_argument("--studies", nargs="+", choices=STUDIES, default=list(STUDIES))
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--tables", action="store_true", help="only write the tables from the counts kept")
    options = parser.parse_args()
    n = options.n or (QUICK_N if options.quick else FULL_N)
    for name, path in RESULTS.items():
        cells = [
            cell
            for cell in all_cells(n=n, quick=options.quick)
            if cell.study in options.studies and (cell.study == "thirds") == (name == "thirds")
        ]
        if not cells:
            continue
        keep = None if options.quick else path
        results = store.load(keep, seed=SEED)
        if not options.tables:
            run(cells, results=results, processes=options.processes, keep=keep)
        print(screen.as_text(results))
        if keep is not None:
            readme_tables.write_into(README, readme_tables.as_markdown(results), name=name)


if __name__ == "__main__":
    main()
