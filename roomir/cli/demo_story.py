"""The second half of ``roomir demo``: a room's stages logged, compared, and put on one page."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from roomir import api
from roomir.cli import show
from roomir.logbook.values import About, File, Size
from roomir.report.changes import comparison_view
from roomir.report.comparison_text import render_comparison

_ROOM = "dairy"
_DAIRY_M = (9.0, 6.0, 3.2)
_STAGES = (
    ("bare", "dairy_1_bare_*", ""),
    ("boarded", "dairy_2_boarded_*", "plasterboard ceiling, thin plywood on two walls, wooden floor"),
    ("curtains", "dairy_3_curtains_*", "heavy curtains on trial along two walls"),
    ("panels", "dairy_4_panels_*", "32 m2 of stone-wool panels on the ceiling and the long walls"),
)
_TARGET = "live room"


def tell_story(folder: Path, *, out: Path) -> None:
    """Log the stages of the dairy into a logbook in ``out``, compare, and write the page.

    Parameters
    ----------
    folder : Path
        Where the sample recordings are.
    out : Path
        Where the logbook and the page go. What is logged already is not logged twice.
    """
    book_at, page = out / "logbook", out / "dairy.html"
    show.out("\n--- the whole story, kept in a logbook\n\n")
    with api.open_logbook(book_at, create=True) as book:
        for stage, pattern, done in _STAGES:
            takes = sorted(folder.glob(pattern))
            show.out(f"$ roomir log {pattern} --room {_ROOM} --stage {stage} ...\n")
            with show.progress() as progress:
                book.log(
                    [File(path=take, about=_about(take)) for take in takes],
                    room=_ROOM,
                    stage=stage,
                    size=Size(dimensions_m=_DAIRY_M),
                    done=done,
                    tell=progress,
                )
        history = api.history(book, room=_ROOM)
    show.out(f"\n$ roomir compare bare panels --room {_ROOM}\n\n")
    whole = history.first_to_last
    assert whole is not None  # four stages have just been logged
    show.out(render_comparison(comparison_view(whole)))
    show.out(f"\n$ roomir report --room {_ROOM} --target '{_TARGET}' -o {page}\n\n")
    aims = api.history_aims(history, target=_TARGET)
    api.write_report(history, page, aims=aims, now=datetime.now(tz=UTC).astimezone())
    show.out(f"--- written, to be opened in a browser: {page}\n\n")


def _about(take: Path) -> About:
    """Say what the sample recordings' manual knows: the spot, and the air."""
    return About(spot=take.stem.rpartition("_")[2], temperature_c=14.0, humidity_percent=65.0)
