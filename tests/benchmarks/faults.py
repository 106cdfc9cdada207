"""How well the faults of a recording are seen, over takes with known faults and over clean ones.

While tuning a detector, from the checkout's root::

    python -m tests.benchmarks.faults --kind gain-fast --kind limiter --takes 40

reads 40 takes of each kind named (all kinds without ``--kind``) and the clean takes behind them,
with seeds and ranges for tuning, and prints what was missed. ``--clean 100`` reads as many clean
takes besides. The exam has other seeds and wider ranges, and is not for tuning::

    python -m tests.benchmarks.faults --exam --takes 200 --clean 1000 --minutes 60

Every take is kept in ``build/faults-dev.jsonl`` or ``build/faults-exam.jsonl`` as soon as it is
read; the same command goes on where it was stopped, as long as the code is the same. A take can be
had again for a closer look by ``faulty_takes.kinds.faulty_take(kind, seed=...)``. The exam's table
is kept in ``results/faults.txt``. A clean take costs about 0.5 s and its reading 0.2 s; a fault on
it 0.01 to 0.3 s (coded ones up to 1 s) and its reading 0.2 s.

How octaves are judged is told in :mod:`tests.benchmarks.fault_score`.
"""

from __future__ import annotations

import argparse
import subprocess
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from zlib import crc32

from roomir.reading.take import take_reading
from tests.benchmarks.fault_readme import as_markdown, write_into
from tests.benchmarks.fault_records import CLEAN, ROOT, Record, Records, fault_codes, record
from tests.benchmarks.fault_score import Score, confusion, share, table
from tests.benchmarks.fault_sounds import Sounds
from tests.benchmarks.faulty_takes.base import EXAM_SEED
from tests.benchmarks.faulty_takes.kinds import KINDS

RESULTS = Path(__file__).parent / "results" / "faults.txt"
BASES = {"dev": 100, "exam": 300}
"""Clean takes among which a kind's takes are spread, so that one clean take serves several kinds."""
_STRIDE = 7919
JUDGED = {name: kind.judged for name, kind in KINDS.items()}
ASIDE = "clap_museum_basement.wav"
"""A real recording that is no clean take: it stops inside its decay."""


def jobs(kinds: list[str], *, first: int, takes: int, clean: int, bases: int) -> list[tuple[int, str]]:
    """Which takes to read, ordered so that a clean take is made once for all its faults."""
    bases = max(bases, takes)
    out = {(first + i, CLEAN) for i in range(clean)}
    for kind in kinds:
        # Each kind is spread over all clean takes, so that half a run has half the takes of each.
        start = crc32(kind.encode()) % bases
        for i in range(takes):
            seed = first + (start + _STRIDE * i) % bases
            out |= {(seed, kind), (seed, CLEAN)}
    return sorted(out, key=lambda job: (job[0], job[1] != CLEAN, job[1]))


def read_one(kind: str, seed: int, *, sounds: Sounds, codes: frozenset[str]) -> Record:
    """Get a take, read it, keep what is judged."""
    sound = sounds.get(kind, seed)
    try:
        reading = take_reading([sound.recording])
    except Exception as error:  # a bug: kept and shown at the end, so that a long run goes on
        crash = {"crashed": repr(error)}
        return Record(
            kind=kind, seed=seed, rows=(), take=(), claps=(), true_s=sound.true_s, truth=sound.truth | crash
        )
    return record(reading, kind=kind, seed=seed, true_s=sound.true_s, truth=sound.truth, codes=codes)


def real_ones() -> tuple[int, list[str]]:
    """Count the real recordings beside the checkout, and name those that get a concern."""
    from roomir.api import read

    folder = ROOT.parent / "shared" / "recordings"
    files = [path for path in sorted(folder.glob("*.wav")) if path.name != ASIDE]
    out = []
    for path in files:
        for take in read(path).takes:
            codes = [r.code for r in take.concerns] + [r.code for c in take.claps for r in c.concerns]
            if codes:
                out.append(f"{path.name}: {', '.join(sorted(set(codes)))}")
    return len(files), out


@dataclass(kw_only=True)
class Count:
    """Everything counted over the takes read so far."""

    scores: dict[str, Score]
    clean: int = 0
    reliable: int = 0
    reasons: int = 0
    accused: list[str] = field(default_factory=list)
    crashed: list[str] = field(default_factory=list)
    codes: Counter[str] = field(default_factory=Counter)

    @property
    def share_accused(self) -> str:
        """Clean takes with a concern."""
        return f"{len(self.accused)} of {self.clean}, % {share(len(self.accused), self.clean)}"


