"""Stories of invented rooms."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

from roomir.compare.change import Climate
from roomir.compare.history import History, NamedTake, StageReading, make_history
from roomir.reading.reading import MidFigures, Reading, SpotTime
from tests.readings import reading, room_band, take

HZ = (125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0)


def room(time_s: float, *, u: float = 0.01, spots: int = 5, **changes: Any) -> Reading:
    """A reading with the same decay time in every band."""
    bands = tuple(
        replace(
            room_band(hz, spots=spots, decay_time_s=time_s, ci95_s=(0.97 * time_s, 1.03 * time_s), **changes),
            u_relative=u,
            u_theory_relative=0.8 * u,
            spot_times=tuple(
                SpotTime(
                    decay_time_s=time_s * (0.98 + 0.01 * i), u_relative=0.02, weight=1 / spots, takes=(i,)
                )
                for i in range(spots)
            ),
        )
        for hz in HZ
    )
    takes = tuple(take(f"spot{i}.wav", sha256=f"{time_s}-{i}") for i in range(spots))
    mid = MidFigures(decay_time_s=time_s, ci95_s=(0.98 * time_s, 1.02 * time_s), t20_s=time_s)
    return reading(bands=bands, takes=takes, mid=mid)


def stage(name: str, made: Reading, **changes: Any) -> StageReading:
    """A stage whose positions have names."""
    built = StageReading(
        name=name,
        reading=made,
        takes=tuple(NamedTake(sha256=one.sha256 or "", name=one.path) for one in made.takes),
        positions=tuple(one.path for one in made.takes),
        climate=Climate(temperature_c=18.0, humidity_percent=55.0),
    )
    return replace(built, **changes)


def story(**changes: Any) -> History:
    """A room that got shorter twice."""
    told: dict[str, Any] = {
        "stages": [
            stage("bare", room(1.2), date=date(2024, 3, 2)),
            stage("boards", room(0.9), done="boards on two walls"),
            stage("panels", room(0.5), done="panels on the ceiling", sources=("hands",)),
        ],
        "volume_m3": 60.0,
        "dimensions_m": (5.0, 4.0, 3.0),
    }
    told |= changes
    return make_history(told.pop("room", "shed"), told.pop("stages"), **told)
