"""An open logbook, as everybody above sees it."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Sequence
from datetime import date, datetime
from pathlib import Path
from types import TracebackType

from roomir.logbook import backup, bring_in, check, edit, export, queries, remove, reread
from roomir.logbook.bring_in import Imported
from roomir.logbook.database import Schema
from roomir.logbook.export import Tables
from roomir.logbook.log import Tell, log
from roomir.logbook.names import Decide, refuse_near
from roomir.logbook.outcomes import Health, Purge, Reread
from roomir.logbook.reader import Reader, SoundReader
from roomir.logbook.recordings import At
from roomir.logbook.store import Store, nowhere, open_store, utc_now
from roomir.logbook.together import Doing, kept_together, read_together
from roomir.logbook.values import (
    About,
    File,
    Logged,
    LogResult,
    Removal,
    Room,
    RoomNotes,
    RoomSummary,
    Size,
    Stage,
    StageNotes,
    Take,
)
from roomir.reading.reading import Reading


class Logbook:
    """A logbook that is open.

    Parameters
    ----------
    path : path
        Its folder, or its database.
    create : bool
        Whether to begin one where there is none.
    reader : Reader
        Who reads recordings.
    at : callable
        Told at every boundary between two steps of writing (`roomir.logbook.keep.STEPS`).
    now : callable
        The clock.
    schema : Schema, optional
        The version of the tables to work with.

    Raises
    ------
    LogbookError
        ``no-logbook``; or one that cannot be used, with the reason.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder, Logbook(folder, create=True) as book:
    ...     book.rooms()
    ()
    """

    def __init__(
        self,
        path: str | os.PathLike[str],
        *,
        create: bool = False,
        reader: Reader | None = None,
        at: At = nowhere,
        now: Callable[[], datetime] = utc_now,
        schema: Schema | None = None,
    ) -> None:
        self.path = Path(path)
        self._reader = reader or SoundReader()
        self._store: Store = open_store(self.path, create=create, at=at, now=now, schema=schema)

    def __enter__(self) -> Logbook:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of its files."""
        self._store.database.close()

    # ------------------------------------------------------------------ looking

    def rooms(self) -> tuple[Room, ...]:
        """Return every room by its name."""
        return queries.rooms(self._store.database)

    def room(self, name: str) -> Room:
        """Return the room of that name; LogbookError ``no-such-room`` names those there are."""
        return queries.room(self._store.database, name)

    def stages(self, room: Room) -> tuple[Stage, ...]:
        """Return the stages of a room in their order."""
        return queries.stages(self._store.database, room)

    def stage(self, room: Room, name: str) -> Stage:
        """Return a stage of a room; LogbookError ``no-such-stage`` names those there are."""
        return queries.stage(self._store.database, room, name)

    def takes(self, *, of: Stage | Room | None = None) -> tuple[Take, ...]:
        """Return the takes of a stage, of a room or of all, by stage and then as they were recorded."""
        database = self._store.database
        if isinstance(of, Stage):
            return queries.takes(database, of_stage=of)
        return queries.takes(database, of_room=of)

    def take(self, number: int) -> Take:
        """Return the take of that number; LogbookError ``no-such-take``."""
        return queries.take_by_id(self._store.database, number)

    def summaries(self, *, of: Room | None = None) -> tuple[RoomSummary, ...]:
        """Return rooms with their stages and what those come to, without going through any reading."""
        return queries.summaries(self._store.database, of_room=of)

    def recording(self, take: Take) -> Path:
        """Return where the recording of a take lies; leave it as it is."""
        return self._store.recordings.path(take.sha256)

    # ------------------------------------------------------------------ readings

    def reading_of(self, take: Take) -> Reading | None:
        """Return the newest reading of one take; None where the file gave none."""
        return queries.reading_of(self._store.database, take)

    def reading_together(self, stage: Stage, *, tell: Doing | None = None) -> Reading:
        """Return the reading of all takes of a stage together.

        It was kept when the last take was logged, and is taken again from
        the recordings only where takes were moved or removed since. Takes
        that gave no reading are among its failures.
        """
        kept = kept_together(self._store, stage)
        if kept is not None:
            return kept
        return read_together(self._store, stage, reader=self._reader, tell=tell)

    # ------------------------------------------------------------------ logging

    def log(
        self,
        files: Iterable[File | str | os.PathLike[str]],
        *,
        room: str,
        stage: str,
        size: Size | None = None,
        day: date | None = None,
        done: str = "",
        channel: int | None = None,
        band_set: str = "octave",
        decide: Decide = refuse_near,
        tell: Tell | None = None,
        confirm: Callable[[Logged], None] | None = None,
    ) -> LogResult:
        """Read recordings and keep them.

        Parameters
        ----------
        files : iterable of File or path
            Recordings of one room in one state.
        room, stage : str
            Made on first use.
        size : Size, optional
            Of the room.
        day : date, optional
            The day the room was in this state.
        done : str
            What was done to come to this stage.
        channel : int, optional
            The channel to use, counted from 1.
        band_set : str
            ``"octave"`` or ``"third-octave"``.
        decide : callable
            Asked about a name that is close to one that is there.
        tell : callable, optional
            Told how it goes.
        confirm : callable, optional
            Told what became of each file as soon as that is certain.

        Returns
        -------
        LogResult
            What became of each file, and the reading of the whole stage.

        Raises
        ------
        ParameterError
            ``near-miss``, ``other-size``, ``other-stage``, or a name or figure that cannot be.
        LogbookError
            If the logbook cannot be written; what was confirmed before is kept.
        """
        return log(
            self._store,
            [one if isinstance(one, File) else File(path=Path(one), about=About()) for one in files],
            room=room,
            stage=stage,
            size=size or Size(),
            day=day,
            done=done,
            channel=channel,
            band_set=band_set,
            decide=decide,
            reader=self._reader,
            tell=tell,
            confirm=confirm,
        )

    # ------------------------------------------------------------------ looking after

    def find_take(self, wanted: str, *, of: Stage | Room | None = None) -> Take:
        """Return the take meant by a number, a file's name or the beginning of a hash."""
        return queries.find_take(self._store.database, wanted, among=self.takes(of=of))

    def rename(self, what: Room | Stage, *, to: str, decide: Decide = refuse_near) -> Room | Stage:
        """Give a room or stage another name; LogbookError ``name-taken``."""
        if isinstance(what, Room):
            return edit.rename_room(self._store, what, to=to, decide=decide)
        return edit.rename_stage(self._store, what, to=to, decide=decide)

    def move_takes(
        self, takes: Sequence[Take], *, room: str, stage: str, decide: Decide = refuse_near
    ) -> tuple[Take, ...]:
        """Put takes into another stage, which is made on first use."""
        return edit.move_takes(self._store, takes, room=room, stage=stage, decide=decide)

    def move_stage(self, stage: Stage, *, behind: Stage | None) -> tuple[Stage, ...]:
        """Put a stage behind another one of its room, or first; return the new order."""
        return edit.move_stage(self._store, stage, behind=behind)

    def annotate_room(self, room: Room, notes: RoomNotes) -> Room:
        """Change what is known about a room."""
        return edit.annotate_room(self._store, room, notes)

    def annotate_stage(self, stage: Stage, notes: StageNotes) -> Stage:
        """Change what is known about a stage."""
        return edit.annotate_stage(self._store, stage, notes)

    def annotate_take(self, take: Take, about: About) -> Take:
        """Change what is known about a take beside its sound."""
        return edit.annotate_take(self._store, take, about)

    def remove(self, what: Sequence[Take] | Stage | Room) -> Removal:
        """Take something out of every list until it is brought back or purged."""
        return remove.remove(self._store, what)

    def removals(self) -> tuple[Removal, ...]:
        """Return what was removed and can be brought back, the newest first."""
        return remove.removals(self._store)

    def undo(self) -> Removal:
        """Bring back what was removed last; LogbookError ``nothing-to-undo`` or ``cannot-undo``."""
        return remove.undo(self._store)

    def would_purge(self) -> Purge:
        """Say what `purge` erases."""
        return remove.would_purge(self._store)

    def purge(self) -> Purge:
        """Erase what was removed for good."""
        return remove.purge(self._store)

    def reread(self, takes: Sequence[Take], *, tell: Tell | None = None) -> tuple[Reread, ...]:
        """Read takes again with this version; say which numbers moved."""
        return reread.reread(self._store, takes, reader=self._reader, tell=tell)

    # ------------------------------------------------------------------ keeping it safe

    def check(self, *, tell: Callable[[int, int], None] | None = None) -> Health:
        """Go through everything that is kept."""
        return check.check(self._store, tell=tell)

    def back_up(self, target: Path) -> int:
        """Copy everything to a new folder, which is a logbook itself; return the number of recordings."""
        return backup.back_up(self._store, target)

    def export(self, target: Path, *, tables: Tables) -> int:
        """Write everything that is kept to a new folder or zip file; return the number of takes."""
        return export.export(self._store, target, tables=tables)

    def bring_in(
        self, source: Path, *, tell: Callable[[int, int, str], None] | None = None
    ) -> tuple[Imported, ...]:
        """Take in an export; say what became of each of its takes."""
        return bring_in.bring_in(self._store, source, tell=tell)
