"""A batch from its folder to its output, over as many interruptions as it takes."""

from __future__ import annotations

import os
import time
import warnings
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path

from roomir import __version__
from roomir.audio.files import display_name
from roomir.audio.layout import UNKNOWN, kind_of
from roomir.batching.find import Found, Item, find_recordings
from roomir.batching.journal import Journal
from roomir.batching.output import output_format, write_output
from roomir.batching.pool import each_record, each_record_on_cluster, usual_jobs
from roomir.batching.work import Record, Settings, read_record
from roomir.errors import ParameterError, RoomirError

BatchProgress = Callable[[int, int, float | None], None]
"""Told how many recordings are done, of how many, and the time left where it can be told. [s]"""

_ENOUGH_TO_TELL = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchSummary:
    """How a batch went.

    Attributes
    ----------
    output : str
        What was written.
    n_recordings : int
        Recordings in it.
    n_read : int
        Those with a reading.
    n_resumed : int
        Those that an interrupted run had read before.
    left_aside : mapping from str to int
        Files that are no recordings, by reason.
    """

    output: str
    n_recordings: int
    n_read: int
    n_resumed: int
    left_aside: Mapping[str, int]

    @property
    def n_failed(self) -> int:
        """Recordings without a reading; each has its reason in the output."""
        return self.n_recordings - self.n_read


def run_batch(
    folder: Path,
    output: Path,
    *,
    jobs: int | None = None,
    bands: str = "octave",
    channel: int | None = None,
    scheduler: str | None = None,
    progress: BatchProgress | None = None,
) -> BatchSummary:
    """Read every recording below a folder, each by itself, and write what comes out.

    Parameters
    ----------
    folder : Path
        Where the recordings lie.
    output : Path
        Its suffix tells the format.
    jobs : int, optional
        Processes to use; as many as cores where it is left out.
    bands, channel
        As for :func:`roomir.api.read`.
    scheduler : str, optional
        Address of a Dask scheduler whose workers do it instead.
    progress : callable, optional
        Told after each recording.

    Returns
    -------
    BatchSummary
        Counts; the readings are in the output.

    Raises
    ------
    ParameterError, RoomirError
        Before anything is read: nothing to read, no place to write, another
        run at work on the same output.
    """
    output_format(output)
    if output.is_dir():
        raise RoomirError(
            f"{display_name(output)} cannot be written: it is a folder",
            code="cannot-write",
            remedy="name a file in it",
        )
    _refuse_to_overwrite_sound(output)
    if jobs is not None and jobs < 1:
        raise ParameterError(
            f"{jobs} processes cannot read anything", code="no-jobs", remedy="give 1 or more, or leave it out"
        )
    found = find_recordings(folder)
    if not found.items:
        n_aside = sum(found.left_aside.values())
        raise RoomirError(
            f"{display_name(folder)}: there is no recording in this folder or below it"
            + (f" ({n_aside} other files)" if n_aside else ""),
            code="no-takes",
            remedy="name the folder with the recordings",
        )
    settings = Settings(folder=os.fspath(folder.resolve()), bands=bands, channel=channel)
    shared = asdict(settings) | {"roomir_version": __version__}
    with Journal(output, settings=shared) as journal:
        missing = tuple(item for item in found.items if item not in journal)
        clock = _Clock(found, missing, tell=progress)
        work = partial(read_record, settings=settings)
        done = (
            each_record(missing, work=work, jobs=jobs or usual_jobs())
            if scheduler is None
            else each_record_on_cluster(missing, work=work, scheduler=scheduler, folder=settings.folder)
        )
        with warnings.catch_warnings(), closing(done):
            # What joblib warns of (a process that ended, work given up on an interrupt) is dealt with.
            warnings.filterwarnings("ignore", module="joblib")
            for item, record in done:
                journal.add(item, record)
                clock.done(item)
        n_read = 0

        def records() -> Iterator[Record]:
            nonlocal n_read
            for item in found.items:
                record = journal.record(item)
                n_read += record["failure"] is None
                yield record

        write_output(
            output,
            records(),
            header={"roomir_version": __version__, "band_set": bands, "left_aside": found.left_aside},
        )
        journal.remove()
    return BatchSummary(
        output=display_name(output),
        n_recordings=len(found.items),
        n_read=n_read,
        n_resumed=len(found.items) - len(missing),
        left_aside=found.left_aside,
    )


class _Clock:
    """Tells how far a batch is and how long it still takes, by the bytes that are left."""

    def __init__(self, found: Found, missing: tuple[Item, ...], *, tell: BatchProgress | None) -> None:
        self._n_all = len(found.items)
        self._n_done = self._n_all - len(missing)
        self._n_here = 0
        self._bytes_left = sum(item.n_bytes + 1 for item in missing)
        self._bytes_here = 0
        self._tell = tell
        self._begun_s = time.monotonic()
        if tell is not None:
            tell(self._n_done, self._n_all, None)

    def done(self, item: Item) -> None:
        self._n_done += 1
        self._n_here += 1
        self._bytes_left -= item.n_bytes + 1
        self._bytes_here += item.n_bytes + 1
        if self._tell is not None:
            left_s = None
            if self._n_here >= _ENOUGH_TO_TELL:
                left_s = (time.monotonic() - self._begun_s) * self._bytes_left / self._bytes_here
            self._tell(self._n_done, self._n_all, left_s)


def _refuse_to_overwrite_sound(output: Path) -> None:
    try:
        with output.open("rb") as file:
            is_sound = kind_of(file) is not UNKNOWN
    except OSError:
        return  # nothing there; whether it can be written shows before anything is read
    if is_sound:
        raise ParameterError(
            f"{display_name(output)} holds sound; it will not be overwritten",
            code="output-is-sound",
            remedy="name another output",
        )
