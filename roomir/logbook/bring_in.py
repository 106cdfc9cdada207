"""Importing: an export becomes part of a logbook, each take as safely as if it were logged."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path

from roomir.bands.band import BAND_SETS
from roomir.errors import LogbookError, ParameterError, RoomirError
from roomir.logbook import queries
from roomir.logbook.about import checked_about
from roomir.logbook.bundle import Bundle, open_bundle, read_json, unpacked
from roomir.logbook.export import MAIN, SCHEMA, readings_name
from roomir.logbook.keep import NewTake, add_reading, insert_take
from roomir.logbook.names import clean_description, clean_name, clean_text
from roomir.logbook.store import Store
from roomir.logbook.together import keep_together
from roomir.logbook.trouble import cannot_write
from roomir.logbook.values import About, Room, Stage
from roomir.reading.codec import decode
from roomir.reading.parts import Part, PartError
from roomir.reading.reading import Failure, Reading

_HASH = re.compile(r"[0-9a-f]{64}")
_RECORDING = re.compile(r"recordings/[0-9a-f]{64}(\.[a-z0-9]{1,8})?")
_SOURCES = ("metadata", "file date")


@dataclass(frozen=True, slots=True, kw_only=True)
class Imported:
    """What became of one take of an export.

    Attributes
    ----------
    name, room, stage : str
        The take, and where it belongs.
    outcome : str
        ``"kept"``, ``"already kept"`` or ``"kept elsewhere"``.
    """

    name: str
    room: str
    stage: str
    outcome: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Take:
    """A take of an export, checked."""

    name: str
    sha256: str
    original_sha256: str
    n_bytes: int
    places_blanked: int
    recording: str
    about: About
    recorded: tuple[datetime, str] | None
    logged_at: datetime
    channel: int | None
    band_set: str
    failure: Failure | None


def bring_in(
    store: Store, source: Path, *, tell: Callable[[int, int, str], None] | None = None
) -> tuple[Imported, ...]:
    """Take in every take of an export; rooms and stages of the same name are the same.

    Parameters
    ----------
    store : Store
        The logbook.
    source : Path
        A folder or a zip file.
    tell : callable, optional
        Told which take it is, of how many, and its name.

    Raises
    ------
    LogbookError
        ``not-an-export``, ``import-incomplete``, ``import-damaged`` or ``import-unsafe``; what came
        before the trouble is kept, and importing again goes on from there.
    """
    out: list[Imported] = []
    with open_bundle(source) as bundle:
        try:
            rooms = _checked(read_json(bundle, MAIN))
            n_takes = sum(len(takes) for _, stages in rooms for _, takes, _ in stages)
            for room, stages in rooms:
                _keep_stage(store, room, None, together=None)
                for stage, takes, together in stages:
                    for take in takes:
                        if tell is not None:
                            tell(len(out) + 1, n_takes, take.name)
                        outcome, _ = _keep(store, bundle, room, stage, take)
                        out.append(
                            Imported(name=take.name, room=room.name, stage=stage.name, outcome=outcome)
                        )
                    _keep_stage(store, room, stage, together=together)
        except PartError as error:
            raise LogbookError(
                f"this is no export that this version knows: {error}",
                code="not-an-export",
                remedy="name the folder or zip file that roomir logbook export wrote",
            ) from error
        except ParameterError as error:
            raise LogbookError(
                f"the export holds what no logbook can: {error.says}",
                code="not-an-export",
                remedy="export it again; takes that were confirmed are kept",
            ) from error
    return tuple(out)


_Together = tuple[datetime, Reading, tuple[str, ...]] | None
_Stages = list[tuple[Stage, tuple[_Take, ...], _Together]]


def _checked(document: object) -> list[tuple[Room, _Stages]]:
    """Check the whole main document before anything is kept."""
    main = Part(document, where=MAIN)
    if main.text("schema") != SCHEMA:
        raise PartError(f"{MAIN}.schema", what=f"it is not {SCHEMA}")
    return list(main.each("rooms", _room))


def _room(part: Part) -> tuple[Room, _Stages]:
    sides = None if part.value("dimensions_m") is None else part.numbers("dimensions_m", n=3)
    room = Room(
        id=0,
        name=clean_name(part.text("name"), kind="room"),
        volume_m3=part.number_or_none("volume_m3"),
        dimensions_m=None if sides is None else (sides[0], sides[1], sides[2]),
        note=clean_text(part.text("note"), what="note"),
        description=clean_description(part.text("description") if part.has("description") else ""),
    )
    if any(size <= 0.0 for size in (room.volume_m3 or 1.0, *(sides or ()))):
        raise PartError(part.where, what="no room has that size")
    return room, list(part.each("stages", lambda stage: _stage(stage, room=room)))


def _stage(part: Part, *, room: Room) -> tuple[Stage, tuple[_Take, ...], _Together]:
    day = part.text_or_none("date")
    try:
        when = None if day is None else date.fromisoformat(day)
    except ValueError as error:
        raise PartError(f"{part.where}.date", what="it is no day") from error
    stage = Stage(
        id=0,
        room=room.name,
        name=clean_name(part.text("name"), kind="stage"),
        place=0,
        date=when,
        done=clean_text(part.text("done"), what="story of the stage"),
        note=clean_text(part.text("note"), what="note"),
    )
    takes = part.each("takes", _take)
    together = part.part_or_none("together")
    if together is None:
        return stage, takes, None
    hashes = tuple(take.sha256 for take in takes)
    return stage, takes, (_stamp(together, "read_at"), _reading(together), hashes)


def _take(part: Part) -> _Take:
    failure = part.part_or_none("failure")
    take = _Take(
        name=clean_text(part.text("name"), what="name of a file"),
        sha256=part.text("sha256"),
        original_sha256=part.text("original_sha256"),
        n_bytes=part.count("n_bytes"),
        places_blanked=part.count("places_blanked"),
        recording=part.text("recording"),
        about=checked_about(
            About(
                spot=part.text("spot"),
                source_position=part.text("source_position"),
                microphone_position=part.text("microphone_position"),
                made_with=part.text("made_with"),
                temperature_c=part.number_or_none("temperature_c"),
                humidity_percent=part.number_or_none("humidity_percent"),
                note=part.text("note"),
            )
        ),
        recorded=_recorded(part),
        logged_at=_stamp(part, "logged_at"),
        channel=None if part.value("channel") is None else part.count("channel"),
        band_set=part.choice("band_set", tuple(BAND_SETS)),
        failure=None
        if failure is None
        else Failure(**{name: failure.text(name) for name in ("path", "code", "says", "remedy")}),
    )
    hashes_are_some = all(_HASH.fullmatch(one) for one in (take.sha256, take.original_sha256))
    if not hashes_are_some or not _RECORDING.fullmatch(take.recording) or take.sha256 not in take.recording:
        raise PartError(part.where, what="its hash or the name of its recording is none")
    if take.channel == 0:
        raise PartError(f"{part.where}.channel", what="channels are counted from 1")
    return take


def _recorded(part: Part) -> tuple[datetime, str] | None:
    instant, source = part.instant("recorded_at"), part.choice_or_none("recorded_at_from", _SOURCES)
    return None if instant is None or source is None else (instant, source)


def _stamp(part: Part, key: str) -> datetime:
    instant = part.instant(key)
    if instant is None:
        raise PartError(f"{part.where}.{key}", what="it is null")
    return instant


def _reading(part: Part) -> Reading:
    try:
        return decode(part.value("reading"))
    except RoomirError as error:
        raise PartError(f"{part.where}.reading", what=error.says) from error


# ------------------------------------------------------------------ keeping


def _keep(store: Store, bundle: Bundle, room: Room, stage: Stage, take: _Take) -> tuple[str, int]:
    """Keep one take: all of it or nothing; return what became of it, and its number."""

    def kept_before(sha256: str) -> tuple[str, int] | None:
        before = queries.take_of_sound(store.database, sha256)
        if before is None:
            return None
        here = (before.room, before.stage) == (room.name, stage.name)
        return ("already kept" if here else "kept elsewhere"), before.id

    if (before := kept_before(take.sha256)) is not None:
        return before
    name = readings_name(take.sha256)
    document = Part(read_json(bundle, name), where=name)
    readings = document.each("readings", lambda part: (_stamp(part, "read_at"), _reading(part)))
    with unpacked(bundle, take.recording, sha256=take.sha256, n_bytes=take.n_bytes) as path:
        try:
            with store.database.writing():
                store.recordings.sweep()
                kept = store.recordings.take_in(path, name=take.recording)
                if (before := kept_before(kept.sha256)) is not None:
                    return before
                if kept.sha256 == take.sha256:  # else a place that somebody left in it was blanked just now
                    kept = replace(
                        kept, original_sha256=take.original_sha256, places_blanked=take.places_blanked
                    )
                new = NewTake(
                    stage_id=_find_or_make(store, room, stage),
                    name=take.name,
                    about=take.about,
                    recorded=take.recorded,
                    logged_at=take.logged_at,
                    channel=take.channel,
                    band_set=take.band_set,
                    failure=take.failure,
                )
                take_id = insert_take(store, new, kept=kept)
                for read_at, reading in readings:
                    add_reading(store, take_id=take_id, reading=reading, read_at=read_at)
        except OSError as error:
            raise cannot_write(store.recordings.folder, error) from error
    return "kept", take_id


def _keep_stage(store: Store, room: Room, stage: Stage | None, *, together: _Together) -> None:
    """Make room and stage where no take has done it; keep the reading of all takes if they are the same."""
    with store.database.writing():
        if stage is None:
            _find_or_make_room(store, room)
            return
        stage_id = _find_or_make(store, room, stage)
        if together is None:
            return
        read_at, reading, hashes = together
        takes = queries.takes(store.database, of_stage=queries.stage_by_id(store.database, stage_id))
        if {take.sha256 for take in takes} == set(hashes):
            key = queries.together_key([take.id for take in takes])
            keep_together(store, stage_id, reading, key=key, read_at=read_at)


def _find_or_make_room(store: Store, room: Room) -> int:
    for one in queries.rooms(store.database):
        if one.name == room.name:
            return one.id
    room_id = store.database.change(
        "INSERT INTO room (name, volume_m3, length_m, width_m, height_m, note) VALUES (?,?,?,?,?,?)",
        *(room.name, room.volume_m3, *(room.dimensions_m or (None, None, None)), room.note),
    )
    if room.description:
        store.database.change(
            "INSERT INTO description (room_id, text) VALUES (?, ?)", room_id, room.description
        )
    return room_id


def _find_or_make(store: Store, room: Room, stage: Stage) -> int:
    database, room_id = store.database, _find_or_make_room(store, room)
    stages = queries.stages(database, queries.room(database, room.name))
    for one in stages:
        if one.name == stage.name:
            return one.id
    return database.change(
        "INSERT INTO stage (room_id, name, place, date, done, note) VALUES (?,?,?,?,?,?)",
        *(room_id, stage.name, max((one.place for one in stages), default=0) + 1),
        *(None if stage.date is None else stage.date.isoformat(), stage.done, stage.note),
    )
