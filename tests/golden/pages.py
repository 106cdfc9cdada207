"""How each golden text is made."""

from __future__ import annotations

from collections.abc import Callable

from roomir.report.room import advise_room
from roomir.report.text import render
from roomir.report.view import view
from tests.readings import CLIPPED, indicative_band, reading, room_band, take, unusable_band


def _reading(*, full: bool) -> str:
    two_spots = {"spots": 2}
    what = reading(
        bands=(
            unusable_band(spots=2),
            indicative_band(**two_spots),
            room_band(500.0, **two_spots),
            room_band(1000.0, **two_spots),
        ),
        takes=(
            take("dairy north.m4a", concerns=(CLIPPED,)),
            take("dairy south.m4a", claps=take().claps[1:]),
        ),
    )
    room = advise_room(what, volume_m3=172.8, dimensions_m=(9.0, 6.0, 3.2))
    return render(view(what, room=room), full=full)


PAGES: dict[str, Callable[[], str]] = {
    "reading.txt": lambda: _reading(full=False),
    "reading_full.txt": lambda: _reading(full=True),
}
