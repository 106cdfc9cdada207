"""Plans on their way and made: one at a time, each within limits, kept until they are old."""

from __future__ import annotations

import asyncio
import json
import logging
import os
import secrets
import shutil
from pathlib import Path
from typing import Any

from roomir.web.child import run_apart
from roomir.web.plan_work import KINDS, VIEW

MOST_WAITING = 8
"""Plans that may wait at one time."""

LONGEST_S = 120.0
"""Longest that one may take. [s]"""

_MOST_KEPT = 60
_PATIENCE_S = 5.0
"""How long a browser waits for a plan before it is told to come again. [s]"""

_log = logging.getLogger(__name__)

View = dict[str, Any]


class Workshop:
    """Plans by their keys.

    Parameters
    ----------
    folder : Path
        Where they are kept; any of them may be deleted at any time.
    logbook : Path
        Where the rooms are.
    """

    def __init__(self, *, folder: Path, logbook: Path) -> None:
        self._folder = folder
        self._logbook = logbook
        self._one = asyncio.Lock()
        self._running: dict[str, asyncio.Task[None]] = {}
        self._failed: dict[str, str] = {}
        for left_over in folder.glob("*.part"):
            shutil.rmtree(left_over, ignore_errors=True)

    @property
    def is_full(self) -> bool:
        """Whether as many wait as may."""
        return len(self._running) >= MOST_WAITING

    def is_running(self, key: str) -> bool:
        """Whether a plan is on its way."""
        return key in self._running

    def made(self, key: str) -> View | None:
        """Return what a plan says; None where it is not made."""
        try:
            view: View = json.loads((self._folder / key / VIEW).read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return None
        return view

    def parts(self, key: str) -> tuple[str, ...]:
        """Return what there is to see and hear of a plan."""
        return tuple(name for name in KINDS if (self._folder / key / name).exists())

    def path(self, key: str, name: str) -> Path | None:
        """Return where a part of a plan lies; None for anything that is none."""
        is_key = len(key) == 32 and set(key) <= set("0123456789abcdef")
        path = self._folder / key / name
        return path if is_key and name in KINDS and path.is_file() else None

    async def make(self, key: str, *, room: str, target: str, least: str, with_players: bool) -> View | None:
        """Make a plan, or wait for it; None where that takes longer than a browser likes to wait.

        Returns
        -------
        dict or None
            What it says; with nothing but ``failed`` in it where there is none.
        """
        if (there := self._there(key)) is not None:
            return there
        task = self._running.get(key)
        if task is None:
            arguments = (str(self._logbook), room, target, least, "players" if with_players else "none")
            task = asyncio.get_running_loop().create_task(self._run(key, arguments))
            self._running[key] = task
        await asyncio.wait({task}, timeout=_PATIENCE_S)
        return self._there(key)

    def _there(self, key: str) -> View | None:
        # A failure is told once: whoever asks again has it tried again.
        failed = self._failed.pop(key, "")
        return {"failed": failed} if failed else self.made(key)

    async def close(self) -> None:
        """Stop everything."""
        running = list(self._running.values())
        for task in running:
            task.cancel()
        await asyncio.gather(*running, return_exceptions=True)

    async def _run(self, key: str, arguments: tuple[str, ...]) -> None:
        try:
            failed = await self._make(key, arguments)
        except OSError as error:
            _log.exception("a plan could not be kept")
            failed = f"The computer could not keep the plan: {error.strerror}."
        finally:
            self._running.pop(key, None)
        if failed:
            while len(self._failed) >= _MOST_KEPT:
                self._failed.pop(next(iter(self._failed)))
            self._failed[key] = failed

    async def _make(self, key: str, arguments: tuple[str, ...]) -> str:
        """Make a plan; return why it could not be made, or nothing."""
        async with self._one:
            part = self._folder / f"{key}.{secrets.token_hex(4)}.part"
            part.mkdir(parents=True, mode=0o700)
            try:
                status, _, err = await run_apart(
                    "roomir.web.plan_work", [*arguments, str(part)], longest_s=LONGEST_S
                )
                if status != 0:
                    _log.error("a plan could not be made: %s", err.decode("utf-8", "replace")[-2000:])
                    return "The computer ran out of memory or time over it: describe fewer surfaces."
                if not (part / VIEW).exists():
                    return "There is nothing to plan with: describe the room, or choose a target."
                self._make_room()
                shutil.rmtree(self._folder / key, ignore_errors=True)
                part.rename(self._folder / key)
            except TimeoutError:
                return "Working it out took too long: describe fewer surfaces."
            finally:
                shutil.rmtree(part, ignore_errors=True)
            return ""

    def _make_room(self) -> None:
        kept = [one for one in self._folder.iterdir() if one.is_dir() and not one.name.endswith(".part")]
        for old in sorted(kept, key=os.path.getmtime)[: -_MOST_KEPT + 1]:
            shutil.rmtree(old, ignore_errors=True)
