"""Batches with full counts: two cores against one, a thousand takes killed and resumed, crashes on a cluster.

``python -m tests.benchmarks.batch [speed] [thousand] [cluster]`` runs what is named, or all of it, and keeps
the results in ``results/batch.json``. Takes come from ``tests/batching/takes.py`` and ``speed.py``; rooms are
invented.
"""

from __future__ import annotations

import hashlib
import json
import os
import random
import shutil
import signal
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from roomir.batching.journal import journal_path
from tests.batching.takes import CHECKOUT, batch_process, write_takes
from tests.benchmarks import speed
from tests.benchmarks.store import commit_name

RESULTS = Path(__file__).parent / "results" / "batch.json"
SEED = 20261125
N_TAKES = 1000
N_KILLS = 3
N_SPEED = 48
N_ROUNDS = 3


def _wait4(process: subprocess.Popen[str]) -> tuple[int, float, float]:
    """Status, processor time of the run with its workers [s], peak memory of the largest process [MB]."""
    process.stdout.read()
    process.stderr.read()
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    return process.returncode, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024


def two_cores(folder: Path) -> dict[str, Any]:
    """Time the same batch on one core and on two, in turn.

    A machine at work on other things gives a run with more processes a larger share of itself, and each of
    them less; the load beside the times tells. What others disturb less is the processor time:
    ``serial_share`` is the part that only one process can do, ``more_cpu`` what two take over one, and
    ``possible`` the ratio these allow on two idle cores.
    """
    takes = folder / "speed"
    takes.mkdir()
    speed.write_take(takes / "take0.wav")
    for i in range(1, N_SPEED):
        # Copies, but files of their own: what is measured is the division of work.
        shutil.copy(takes / "take0.wav", takes / f"take{i}.wav")
    rounds: dict[int, list[dict[str, float]]] = {1: [], 2: []}
    for _ in range(N_ROUNDS):
        for jobs in (1, 2):
            begun_s = time.perf_counter()
            status, cpu_s, _ = _wait4(batch_process(takes, folder / "speed.csv", "--jobs", str(jobs)))
            assert status == 0
            rounds[jobs].append({"wall_s": time.perf_counter() - begun_s, "cpu_s": cpu_s})
    wall = [one["wall_s"] / two["wall_s"] for one, two in zip(rounds[1], rounds[2], strict=True)]
    one_s, two_s = (statistics.median(each["cpu_s"] for each in rounds[jobs]) for jobs in (1, 2))
    serial_s = _serial_s(takes, folder / "speed.csv")
    share = serial_s / one_s
    return {
        "takes": N_SPEED,
        "seconds_of_sound_each": speed.DURATION_S,
        "rounds": rounds,
        "wall_ratio_median": statistics.median(wall),
        "cpu_s_one": one_s,
        "cpu_s_two": two_s,
        "more_cpu": two_s / one_s,
        "serial_share": share,
        "possible": 1.0 / ((share + (1.0 - share) / 2.0) * two_s / one_s),
        "load_average": os.getloadavg(),
        "cores": os.cpu_count(),
    }


_SERIAL = """
import resource, sys
from roomir import api
api.batch(sys.argv[1], sys.argv[2], jobs=2)
used = resource.getrusage(resource.RUSAGE_SELF)
print(used.ru_utime + used.ru_stime)
"""


def _serial_s(takes: Path, output: Path) -> float:
    """Processor time of the process that divides the work and writes it down. [s]"""
    done = subprocess.run(
        [sys.executable, "-c", _SERIAL, str(takes), str(output)],
        capture_output=True, text=True, check=True, env={**os.environ, "PYTHONPATH": str(CHECKOUT)},
    )  # fmt: skip
    return float(done.stdout)


def killed_and_resumed(folder: Path) -> dict[str, Any]:
    """Kill a batch of a thousand takes at random, resume it, and hold it against an undisturbed one."""
    takes, rng = folder / "thousand", random.Random(SEED)
    write_takes(takes, n=N_TAKES, first_seed=SEED)
    (takes / "broken.wav").write_bytes(b"RIFF")
    begun_s = time.perf_counter()
    status, cpu_s, peak_mb = _wait4(batch_process(takes, folder / "undisturbed.csv", "--jobs", "2"))
    assert status == 1  # for the broken one
    undisturbed_s = time.perf_counter() - begun_s
    output = folder / "killed.csv"
    killed_at = sorted(rng.sample(range(1, N_TAKES - 50), N_KILLS))
    found: list[int] = []
    for n in killed_at:
        run = batch_process(takes, output, "--jobs", "2")
        while _n_kept(output) < n:
            assert run.poll() is None
            time.sleep(0.005)
        run.send_signal(signal.SIGKILL)
        run.communicate()
        found.append(_n_kept(output))
    status, _, _ = _wait4(batch_process(takes, output, "--jobs", "2"))
    few = folder / "few"
    few.mkdir()
    for one in sorted(takes.iterdir())[:100]:
        shutil.copy(one, few)
    _, _, few_mb = _wait4(batch_process(few, folder / "few.csv", "--jobs", "2"))
    same = output.read_bytes() == (folder / "undisturbed.csv").read_bytes()
    assert same
    return {
        "takes": N_TAKES,
        "killed_after": found,
        "same_as_undisturbed": same,
        "sha256": hashlib.sha256(output.read_bytes()).hexdigest(),
        "wall_s": undisturbed_s,
        "cpu_s": cpu_s,
        "peak_mb_of_the_largest_process": peak_mb,
        "the_same_with_a_hundred_takes": few_mb,
        "load_average": os.getloadavg(),
    }


def _n_kept(output: Path) -> int:
    journal = journal_path(output)
    return max(journal.read_bytes().count(b"\n") - 1, 0) if journal.exists() else 0


_CLUSTER = """
import sys
from distributed import LocalCluster
from roomir.batching.pool import each_record_on_cluster
from tests.batching.test_pool import ITEMS, work
from functools import partial

if __name__ == "__main__":
    with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None, host="127.0.0.1") as cluster:
        work = partial(work, folder=sys.argv[1])
        done = each_record_on_cluster(
            ITEMS, work=work, scheduler=cluster.scheduler_address, folder=sys.argv[1]
        )
        print(sorted(f"{item.name} {record['failure']['code']}" for item, record in done))
"""


def crashes_on_a_cluster(folder: Path) -> dict[str, Any]:
    """Work on twelve items, one of which kills its process always and another one once."""
    script = folder / "cluster.py"
    script.write_text(_CLUSTER)
    done = subprocess.run(
        [sys.executable, str(script), str(folder)],
        capture_output=True, text=True, check=True, env={**os.environ, "PYTHONPATH": str(CHECKOUT)},
    )  # fmt: skip
    codes = [one.split()[1] for one in json.loads(done.stdout.replace("'", '"'))]
    assert sorted(codes) == ["made"] * 11 + ["reader-died"]
    return {"items": len(codes), "lost": codes.count("reader-died")}


STUDIES = {"speed": two_cores, "thousand": killed_and_resumed, "cluster": crashes_on_a_cluster}


def main(*names: str) -> None:
    """Run the studies named, or all, and keep and print what they find."""
    kept = json.loads(RESULTS.read_text()) if RESULTS.exists() else {}
    for name in names or STUDIES:
        with tempfile.TemporaryDirectory() as folder:
            kept[name] = {"commit": commit_name(), "seed": SEED} | STUDIES[name](Path(folder))
        print(name, json.dumps(kept[name], indent=1))
        RESULTS.write_text(json.dumps(kept, indent=1) + "\n")


if __name__ == "__main__":
    main(*sys.argv[1:])
