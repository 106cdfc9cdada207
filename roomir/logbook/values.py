"""What is kept, as plain frozen values."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path

from roomir.errors import ParameterError
from roomir.reading.reading import Failure, Interval, Reading


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """A room.

    Attributes
    ----------
    id : int
        Its row.
    name : str
        As it was given; unlike every other room's.
    volume_m3 : float or None
        From the dimensions where those are known. [m3]
    dimensions_m : (float, float, float) or None
        Length, width and height. [m]
    note : str
        Whatever is worth knowing.
    description : str
        The text of its room file; empty where nobody has described it.
    """

    id: int
    name: str
    volume_m3: float | None = None
    dimensions_m: tuple[float, float, float] | None = None
    note: str = ""
    description: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """A room in one state.

    Attributes
    ----------
    id : int
        Its row.
    room : str
        Name of the room.
    name : str
        Unlike every other stage's in that room.
    place : int
        Stages of a room stand in the order of this number.
    date : date or None
        The day the room was in this state, where somebody said so.
    done : str
        What was done to come here from the stage before.
    note : str
        Whatever is worth knowing.
    """

    id: int
    room: str
    name: str
    place: int
    date: date | None = None
    done: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class MidTime:
    """The mid-frequency decay time of a reading, for lists.

    Attributes
    ----------
    decay_time_s : float or None
        Mean of 500 Hz and 1 kHz. [s]
    ci95_s : (float, float) or None
        Its 95 % interval. [s]
    verdict : str
        The worse one of the two octaves.
    """

    decay_time_s: float | None
    ci95_s: Interval | None
    verdict: str


@dataclass(frozen=True, slots=True, kw_only=True)
class About:
    """What is known about a take beside its sound.

    Attributes
    ----------
    spot : str
        Name of the place; takes of different stages with the same name are from the same place.
    source_position, microphone_position : str
        Where the clap and the microphone were, in words or as coordinates.
    made_with : str
        What made the sound: hands, a balloon, boards.
    temperature_c : float or None
        Of the air. [degC]
    humidity_percent : float or None
        Relative, of the air. [%]
    note : str
        Whatever is worth knowing.
    """

    spot: str = ""
    source_position: str = ""
    microphone_position: str = ""
    made_with: str = ""
    temperature_c: float | None = None
    humidity_percent: float | None = None
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Take:
    """One recording in one stage.

    Attributes
    ----------
    id : int
        Its number, never given twice.
    room, stage : str
        Where it belongs.
    sha256 : str
        Hash of the kept recording, and the name of its file.
    original_sha256 : str
        Hash of the file that was logged; another one only where a place written in it was blanked.
    name : str
        What the file was called, without its folders.
    about : About
        What is known beside the sound.
    recorded_at : datetime or None
        When it was recorded (aware).
    recorded_at_from : str or None
        ``"metadata"`` or ``"file date"``.
    logged_at : datetime
        When it was logged (UTC).
    channel : int or None
        The channel that is read, counted from 1; None for all.
    band_set : str
        The bands it is read in.
    failure : Failure or None
        Why there is no reading of it.
    mid : MidTime or None
        Of its newest reading.
    roomir_version : str or None
        Version of the analysis that took its newest reading.
    """

    id: int
    room: str
    stage: str
    sha256: str
    original_sha256: str
    name: str
    about: About
    recorded_at: datetime | None
    recorded_at_from: str | None
    logged_at: datetime
    channel: int | None
    band_set: str
    failure: Failure | None
    mid: MidTime | None
    roomir_version: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class StageSummary:
    """A stage in a list.

    Attributes
    ----------
    stage : Stage
        The stage.
    n_takes, n_failed : int
        Takes in it, and how many of those gave no reading.
    first_recorded_at, last_recorded_at : datetime or None
        When its takes were recorded.
    mid : MidTime or None
        Of the reading of all its takes together; None where that is still to be taken.
    spots : int or None
        Independent spots in that reading.
    """

    stage: Stage
    n_takes: int
    n_failed: int
    first_recorded_at: datetime | None
    last_recorded_at: datetime | None
    mid: MidTime | None
    spots: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomSummary:
    """A room in a list, with its stages in order."""

    room: Room
    stages: tuple[StageSummary, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Logged:
    """What became of one file that was to be logged.

    Attributes
    ----------
    name : str
        The file as it was named.
    outcome : str
        ``"kept"``; ``"kept without a reading"``; ``"already kept"`` in this
        stage; ``"kept elsewhere"``, in another stage, so not again; ``"not
        kept"``, because there are no bytes to keep.
    take : Take or None
        The take as it stands in the logbook, whichever stage it is in.
    reading : Reading or None
        What was read.
    failure : Failure or None
        Why nothing was read or kept.
    """

    name: str
    outcome: str
    take: Take | None = None
    reading: Reading | None = None
    failure: Failure | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """Size of a room: its volume [m3] or its dimensions [m]."""

    volume_m3: float | None = None
    dimensions_m: tuple[float, float, float] | None = None

    def __post_init__(self) -> None:
        if self.volume_m3 is not None and self.dimensions_m is not None:
            raise ParameterError(
                "a room has one size: its volume or its dimensions",
                code="bad-room-size",
                remedy="give one of the two",
            )

    @property
    def cubic_m3(self) -> float | None:
        """Volume, whichever was given. [m3]"""
        if self.dimensions_m is None:
            return self.volume_m3
        a, b, c = self.dimensions_m
        return a * b * c


@dataclass(frozen=True, slots=True, kw_only=True)
class File:
    """A file to be logged, with what is known beside its sound."""

    path: Path
    about: About = field(default_factory=About)


@dataclass(frozen=True, slots=True, kw_only=True)
class LogResult:
    """What became of the files of one call.

    Attributes
    ----------
    room, stage : str
        The names that were used.
    takes : tuple of Logged
        One for each file, in their order.
    together : Reading or None
        The reading of all takes of the stage together; None where none was kept.
    """

    room: str
    stage: str
    takes: tuple[Logged, ...]
    together: Reading | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Removal:
    """Something removed at one go: it can be brought back until it is purged."""

    id: int
    removed_at: datetime
    what: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomNotes:
    """What to change about a room; None leaves it as it is."""

    size: Size | None = None
    note: str | None = None
    description: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StageNotes:
    """What to change about a stage; None leaves it as it is."""

    day: date | None = None
    done: str | None = None
    note: str | None = None


_MID_HZ = (500.0 / math.sqrt(2.0), 1000.0 * math.sqrt(2.0))
_VERDICTS = ("unusable", "indicative", "reliable")


def mid_time(reading: Reading) -> MidTime:
    """Draw out of a reading what a list shows."""
    low_hz, high_hz = _MID_HZ
    members = [one.figures.verdict for one in reading.bands if low_hz < one.figures.band.exact_hz < high_hz]
    return MidTime(
        decay_time_s=reading.mid.decay_time_s,
        ci95_s=reading.mid.ci95_s,
        verdict=min(members, key=_VERDICTS.index) if members else "unusable",
    )
