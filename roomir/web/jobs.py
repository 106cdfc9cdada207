"""Recordings on their way into the logbook, each read in a process of its own that can be stopped.

A job's process is the command line's own ``roomir log``: the page keeps and
reads exactly as that does. What was sent lies under a name of the page's own
making until the logbook has it.
"""

from __future__ import annotations

import asyncio
import json
import os
import secrets
import shutil
import sys
from collections import OrderedDict
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

LONGEST_S = 300.0
"""Longest that the reading of one lot may take. [s]"""
MOST_MEMORY = 4 << 30
"""Address space of the process that reads. [bytes]"""
MOST_WAITING = 64
_KEPT_JOBS = 200
_AT_ONCE = 2
_LIMITED = (
    "import resource, runpy, sys; resource.setrlimit(resource.RLIMIT_AS, ({n}, {n}));"
    " runpy.run_module('roomir', run_name='__main__', alter_sys=True)"
)


@dataclass(slots=True, kw_only=True)
class Job:
    """One lot of recordings.

    Attributes
    ----------
    name : str
        What the job is called in addresses.
    room, stage, spot, dimensions : str
        As they were typed.
    files : list of (Path, str)
        Where each file lies, and its hash.
    state : str
        ``"waiting"``, ``"reading"``, ``"done"``, ``"asks"`` (about a name) or ``"failed"``.
    says : str
        What to tell about it.
    result : dict or None
        The document ``roomir/log/1``.
    """

    name: str
    room: str
    stage: str
    spot: str
    dimensions: str
    files: list[tuple[Path, str]]
    state: str = "waiting"
    says: str = ""
    result: dict[str, Any] | None = None
    answer: str = ""
    finished: asyncio.Event = field(default_factory=asyncio.Event)


class TooManyError(Exception):
    """More is waiting than makes sense; try again later."""


class Jobs:
    """All jobs of a page.

    Parameters
    ----------
    folder : Path
        Where recordings on their way lie. What an earlier page left there is
        removed: a phone keeps its own copy until the logbook has it.
    logbook : Path
        Where they go.
    """

    def __init__(self, *, folder: Path, logbook: Path) -> None:
        self._folder = folder
        self._logbook = logbook
        self._jobs: OrderedDict[str, Job] = OrderedDict()
        self._at_once = asyncio.Semaphore(_AT_ONCE)
        self._running: set[asyncio.Task[None]] = set()
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir(parents=True, mode=0o700)

    def new_file(self) -> Path:
        """Return a path for something that arrives; nobody outside has a say in it."""
        return self._folder / f"{secrets.token_hex(16)}.part"

    def find(self, name: str) -> Job | None:
        """Return a job; None where there is none, or none any more."""
        return self._jobs.get(name)

    def begin(
        self, *, files: list[tuple[Path, str]], room: str, stage: str, spot: str, dimensions: str
    ) -> Job:
        """Queue a lot of recordings.

        Raises
        ------
        TooManyError
            If too many are waiting.
        """
        if sum(job.state in ("waiting", "reading") for job in self._jobs.values()) >= MOST_WAITING:
            raise TooManyError
        job = Job(
            name=secrets.token_urlsafe(12),
            room=room,
            stage=stage,
            spot=spot,
            dimensions=dimensions,
            files=files,
        )
        self._jobs[job.name] = job
        while len(self._jobs) > _KEPT_JOBS:
            oldest = next(iter(self._jobs.values()))
            if oldest.state in ("waiting", "reading"):
                break
            self._forget(oldest)
        self._start(job)
        return job

    def answer(self, job: Job, *, option: str) -> None:
        """Go on with a job that asked about a name: ``--new`` or ``--yes``."""
        if job.state == "asks" and option in ("--new", "--yes"):
            job.answer, job.state = option, "waiting"
            job.finished.clear()
            self._start(job)

    async def close(self) -> None:
        """Stop everything."""
        for task in self._running:
            task.cancel()
        await asyncio.gather(*self._running, return_exceptions=True)

    def _start(self, job: Job) -> None:
        task = asyncio.get_running_loop().create_task(self._run(job))
        self._running.add(task)
        task.add_done_callback(self._running.discard)

    def _forget(self, job: Job) -> None:
        self._jobs.pop(job.name, None)
        for path, _ in job.files:
            path.unlink(missing_ok=True)

    async def _run(self, job: Job) -> None:
        async with self._at_once:
            job.state = "reading"
            try:
                code, out, err = await self._log(job)
            except TimeoutError:
                job.state, job.says = "failed", "Reading took too long: send a shorter recording."
            else:
                self._take_in(job, code=code, out=out, err=err)
        if job.state != "asks":
            for path, _ in job.files:
                path.unlink(missing_ok=True)
        job.finished.set()

    async def _log(self, job: Job) -> tuple[int, bytes, bytes]:
        command = [
            sys.executable, "-P", "-c", _LIMITED.format(n=MOST_MEMORY), "log",
            *(str(path) for path, _ in job.files),
            f"--room={job.room}", f"--stage={job.stage}", f"--logbook={self._logbook}", "--json",
        ]  # fmt: skip
        if job.dimensions:
            command.append(f"--dimensions={job.dimensions}")
        if job.spot:
            command += [f"--spot={job.spot}" for _ in job.files]
        if job.answer:
            command.append(job.answer)
        process = await asyncio.create_subprocess_exec(
            *command,
            stdin=asyncio.subprocess.DEVNULL,
            stdout=asyncio.subprocess.PIPE,
            stderr=asyncio.subprocess.PIPE,
            start_new_session=True,
            env={**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"},
        )
        try:
            out, err = await asyncio.wait_for(process.communicate(), LONGEST_S)
        finally:
            if process.returncode is None:
                with suppress(ProcessLookupError):
                    os.killpg(process.pid, 9)
                await process.wait()
        return process.returncode or 0, out, err

    def _take_in(self, job: Job, *, code: int, out: bytes, err: bytes) -> None:
        said = err.decode("utf-8", "replace").strip().removeprefix("roomir: ")
        if code == 2 and "--new" in said:
            job.state, job.says = "asks", said
            return
        try:
            job.result = json.loads(out)
        except ValueError:
            job.state, job.says = "failed", said or "It could not be read."
            return
        job.state, job.says = "done", said
