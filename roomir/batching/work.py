"""What is done with one recording of a batch, in whatever process: a record of plain values comes back."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from roomir.audio.files import display_name
from roomir.batching.find import Item

Record = dict[str, Any]
"""Plain values for JSON; every record has the same keys."""

Work = Callable[[Item], Record]
"""What is done with one item; whatever goes wrong is in the record."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """How every recording of a batch is read.

    Attributes
    ----------
    folder : str
        Where the recordings lie.
    bands : str
        The band set.
    channel : int or None
        The channel to use, counted from 1.
    """

    folder: str
    bands: str
    channel: int | None


def read_record(item: Item, *, settings: Settings) -> Record:
    """Read one recording; whatever goes wrong is in the record.

    Parameters
    ----------
    item : Item
        Which one.
    settings : Settings
        How.

    Returns
    -------
    Record
        With figures, or with ``failure``; a fault in roomir is a failure of
        this recording, so that it costs no other.
    """
    from roomir.audio.load import open_recording
    from roomir.errors import AudioError, ParameterError
    from roomir.reading.take import take_reading

    path = Path(settings.folder, *item.name.split("/"))
    try:
        recording = open_recording(os.fspath(path), channel=settings.channel)
        reading = take_reading([recording], band_set=settings.bands)
    except (AudioError, ParameterError) as error:
        return failed_record(item, code=error.code, says=_without_name(error.says, path), remedy=error.remedy)
    except MemoryError:
        return failed_record(
            item,
            code="no-memory",
            says="there was not enough memory to read it",
            remedy="read it alone, or with a lower --jobs",
        )
    except Exception as error:
        return failed_record(
            item,
            code="fault-in-roomir",
            says=f"a fault in roomir ({type(error).__name__}: {error})",
            remedy="read it alone with roomir read --debug, and pass on what that says",
        )
    from roomir.report.document import document

    made = document(reading)
    (take,) = made["takes"]
    record = _record(item)
    record |= {key: take[key] for key in _TAKE_KEYS}
    record |= {
        "claps_used": sum(clap["used"] for clap in take["claps"]),
        "events_set_aside": sum(not clap["used"] for clap in take["claps"]),
        "peak_dbfs": max((clap["peak_dbfs"] for clap in take["claps"]), default=None),
        "mid": made["mid"],
        "bass_ratio": made["bass_ratio"],
        "bands": made["bands"],
    }
    if made["failures"]:
        failure = made["failures"][0]
        record["failure"] = {
            "code": failure["code"],
            "says": _without_name(failure["says"], path),
            "remedy": failure["remedy"],
        }
    return record


def failed_record(item: Item, *, code: str, says: str, remedy: str) -> Record:
    """Make the record of a recording that gave nothing."""
    record = _record(item)
    record["failure"] = {"code": code, "says": says, "remedy": remedy}
    return record


def died(item: Item) -> Record:
    """Make the record of a recording whose reader died."""
    return failed_record(
        item,
        code="reader-died",
        says="the process that read it died, twice",
        remedy="it may be damaged, or too large for the memory: copy it again, or cut out the claps",
    )


_TAKE_KEYS = (
    "sha256", "recorded_at", "recorded_at_from", "sample_rate_hz", "duration_s", "channels",
    "concerns", "notes",
)  # fmt: skip


def _record(item: Item) -> Record:
    return {
        "file": display_name(item.name),
        "sha256": None,
        "recorded_at": None,
        "recorded_at_from": None,
        "sample_rate_hz": None,
        "duration_s": None,
        "channels": None,
        "claps_used": 0,
        "events_set_aside": 0,
        "peak_dbfs": None,
        "concerns": [],
        "notes": [],
        "mid": {"decay_time_s": None, "ci95_s": None, "t20_s": None},
        "bass_ratio": None,
        "bands": [],
        "failure": None,
    }


def _without_name(says: str, path: Path) -> str:
    """Leave out the name, which stands beside it already."""
    return says.removeprefix(f"{display_name(path)}: ")
