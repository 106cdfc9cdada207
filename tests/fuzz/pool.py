"""Workers that may crash or hang on a case without costing more than that case."""

from __future__ import annotations

import contextlib
import json
import os
import selectors
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any, Self

from tests.contract import check_document
from tests.fuzz.hostile import Hostility

ROOT = Path(__file__).parents[2]
GIVE_UP_AFTER_S = 60.0
"""When a worker that says nothing is ended: ten seconds of work take longer on a busy machine. [s]"""

COMMAND_TAKES_S = 120.0

_ENVIRONMENT = {**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "PYTHONPATH": str(ROOT)}

Result = dict[str, Any]


class _Worker:
    def __init__(self, *, seed: int) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tests.fuzz.worker", str(seed)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=_ENVIRONMENT,
            cwd=ROOT,
            start_new_session=True,
        )
        if self.process.stdout.readline() != b"ready\n":
            raise RuntimeError("a worker does not start")
        self.case: int | None = None
        self.give_up_at = 0.0

    def begin(self, case: int) -> None:
        self.case = case
        self.give_up_at = time.monotonic() + GIVE_UP_AFTER_S
        self.process.stdin.write(b"%d\n" % case)
        self.process.stdin.flush()

    def end(self) -> int:
        """End it with everything it started, and return the status."""
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self.process.pid, signal.SIGKILL)
        status = self.process.wait()
        self.process.stdin.close()
        self.process.stdout.close()
        return status


class Pool:
    """Some workers for one seed; a case that ends its worker is a result like any other."""

    def __init__(self, *, seed: int, n_workers: int) -> None:
        self._seed = seed
        self._idle = [_Worker(seed=seed) for _ in range(n_workers)]
        self._selector = selectors.DefaultSelector()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        for worker in (*self._idle, *self.busy):
            worker.end()
        self._selector.close()

    @property
    def busy(self) -> list[_Worker]:
        """Workers that have a case at hand."""
        return [key.data for key in self._selector.get_map().values()]

    def run(self, cases: Iterable[int]) -> Iterator[Result]:
        """Yield a result for each case, in the order in which they get done."""
        waiting = list(cases)[::-1]
        while waiting or self.busy:
            while waiting and self._idle:
                worker = self._idle.pop()
                worker.begin(waiting.pop())
                self._selector.register(worker.process.stdout, selectors.EVENT_READ, worker)
            for key, _ in self._selector.select(timeout=0.5):
                yield self._finished(key.data)
            for worker in self.busy:
                if time.monotonic() > worker.give_up_at:
                    self._replace(worker)
                    yield _lost(worker.case, "hangs", f"not finished after {GIVE_UP_AFTER_S:.0f} s")

    def _finished(self, worker: _Worker) -> Result:
        line = worker.process.stdout.readline()
        if not line.endswith(b"\n"):
            return _lost(worker.case, "crashes", f"the process ended with status {self._replace(worker)}")
        self._selector.unregister(worker.process.stdout)
        self._idle.append(worker)
        return json.loads(line)

    def _replace(self, worker: _Worker) -> int:
        self._selector.unregister(worker.process.stdout)
        self._idle.append(_Worker(seed=self._seed))
        return worker.end()


def _lost(case: int | None, outcome: str, why: str) -> Result:
    return {"number": case, "kind": "?", "outcome": outcome, "trouble": why, "seconds": GIVE_UP_AFTER_S,
            "cpu_s": 0.0, "peak_mb": 0.0, "decoder_peak_mb": 0.0}  # fmt: skip


_CALLS = ((), ("--json",), ("--full",), ("--json", "--channel", "2"))


def run_command(hostility: Hostility, number: int) -> Result:
    """Give one case to ``python -m roomir read``, as a builder would."""
    case = hostility.case(number)
    options = _CALLS[number % len(_CALLS)]
    with tempfile.TemporaryDirectory(prefix="fuzz-") as folder:
        path = Path(folder) / "take.m4a"
        path.write_bytes(case.data)
        began = time.monotonic()
        done = subprocess.run(
            [sys.executable, "-m", "roomir", "read", str(path), *options],
            stdin=subprocess.DEVNULL,
            capture_output=True,
            env=_ENVIRONMENT,
            cwd=ROOT,
            check=False,
            timeout=COMMAND_TAKES_S,
        )
    seconds = time.monotonic() - began
    return {
        "number": number,
        "kind": case.kind,
        "outcome": f"status {done.returncode}",
        "trouble": _trouble_of_command(done, as_json="--json" in options),
        "seconds": seconds,
    }


def _trouble_of_command(done: subprocess.CompletedProcess[bytes], *, as_json: bool) -> str:
    out, err = done.stdout.decode(), done.stderr.decode()
    if done.returncode not in (0, 1):
        return f"status {done.returncode}: {err[-300:]}"
    if "Traceback" in out + err:
        return f"a traceback: {err[-300:]}"
    if not all(line.startswith("roomir: ") for line in err.splitlines()):
        return f"a line that is not roomir's own: {err[:300]}"
    if as_json:
        check_document(json.loads(out))
    return ""
