"""A room over its stages: each one's reading, against the one before and against the first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

from roomir.compare.change import Climate, Comparison
from roomir.compare.compare import compare_readings
from roomir.reading.reading import Reading


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedTake:
    """A recording as it is kept.

    Attributes
    ----------
    sha256 : str
        Hash of its bytes.
    name : str
        What the file was called.
    """

    sha256: str
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StageReading:
    """A room in one state, with everything that was read from it.

    Attributes
    ----------
    name : str
        Name of the state.
    reading : Reading
        Over all its takes.
    takes : tuple of NamedTake
        All of them, those without a reading included.
    positions : tuple of str or None
        Name of the position of each of the reading's takes.
    climate : Climate
        The air, as far as it was written down.
    date : date or None
        The day, where it is known.
    done : str
        What was done to come here from the state before.
    note : str
        Whatever is worth knowing.
    sources : tuple of str
        What made the sound, as far as it was written down.
    """

    name: str
    reading: Reading
    takes: tuple[NamedTake, ...]
    positions: tuple[str | None, ...]
    climate: Climate = field(default_factory=Climate)
    date: date | None = None
    done: str = ""
    note: str = ""
    sources: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """A room over its stages.

    Attributes
    ----------
    room : str
        Its name.
    volume_m3 : float or None
        Its volume. [m3]
    dimensions_m : (float, float, float) or None
        Length, width and height. [m]
    note : str
        Whatever is worth knowing of the room.
    stages : tuple of StageReading
        In their order.
    against_previous, against_first : tuple of Comparison or None
        One for each stage; ``None`` where there is nothing earlier, and for
        the second stage in ``against_first``, where it would be the same again.
    """

    room: str
    volume_m3: float | None
    dimensions_m: tuple[float, float, float] | None
    note: str
    stages: tuple[StageReading, ...]
    against_previous: tuple[Comparison | None, ...]
    against_first: tuple[Comparison | None, ...]

    @property
    def first_to_last(self) -> Comparison | None:
        """The whole way; ``None`` for a single stage."""
        return (self.against_first[-1] or self.against_previous[-1]) if self.stages else None


def compare_stages(before: StageReading, after: StageReading, *, volume_m3: float | None) -> Comparison:
    """Set one stage against another; positions of the same name are compared one by one."""
    named = all(any(name is not None for name in one.positions) for one in (before, after))
    return compare_readings(
        before.reading,
        after.reading,
        positions=(before.positions, after.positions) if named else None,
        volume_m3=volume_m3,
        climates=(before.climate, after.climate),
        made_with=(before.sources, after.sources),
    )


def make_history(
    room: str,
    stages: Sequence[StageReading],
    *,
    volume_m3: float | None = None,
    dimensions_m: tuple[float, float, float] | None = None,
    note: str = "",
) -> History:
    """Tell the story of a room.

    Parameters
    ----------
    room : str
        Its name.
    stages : sequence of StageReading
        In their order.
    volume_m3 : float, optional
        Volume, for the absorption that was added. [m3]
    dimensions_m : (float, float, float), optional
        Length, width and height. [m]
    note : str
        Whatever is worth knowing of the room.

    Returns
    -------
    History
        Every stage against the one before and against the first.
    """

    def against(place: int, earlier: int) -> Comparison | None:
        if not 0 <= earlier < place:
            return None
        return compare_stages(stages[earlier], stages[place], volume_m3=volume_m3)

    return History(
        room=room,
        volume_m3=volume_m3,
        dimensions_m=dimensions_m,
        note=note,
        stages=tuple(stages),
        against_previous=tuple(against(place, place - 1) for place in range(len(stages))),
        against_first=tuple(against(place, 0) if place > 1 else None for place in range(len(stages))),
    )
