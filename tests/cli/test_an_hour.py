"""A recorder left running for an hour: read in bounded memory, with news for whoever waits."""

from __future__ import annotations

import os
import re
import sys
import threading
from pathlib import Path

import pytest

from tests.long_takes import DECAY_TIME_S, Run, read_apart, write_hour

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="peaks of memory have other units elsewhere")

MOST_MB = 600.0


def read_on_a_terminal(path: Path) -> tuple[Run, str]:
    """Read with a terminal watching standard error; return what it saw as well."""
    watching, terminal = os.openpty()
    seen = []

    def watch() -> None:
        try:
            while piece := os.read(watching, 4096):
                seen.append(piece)
        except OSError:  # how a terminal says that nobody is left
            pass

    watcher = threading.Thread(target=watch)
    watcher.start()
    try:
        run = read_apart(path, stderr=terminal)
    finally:
        os.close(terminal)
        watcher.join()
        os.close(watching)
    return run, b"".join(seen).decode()


@pytest.mark.parametrize("suffix", ["wav", "m4a"])
def test_an_hour_is_read_in_bounded_memory_and_says_how_far_it_is(tmp_path, suffix):
    path = tmp_path / f"hour.{suffix}"
    onsets_s = write_hour(path)
    run, seen = read_on_a_terminal(path)
    assert run.status == 0
    assert run.peak_mb < MOST_MB
    (take,) = run.document["takes"]
    assert take["duration_s"] > 3600.0
    used = [clap["onset_s"] for clap in take["claps"] if clap["used"]]
    assert used == pytest.approx(onsets_s, abs=0.002)
    times_s = {band["centre_hz"]: band["decay_time_s"] for band in run.document["bands"]}
    for hz in (500, 1000, 2000, 4000):
        # One clap twelve times: no better than one, for which 12 % are a fair guess.
        assert times_s[hz] == pytest.approx(DECAY_TIME_S, rel=0.12)
    for doing in ("opening", "listening"):
        parts = [int(part) for part in re.findall(rf"{doing}, (\d+) %", seen)]
        assert len(set(parts)) > 10
        assert max(parts) > 90
    assert seen.endswith("\r\x1b[K")