def count(records: Records, done: list[tuple[int, str]], *, codes: frozenset[str]) -> Count:
    """Count what has been read so far."""
    out = Count(scores={kind: Score() for kind in KINDS if any(kind == name for _, name in done)})
    for seed, kind in done:
        one = records.get(kind, seed)
        before = records.get(CLEAN, seed)
        assert one is not None
        assert before is not None
        if "crashed" in one.truth:
            out.crashed.append(f"{kind} {seed}: {one.truth['crashed']}")
        if kind != CLEAN:
            out.scores[kind].add(one, before, codes=codes)
            continue
        out.clean += 1
        out.codes.update(one.named)
        if one.named:
            out.accused.append(f"clean {seed}: {', '.join(sorted(one.named))}")
        out.reliable += sum(row.verdict == "reliable" for row in one.rows)
        out.reasons += sum(any(code in codes for code in row.reasons) for row in one.rows)
    return out


def report(counted: Count) -> list[str]:
    """Put the counts into words."""
    n_real, real = real_ones()
    scores = counted.scores
    return [
        f"clean takes with a concern: {counted.share_accused}",
        f"reliable octaves in them: {counted.reliable}; octaves with a fault's reason: {counted.reasons}",
        f"real recordings with a concern: {len(real)} of {n_real}",
        *counted.accused,
        *real,
        f"takes whose reading broke down: {len(counted.crashed)}",
        *counted.crashed,
        "",
        *table(scores, judged=JUDGED),
        "",
        "Takes in which a code was named:",
        *confusion(scores, clean=counted.codes),
        "",
        "Moved, reliable and not named:",
        *(line for kind in scores if JUDGED[kind] for line in scores[kind].missed[:60]),
    ]


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument(
        "--kind", action="append", choices=tuple(KINDS), help="kind of fault; all if left out"
    )
    parser.add_argument("--takes", type=int, default=40, help="takes of each kind")
    parser.add_argument("--clean", type=int, default=0, help="clean takes beside those behind the faults")
    parser.add_argument("--first", type=int, help="first seed")
    parser.add_argument("--exam", action="store_true", help="seeds and ranges of the exam")
    parser.add_argument("--minutes", type=float, default=600.0, help="stop after this long")
    parser.add_argument("--keep", type=Path, help="file for the table")
    parser.add_argument("--sounds", type=Path, help="folder that keeps the sounds for the next run")
    parser.add_argument("--only-make", action="store_true", help="make the sounds and read nothing yet")
    parser.add_argument("--readme", action="store_true", help="write the table into README")
    options = parser.parse_args()
    first = options.first if options.first is not None else (EXAM_SEED if options.exam else 1)
    if (first >= EXAM_SEED) != options.exam:
        parser.error(f"seeds from {EXAM_SEED} on, and no others, belong to the exam")
    name = "exam" if options.exam else "dev"
    records = Records(ROOT / "build" / f"faults-{name}.jsonl")
    codes = fault_codes()
    kinds = options.kind or list(KINDS)
    plan = jobs(kinds, first=first, takes=options.takes, clean=options.clean, bases=BASES[name])
    sounds = Sounds(options.sounds)
    began = time.monotonic()
    done = []
    for seed, kind in plan:
        if records.get(kind, seed) is None:
            if time.monotonic() - began > 60.0 * options.minutes:
                continue
            if options.only_make:
                sounds.get(kind, seed)
                continue
            records.add(read_one(kind, seed, sounds=sounds, codes=codes))
        done.append((seed, kind))
    if options.only_make:
        return
    commit = subprocess.run(
        ["git", "-C", str(ROOT), "rev-parse", "--short", "HEAD"], capture_output=True, text=True, check=False
    )
    head = f"{name}, seeds from {first}, commit {commit.stdout.strip()}, code {records.code}"
    counted = count(records, done, codes=codes)
    told = "\n".join([head, *report(counted)])
    print(told)
    keep = options.keep or (RESULTS if options.exam else None)
    if keep is not None:
        keep.parent.mkdir(parents=True, exist_ok=True)
        keep.write_text(told + "\n")
    if options.readme:
        text = as_markdown(
            counted.scores, judged=JUDGED, head=f"Commit `{commit.stdout.strip()}`, seeds from {first} on.",
            accused=counted.share_accused,
        )  # fmt: skip
        write_into(ROOT / "README.md", text)


if __name__ == "__main__":
    main()
