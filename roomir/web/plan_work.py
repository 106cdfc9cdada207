"""What to hang next in a room, worked out by a process of its own within limits.

``python -m roomir.web.plan_work LOGBOOK ROOM TARGET LEAST PLAYERS FOLDER`` writes `VIEW`, pictures and
sounds into the folder. What is wrong with room or target is one line in `VIEW`; anything else is
an exit status.
"""

from __future__ import annotations

import json
import sys
from dataclasses import asdict
from pathlib import Path

from roomir import api, planning
from roomir.errors import RoomirError
from roomir.remarks import Remark
from roomir.report.page import draw_step
from roomir.report.planning.next_step import NextStep
from roomir.report.planning.next_step_view import next_step_view
from roomir.report.wording import said_and_done

VIEW = "view.json"
"""What the section says; ``failed`` in it says why there is none."""

SOUNDS = ("now.wav", "then.wav")
"""Players in their order."""

KINDS = {
    "foreseen.svg": "image/svg+xml",
    "proposal.svg": "image/svg+xml",
    **dict.fromkeys(SOUNDS, "audio/wav"),
}
"""What there may be to see and hear, with its media type."""


def work(logbook: Path, room: str, *, target: str, least: str, with_players: bool) -> NextStep | None:
    """Work out what to hang next; None where there is neither a description nor a target."""
    with api.open_logbook(logbook) as book:
        history, description = api.history(book, room=room), book.room(room).description
    return planning.next_step(
        history, description=description, target=target or None, least=least, with_players=with_players
    )


def write(step: NextStep, folder: Path) -> None:
    """Write everything there is to see and hear into a folder."""
    for name, svg in draw_step(step).items():
        (folder / f"{name}.svg").write_text(svg, encoding="utf-8")
    for name, player in zip(SOUNDS, step.players, strict=False):
        (folder / name).write_bytes(player.wav)
    # Last, since whoever finds it takes the rest to be there.
    (folder / VIEW).write_text(json.dumps(asdict(next_step_view(step))), encoding="utf-8")


def main(logbook: str, room: str, target: str, least: str, players: str, folder: str) -> None:
    """Do the work."""
    try:
        step = work(Path(logbook), room, target=target, least=least, with_players=players == "players")
    except RoomirError as error:
        failed = said_and_done(Remark(code=error.code, says=error.says, remedy=error.remedy))
        (Path(folder) / VIEW).write_text(json.dumps({"failed": failed}), encoding="utf-8")
        return
    if step is not None:
        write(step, Path(folder))


if __name__ == "__main__":
    main(*sys.argv[1:])
