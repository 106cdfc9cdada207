"""What came of looking after a logbook."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from roomir.logbook.values import Take
from roomir.reading.reading import Failure
from roomir.remarks import Remark


@dataclass(frozen=True, slots=True, kw_only=True)
class Health:
    """What a check has found.

    Attributes
    ----------
    n_takes, n_recordings, n_readings : int
        How much was looked at; removed takes are among it.
    problems : tuple of Remark
        What is lost or damaged; empty for a logbook that is whole.
    notes : tuple of Remark
        What lies about and does no harm.
    """

    n_takes: int
    n_recordings: int
    n_readings: int
    problems: tuple[Remark, ...]
    notes: tuple[Remark, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Purge:
    """What purging erases.

    Attributes
    ----------
    takes : tuple of (int, str)
        Number and file name of each removed take.
    stages, rooms : tuple of str
        Names of removed stages and rooms.
    recordings : tuple of str
        Hashes of the recordings that no take needs any more.
    n_bytes : int
        Their length in all.
    copies : tuple of Path
        Copies of the database that roomir made before it changed the tables: they hold the same rows.
    """

    takes: tuple[tuple[int, str], ...]
    stages: tuple[str, ...]
    rooms: tuple[str, ...]
    recordings: tuple[str, ...]
    n_bytes: int
    copies: tuple[Path, ...]

    @property
    def is_empty(self) -> bool:
        """Whether there is nothing to erase."""
        return not (self.takes or self.stages or self.rooms or self.recordings)


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """A figure that is another one now.

    Attributes
    ----------
    band_hz : float
        Nominal midband frequency. [Hz]
    quantity : str
        Name of the figure, with its unit.
    before, after : float, int, str or None
        Its values; None where it was, or is, withheld.
    """

    band_hz: float
    quantity: str
    before: float | int | str | None
    after: float | int | str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reread:
    """A take that was read again.

    Attributes
    ----------
    take : Take
        The take as it stands now.
    version_before : str or None
        Which version had read it; None where no reading was kept.
    moved : tuple of Moved
        What changed.
    failure : Failure or None
        Why there is no reading now.
    """

    take: Take
    version_before: str | None
    moved: tuple[Moved, ...]
    failure: Failure | None
