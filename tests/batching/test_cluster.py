"""The same batch on a cluster: a local one of two workers, each a process."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.batching.takes import CHECKOUT, batch_process, write_takes

_CLUSTER = """
import sys
from distributed import LocalCluster

if __name__ == "__main__":
    with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None, host="127.0.0.1") as cluster:
        print(cluster.scheduler_address, flush=True)
        sys.stdin.read()
"""


@pytest.fixture
def scheduler(tmp_path: Path):
    """Address of a scheduler with two workers; they end with the test."""
    pytest.importorskip("distributed", reason="dask is not installed (extra cluster)")
    script = tmp_path / "cluster.py"
    script.write_text(_CLUSTER)
    cluster = subprocess.Popen(
        [sys.executable, str(script)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(CHECKOUT), "OMP_NUM_THREADS": "1"},
    )
    yield cluster.stdout.readline().strip()
    cluster.stdin.close()
    cluster.stdout.close()
    cluster.wait(timeout=60)


def test_a_cluster_gives_what_this_machine_gives(scheduler: str, tmp_path: Path):
    takes = tmp_path / "takes"
    write_takes(takes, n=6)
    (takes / "broken.wav").write_bytes(b"RIFF")
    outputs = []
    for name, options in (("here", ("--jobs", "1")), ("cluster", ("--scheduler", scheduler))):
        run = batch_process(takes, tmp_path / f"{name}.csv", *options)
        told, complained = run.communicate(timeout=120)
        assert run.returncode == 1, complained
        assert "seven recordings, 6 read, 1 not" in " ".join(told.split())
        outputs.append((tmp_path / f"{name}.csv").read_text())

    assert outputs[0] == outputs[1]
