"""Logging: files in, takes kept with their readings, and what became of each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime
from functools import partial

from roomir.audio.files import cannot_read, display_name, open_regular, sha256_of
from roomir.bands.band import BAND_SETS
from roomir.errors import AudioError, ParameterError
from roomir.logbook import queries
from roomir.logbook.about import checked_about
from roomir.logbook.edit import settle_where
from roomir.logbook.keep import (
    Arrival,
    KeptBeforeError,
    keep_take,
)
from roomir.logbook.names import Decide, clean_text
from roomir.logbook.reader import Heard, Reader
from roomir.logbook.stages import Where, refuse_other_size, refuse_other_stage
from roomir.logbook.store import Store
from roomir.logbook.together import read_together
from roomir.logbook.values import File, Logged, LogResult, Size, Stage, Take
from roomir.reading.reading import Failure, Reading

Tell = Callable[[int, int, str, str, float], None]
"""Told which file it is, of how many, its name, what is being done, and how far that is (0 to 1)."""


def log(
    store: Store,
    files: Sequence[File],
    *,
    room: str,
    stage: str,
    size: Size,
    day: date | None,
    done: str,
    channel: int | None,
    band_set: str,
    decide: Decide,
    reader: Reader,
    tell: Tell | None,
    confirm: Callable[[Logged], None] | None,
) -> LogResult:
    """Read files and keep them; see `roomir.logbook.logbook.Logbook.log`."""
    if not files:
        raise ParameterError("no recording was named", code="no-takes", remedy="name at least one sound file")
    if channel is not None and channel < 1:
        raise ParameterError(
            f"there is no channel {channel}", code="no-such-channel", remedy="channels are counted from 1"
        )
    if band_set not in BAND_SETS:
        raise ParameterError(
            f"there is no set of bands called {band_set!r}",
            code="no-such-bands",
            remedy=f"choose one of {', '.join(BAND_SETS)}",
        )
    done = clean_text(done.strip(), what="story of the stage")
    wanted = Where(room=room, stage=stage, size=size, date=day, done=done)
    where = _where(store, wanted, decide=decide)
    about = [checked_about(file.about) for file in files]
    heard: dict[str, Heard] = {}
    out = []
    for i, file in enumerate(files, start=1):
        news = None if tell is None else partial(tell, i, len(files), display_name(file.path))
        became = _log_one(
            store,
            replace(file, about=about[i - 1]),
            where=where,
            channel=channel,
            band_set=band_set,
            reader=reader,
            heard=heard,
            tell=news,
        )
        out.append(became)
        if confirm is not None:
            confirm(became)
    together = None
    if any(one.outcome.startswith("kept") and one.outcome != "kept elsewhere" for one in out):
        stage_now = _stage(store, where)
        news = None if tell is None else partial(tell, len(files), len(files), where.stage)
        together = read_together(store, stage_now, reader=reader, heard=heard, tell=news)
    return LogResult(room=where.room, stage=where.stage, takes=tuple(out), together=together)


def _where(store: Store, where: Where, *, decide: Decide) -> Where:
    """Settle which stage is meant before anybody has to wait for a reading."""
    where = settle_where(store.database, where, decide=decide)
    rooms = {one.name: one for one in queries.rooms(store.database)}
    if where.room in rooms:
        refuse_other_size(rooms[where.room], where.size)
        stages = {one.name: one for one in queries.stages(store.database, rooms[where.room])}
        if where.stage in stages:
            refuse_other_stage(stages[where.stage], where)
    return where


def _stage(store: Store, where: Where) -> Stage:
    return queries.stage(store.database, queries.room(store.database, where.room), where.stage)


def _log_one(
    store: Store,
    file: File,
    *,
    where: Where,
    channel: int | None,
    band_set: str,
    reader: Reader,
    heard: dict[str, Heard],
    tell: Callable[[str, float], None] | None,
) -> Logged:
    named = display_name(file.path)
    name = display_name(file.path.name)
    try:
        with open_regular(file.path, name=named) as opened:
            before = queries.take_of_sound(store.database, sha256_of(opened))
            modified = datetime.fromtimestamp(file.path.stat().st_mtime, tz=UTC)
    except AudioError as error:
        return Logged(name=named, outcome="not kept", failure=_failure(error, name=named))
    except (OSError, OverflowError, ValueError) as error:
        wrapped = cannot_read(error if isinstance(error, OSError) else OSError(str(error)), name=named)
        return Logged(name=named, outcome="not kept", failure=_failure(wrapped, name=named))
    if before is not None:
        return _kept_before(store, before, named=named, where=where)
    reading, failure, recorded = None, None, (modified, "file date")
    if tell is not None:
        tell("opening", 0.0)
    try:
        one = reader.hear(
            file.path, name=name, channel=channel, tell=None if tell is None else partial(tell, "listening")
        )
        reading = reader.read([one], band_set=band_set)
    except AudioError as error:
        failure = _failure(error, name=name, was=named)
    except ParameterError as error:  # a channel this file does not have: a slip, nothing to keep for years
        return Logged(name=named, outcome="not kept", failure=_failure(error, name=named))
    if reading is not None:
        recorded = _recorded(reading) or recorded
        failure = next(iter(reading.failures), None)
    arrival = Arrival(
        path=file.path,
        name=name,
        about=file.about,
        channel=channel,
        band_set=band_set,
        reading=reading,
        failure=failure,
    )
    try:
        take = keep_take(store, arrival, where=where, recorded=recorded)
    except KeptBeforeError as error:
        return _kept_before(store, error.take, named=named, where=where)
    except AudioError as error:
        return Logged(name=named, outcome="not kept", failure=_failure(error, name=named))
    if reading is not None:
        heard[take.sha256] = one
    outcome = "kept" if failure is None else "kept without a reading"
    return Logged(name=named, outcome=outcome, take=take, reading=reading, failure=failure)


def _kept_before(store: Store, take: Take, *, named: str, where: Where) -> Logged:
    reading = queries.reading_of(store.database, take)
    if (take.room, take.stage) == (where.room, where.stage):
        return Logged(name=named, outcome="already kept", take=take, reading=reading, failure=take.failure)
    elsewhere = Failure(
        path=named,
        code="kept-elsewhere",
        says=f'{named}: this sound is kept already, as take {take.id} in the stage "{take.stage}" of the room'
        f' "{take.room}"',
        remedy=f"if it belongs here instead: roomir logbook move {take.id}"
        f' --to-room "{where.room}" --to-stage "{where.stage}"',
    )
    return Logged(name=named, outcome="kept elsewhere", take=take, reading=reading, failure=elsewhere)


def _failure(error: AudioError | ParameterError, *, name: str, was: str | None = None) -> Failure:
    # The folders of this computer are nobody's business in ten years.
    says = error.says if was is None else error.says.replace(was, name)
    return Failure(path=name, says=says, remedy=error.remedy, code=error.code)


def _recorded(reading: Reading) -> tuple[datetime, str] | None:
    take = reading.takes[0]
    if take.recorded_at is None or take.recorded_at_from is None:
        return None
    return take.recorded_at, take.recorded_at_from
