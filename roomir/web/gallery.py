"""Pictures of decays, drawn when somebody looks, one at a time, and kept in the page's own folder."""

from __future__ import annotations

import asyncio
import os
import secrets
from pathlib import Path

from roomir.web.child import run_apart
from roomir.web.decays import drawable

_MOST_KEPT = 100
_MOST_WAITING = 8


class Gallery:
    """Pictures by what they are drawn from.

    Parameters
    ----------
    folder : Path
        Where they are kept; any of them may be deleted at any time.
    logbook : Path
        Where the recordings are.
    """

    def __init__(self, *, folder: Path, logbook: Path) -> None:
        self._folder = folder
        self._logbook = logbook
        self._one = asyncio.Lock()
        self._waiting = 0

    async def decays(self, room: str) -> bytes | None:
        """Return the decays of the latest stage of a room as SVG; None if none can be drawn now.

        Raises
        ------
        LogbookError
            ``no-logbook``, ``no-such-room``.
        """
        what = await asyncio.to_thread(drawable, self._logbook, room)
        if what is None:
            return None
        path = self._folder / f"{what.key}.svg"
        if path.exists():
            return path.read_bytes()
        if self._waiting >= _MOST_WAITING:
            return None
        self._waiting += 1
        try:
            async with self._one:
                # Whoever was before in the queue may have wanted the same.
                return path.read_bytes() if path.exists() else await self._draw(path, room=room)
        finally:
            self._waiting -= 1

    async def _draw(self, path: Path, *, room: str) -> bytes | None:
        try:
            status, svg, _ = await run_apart("roomir.web.decays", [str(self._logbook), room])
        except TimeoutError:
            return None
        if status != 0:
            return None
        self._folder.mkdir(parents=True, exist_ok=True)
        for old in sorted(self._folder.glob("*.svg"), key=os.path.getmtime)[: -_MOST_KEPT + 1]:
            old.unlink(missing_ok=True)
        part = path.with_name(f"{path.name}.{secrets.token_hex(4)}.part")
        part.write_bytes(svg)
        part.replace(path)
        return svg
