"""``roomir demo``: the main job on the recordings that come with the source."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

import roomir
from roomir import api
from roomir.cli import show
from roomir.cli.demo_story import tell_story
from roomir.cli.options import DebugOption
from roomir.cli.read import exit_status
from roomir.errors import RoomirError
from roomir.reading.reading import Reading
from roomir.report.view import view

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_STAGES = {"bare masonry": "dairy_1_bare_*", "panels fitted": "dairy_4_panels_*"}
_BOTH = "decay-times.png"
_DAIRY_M = (9.0, 6.0, 3.2)

_STORY = (
    "A village brass band turns an old stone dairy into its rehearsal room: 9 m long, 6 m wide, 3.2 m high."
    " Before anything was done, and again with the panels on the walls, somebody clapped in several spots"
    " while a phone was recording. (The recordings are simulated, so their truth is known: see"
    " sample_data/README.md.)"
)
_OUTLOOK = (
    "The same for your own room: clap once or twice in each of four spots, one recording per spot,"
    " then: roomir read spot1.m4a spot2.m4a spot3.m4a spot4.m4a"
)


def demo(
    *,
    out: Annotated[Path, typer.Option(metavar="FOLDER", help="Where figures, page and logbook go.")] = Path(
        "demo-out"
    ),
    debug: DebugOption = False,
) -> None:
    """Read, log and compare a room through its treatment, from recordings that come with the source."""
    del debug  # main() looks for it where every error ends up.
    folder = _sample_data()
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise RoomirError(
            f"{out} cannot be written: {error.strerror or error}",
            code="cannot-write",
            remedy="name a folder you may write to with --out",
        ) from error
    readings, pages = {}, {}
    show.silence_matplotlib()
    show.paragraph(_STORY)
    for stage, pattern in _STAGES.items():
        takes = sorted(folder.glob(pattern))
        names = " ".join(take.name for take in takes)
        show.out(f"\n--- {stage}\n\n$ roomir read {names} --figure {_page_name(stage)}\n\n")
        with show.progress() as progress:
            reading, pages[stage] = api.read_and_draw(takes, progress=progress)
        room = api.room_advice(reading, dimensions_m=_DAIRY_M)
        show.reading_text(view(reading, room=room), full=False)
        show.failures(reading)
        readings[stage] = reading
    both = _decay_times_of(readings)
    show.out("\n")
    for stage, page in pages.items():
        api.save_figure(page, out / _page_name(stage))
        show.out(f"--- drawn: {out / _page_name(stage)}\n")
    api.save_figure(both, out / _BOTH)
    show.out(f"--- drawn, both states side by side: {out / _BOTH}\n")
    tell_story(folder, out=out)
    show.paragraph(_OUTLOOK)
    raise typer.Exit(max(exit_status(reading) for reading in readings.values()))


def _page_name(stage: str) -> str:
    return f"{stage.replace(' ', '-')}.png"


def _decay_times_of(readings: Mapping[str, Reading]) -> Figure:
    # Here and not above: matplotlib is paid for by those who draw.
    from roomir.report.figures import decay_time_figure

    return decay_time_figure(readings)


def _sample_data() -> Path:
    beside_package = Path(roomir.__file__).parent.parent / "sample_data"
    for folder in (beside_package, Path("sample_data")):
        if all(any(folder.glob(pattern)) for pattern in _STAGES.values()):
            return folder
    raise RoomirError(
        "the sample recordings are not here; they come with the source, not with the installed package",
        code="no-sample-data",
        remedy="run it in a checkout of the source",
    )
