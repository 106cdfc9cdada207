"""The same batch on a cluster: a local one of two workers, each a process."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from roomir.batching.find import find_recordings
from roomir.batching.work import Settings, read_record
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
def scheduler(tmp_path_factory: pytest.TempPathFactory):
    """Address of a scheduler with two workers; they end with the test."""
    pytest.importorskip("distributed", reason="dask is not installed (extra cluster)")
    script = tmp_path_factory.mktemp("cluster") / "cluster.py"
    script.write_text(_CLUSTER)
    cluster = subprocess.Popen(
        [sys.executable, str(script)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        cwd=script.parent,
        env={**os.environ, "PYTHONPATH": str(CHECKOUT), "OMP_NUM_THREADS": "1"},
    )
    yield cluster.stdout.readline().strip()
    cluster.stdin.close()
    cluster.stdout.close()
    cluster.wait(timeout=60)


def test_a_cluster_gives_what_this_machine_gives(scheduler: str, tmp_path: Path):
    takes, output = tmp_path / "takes", tmp_path / "rooms.json"
    write_takes(takes, n=4)
    (takes / "broken.wav").write_bytes(b"RIFF")
    run = batch_process(takes, output, "--scheduler", scheduler)
    told, complained = run.communicate(timeout=120)
    settings = Settings(folder=str(takes), bands="octave", channel=None)
    here = [read_record(item, settings=settings) for item in find_recordings(takes).items]

    assert run.returncode == 1, complained  # for the broken one
    assert "five recordings, 4 read, 1 not" in " ".join(told.split())
    assert json.loads(output.read_text("ascii"))["recordings"] == here
    assert sorted(tmp_path.iterdir()) == [output, takes]
