"""A few hundred hostile files, each with one clear end; `make fuzz` reads ten thousand."""

from __future__ import annotations

import os
import signal
import sys

import pytest

from tests.fuzz import pool as fuzz_pool
from tests.fuzz.hostile import Hostility
from tests.fuzz.pool import Pool, run_command

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="the workers count with /proc")

SEED = 7
N_CASES = 250
N_COMMANDS = 4


def test_hostile_files_give_a_reading_or_one_clear_line_in_time_and_memory():
    with Pool(seed=SEED, n_workers=1) as pool:
        results = list(pool.run(range(N_CASES)))
    troubles = [result for result in results if result["trouble"]]
    assert not troubles, "\n".join(f"{one['number']}, {one['kind']}: {one['trouble']}" for one in troubles)
    assert sorted(result["number"] for result in results) == list(range(N_CASES))
    outcomes = {result["outcome"] for result in results}
    assert {"a decay time", "damaged", "impossible-format"} <= outcomes  # the files are no monoculture
    assert max(result["peak_mb"] for result in results) < 400.0
    assert max(result["decoder_peak_mb"] for result in results) < 400.0


def test_the_command_ends_with_a_line_and_a_status_whatever_the_file():
    hostility = Hostility(seed=SEED)
    for number in range(N_CASES, N_CASES + N_COMMANDS):
        result = run_command(hostility, number)
        assert result["trouble"] == "", f"{number}, {result['kind']}"


def test_a_file_is_the_same_for_the_same_number_and_another_for_the_next():
    hostility = Hostility(seed=SEED)
    assert hostility.case(12) == hostility.case(12)
    assert len({hostility.case(number).data for number in range(50)}) == 50


def test_a_worker_that_dies_or_stands_still_costs_one_case(monkeypatch):
    monkeypatch.setattr(fuzz_pool, "GIVE_UP_AFTER_S", 4.0)
    with Pool(seed=SEED, n_workers=2) as pool:
        running = pool.run(range(8))
        results = [next(running)]
        for ending in (signal.SIGKILL, signal.SIGSTOP):
            os.kill(pool.busy[0].process.pid, ending)
            results += [next(running), next(running)]
        results += running
    assert sorted(result["number"] for result in results) == list(range(8))
    lost = {result["outcome"]: result["trouble"] for result in results if result["trouble"]}
    assert lost == {"crashes": "the process ended with status -9", "hangs": "not finished after 4 s"}
