"""Recordings on their way into the logbook, each read in a process of its own that can be stopped.

A job's process is the command line's own ``roomir log``: the page keeps and
reads exactly as that does. What was sent lies under a name of the page's own
making until the logbook has it.
"""

from __future__ import annotations

import asyncio
import json
import logging
import os
import secrets
import shutil
from collections import OrderedDict
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from roomir.web.child import run_apart

MOST_WAITING = 64
"""Lots that may wait at one time."""
MOST_OF_ONE = 24
"""Lots of one browser that may wait at one time."""
_KEPT_JOBS = 200
_AT_ONCE = 2
_ENDINGS = frozenset(
    {
        *(
            "wav",
            "wave",
            "flac",
            "aif",
            "aiff",
            "aifc",
            "caf",
            "au",
            "ogg",
            "oga",
            "opus",
            "mp3",
            "aac",
            "amr",
        ),
        *("m4a", "mp4", "mov", "3gp", "3g2", "webm", "mka", "mkv"),
    }
)
_NEAR = "; add --yes if "
_log = logging.getLogger(__name__)


@dataclass(slots=True, kw_only=True)
class Job:
    """One lot of recordings.

    Attributes
    ----------
    name : str
        What the job is called in addresses.
    owner : str
        Name of the session that sent it.
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
    owner: str
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

    @property
    def leads_to(self) -> str:
        """Where its readings are to be seen: in another room where the logbook had all of it there before."""
        if self.result is None:
            return f"/takes/{self.name}"
        rooms = {
            one["take"]["room"] if one["outcome"] == "kept elsewhere" else self.result["room"]
            for one in self.result["takes"]
        }
        room = rooms.pop() if len(rooms) == 1 else self.result["room"]
        return "/room?" + urlencode({"room": room, "lot": self.name})

    def document(self) -> dict[str, Any]:
        """Say how far it is; ``sha256`` is what has arrived, in the order sent."""
        return {
            "job": self.name,
            "state": self.state,
            "says": self.says,
            "sha256": [sha256 for _, sha256 in self.files],
            "result": self.result,
            "leads_to": self.leads_to,
        }


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

    def new_file(self, called: str) -> Path:
        """Return a path for something that arrives; nobody outside has a say in it.

        Parameters
        ----------
        called : str
            What the sender calls it. Of that only the ending is taken, and only
            where it is one of the known: so a take can be told by its kind in lists.
        """
        ending = called.rpartition(".")[2].lower()
        name = f"page-{datetime.now().astimezone():%Y-%m-%d-%H%M%S}"
        folder = self._folder / secrets.token_hex(16)
        folder.mkdir(mode=0o700)
        return folder / (f"{name}.{ending}" if ending in _ENDINGS else name)

    def drop(self, path: Path) -> None:
        """Remove something that arrived."""
        shutil.rmtree(path.parent, ignore_errors=True)

    def find(self, name: str) -> Job | None:
        """Return a job; None where there is none, or none any more."""
        return self._jobs.get(name)

    def begin(
        self,
        *,
        owner: str,
        files: list[tuple[Path, str]],
        room: str,
        stage: str,
        spot: str,
        dimensions: str,
    ) -> Job:
        """Queue a lot of recordings.

        Raises
        ------
        TooManyError
            If too many are waiting.
        """
        waiting = [job.owner for job in self._jobs.values() if job.state in ("waiting", "reading")]
        if len(waiting) >= MOST_WAITING or waiting.count(owner) >= MOST_OF_ONE:
            raise TooManyError
        job = Job(
            name=secrets.token_urlsafe(12),
            owner=owner,
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
            self.drop(path)

    async def _run(self, job: Job) -> None:
        async with self._at_once:
            job.state = "reading"
            try:
                code, out, err = await self._log(job)
            except TimeoutError:
                job.state, job.says = "failed", "Reading took too long: send a shorter recording."
            except Exception:
                _log.exception("a lot could not be read")
                job.state, job.says = "failed", "Something broke on the computer: its screen tells more."
            else:
                self._take_in(job, code=code, out=out, err=err)
        if job.state != "asks":
            for path, _ in job.files:
                self.drop(path)
        job.finished.set()

    async def _log(self, job: Job) -> tuple[int, bytes, bytes]:
        arguments = [
            *("log", *(str(path) for path, _ in job.files)),
            *(f"--room={job.room}", f"--stage={job.stage}", f"--logbook={self._logbook}", "--json"),
        ]
        if job.dimensions:
            arguments.append(f"--dimensions={job.dimensions}")
        if job.spot:
            arguments += [f"--spot={job.spot}" for _ in job.files]
        if job.answer:
            arguments.append(job.answer)
        return await run_apart("roomir", arguments)

    def _take_in(self, job: Job, *, code: int, out: bytes, err: bytes) -> None:
        # Where the recordings lie is nothing to tell a phone.
        said, told = (_without_folders(text.decode("utf-8", "replace"), job.files) for text in (err, out))
        said = said.strip().removeprefix("roomir: ")
        if code == 2 and said.startswith("there is no ") and _NEAR in said:
            job.state, job.says = "asks", _sentence(said.rpartition(_NEAR)[0])
            return
        try:
            job.result = json.loads(told)
        except ValueError:
            job.state = "failed"
            job.says = (
                _sentence(said)
                if code in (1, 2) and said
                else "The computer ran out of memory or time over it: send a shorter recording."
            )
            return
        job.state, job.says = "done", ""


def _sentence(says: str) -> str:
    return says[:1].upper() + says[1:] + ("" if says.endswith((".", "?")) else ".")


def _without_folders(text: str, files: list[tuple[Path, str]]) -> str:
    for path, _ in files:
        folder = f"{path.parent}{os.sep}"
        # In JSON it may be spelt in three ways.
        for spelt in (folder, json.dumps(folder)[1:-1], json.dumps(folder, ensure_ascii=False)[1:-1]):
            text = text.replace(spelt, "")
    return text
