"""Work in a process apart, kept for the next item: what crashes there is told from outside.

A cluster takes it ill when its own workers die. So its workers hand each
recording to a process of theirs; run as a script, this module is that process.
"""

from __future__ import annotations

import contextlib
import os
import pickle
import subprocess
import sys
import threading

from roomir.batching.find import Item
from roomir.batching.work import Record, Work, died

_TRIES = 2
_here = threading.local()


def work_apart(item: Item, *, work: Work) -> Record:
    """Do the work on one item in a process that this thread keeps.

    Parameters
    ----------
    item : Item
        What to work on.
    work : callable
        Must not raise, and must be found by its name in another process.

    Returns
    -------
    Record
        One of failure where the process dies, and a new one as well.
    """
    for _ in range(_TRIES):
        process = _process()
        try:
            pickle.dump((work, item), process.stdin)
            process.stdin.flush()
            record: Record = pickle.load(process.stdout)  # noqa: S301 - written by a process started here
        except (OSError, EOFError, pickle.UnpicklingError):
            _end(process)
            continue
        return record
    return died(item)


class _Process:
    """A process at work behind two pipes."""

    def __init__(self) -> None:
        environment = {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
        self._process = subprocess.Popen(  # noqa: S603 - this module itself
            [sys.executable, "-m", __name__],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=environment,
        )
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self.stdin = self._process.stdin
        self.stdout = self._process.stdout

    def end(self) -> None:
        self._process.kill()
        for pipe in (self.stdin, self.stdout):
            with contextlib.suppress(OSError):  # what was still to be sent goes nowhere
                pipe.close()
        self._process.wait()


def _process() -> _Process:
    process: _Process | None = getattr(_here, "process", None)
    if process is None:
        process = _here.process = _Process()
    return process


def _end(process: _Process) -> None:
    process.end()
    _here.process = None


def _serve() -> None:
    """Work on what comes in until the other end closes, as it does when its process ends."""
    answers = os.fdopen(os.dup(1), "wb")
    # Whatever a library prints must not get in between.
    os.dup2(2, 1)
    while True:
        try:
            work, item = pickle.load(sys.stdin.buffer)  # noqa: S301 - written by the process that started this
        except EOFError:
            return
        pickle.dump(work(item), answers)
        answers.flush()


if __name__ == "__main__":
    _serve()
