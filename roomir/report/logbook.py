"""What is kept, worded for a screen: rooms with their stages, stages with their takes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from roomir.logbook.outcomes import Health, Purge, Reread
from roomir.logbook.values import LogResult, MidTime, Room, RoomSummary, StageSummary, Take
from roomir.reading.codec import encode_failure, encode_remark
from roomir.report.answer import SIGNS, answer
from roomir.report.document import Document
from roomir.report.rounding import MISSING, decimals_of, rounded, rounded_outwards
from roomir.report.text import wrapped
from roomir.report.wording import band_name, counted, printable, said_and_done, sentence

_LONGEST_CELL = 28


def list_text(rooms: Sequence[RoomSummary]) -> str:
    """Lay out rooms with their stages; names are made harmless."""
    if not rooms:
        return "Nothing is kept yet. roomir log TAKE --room ROOM --stage STAGE begins.\n"
    blocks = [[_room_line(one.room), *_stage_table(one.stages)] for one in rooms]
    return "\n\n".join("\n".join(block) for block in blocks) + "\n"


def show_text(room: RoomSummary, takes: Sequence[Take]) -> str:
    """Lay out one room with its stages and every take in them; names are made harmless."""
    lines = [_room_line(room.room), *_note(room.room.note), *_stage_table(room.stages)]
    for summary in room.stages:
        lines += ["", *_stage_lines(summary)]
        lines += _take_table([take for take in takes if take.stage == summary.stage.name])
    return "\n".join(lines) + "\n"


def logged_line(outcome: str, *, name: str, take: Take | None) -> str:
    """Say in one line what became of a file that was logged."""
    if take is None:
        return printable(f"{name}: {outcome}")
    mid = "" if take.mid is None else f", {_mid_words(take.mid)}"
    return printable(f"{name}: {outcome}, take {take.id}{mid}")


def together_text(result: LogResult) -> str:
    """Say how long the room rings in the stage as a whole; empty where nothing was added."""
    if result.together is None:
        return ""
    says, _ = answer(result.together)
    return "\n".join(wrapped(f'"{result.stage}" of "{result.room}", all takes together: {says}')) + "\n"


def _room_line(room: Room) -> str:
    size = ""
    if room.dimensions_m is not None:
        size = f", {' x '.join(f'{side:g}' for side in room.dimensions_m)} m"
    if room.volume_m3 is not None:
        size += f", {room.volume_m3:.1f} m3"
    return printable(f"{room.name}{size}")


def _note(note: str) -> list[str]:
    return wrapped(note, first="  ", rest="  ") if note else []


def _stage_lines(summary: StageSummary) -> Iterator[str]:
    stage = summary.stage
    yield printable(f"{stage.name}, {_when(summary)}")
    if stage.done:
        yield from wrapped(f"Done: {stage.done}", first="  ", rest="  ")
    yield from _note(stage.note)


def _stage_table(stages: Sequence[StageSummary]) -> list[str]:
    if not stages:
        return ["  no stages"]
    rows = [
        (
            one.stage.name,
            _when(one),
            f"{one.n_takes}{f' ({one.n_failed} unread)' if one.n_failed else ''}",
            MISSING if one.spots is None else str(one.spots),
            *_mid_cells(one.mid),
        )
        for one in stages
    ]
    return columns(("Stage", "When", "Takes", "Spots", "Rings for s", "Trust"), rows)


def _take_table(takes: Sequence[Take]) -> list[str]:
    if not takes:
        return ["  no takes"]
    rows = [
        (
            str(take.id),
            take.name,
            take.about.spot or MISSING,
            _recorded(take),
            *_mid_cells(take.mid if take.failure is None else None),
        )
        for take in takes
    ]
    lines = columns(("Take", "File", "Spot", "Recorded", "Rings for s", "Trust"), rows)
    for take in takes:
        about = take.about
        known = [
            f"source: {about.source_position}" if about.source_position else "",
            f"microphone: {about.microphone_position}" if about.microphone_position else "",
            f"made with: {about.made_with}" if about.made_with else "",
            f"{about.temperature_c:g} degC" if about.temperature_c is not None else "",
            f"{about.humidity_percent:g} % humidity" if about.humidity_percent is not None else "",
            about.note,
        ]
        if any(known):
            said = "; ".join(one for one in known if one)
            lines += wrapped(f"{take.id}: {said}", first="  ", rest="      ")
        if take.failure is not None:
            lines += wrapped(
                f"{take.id}: no reading. {sentence(take.failure.says)}", first="  ", rest="      "
            )
    return lines


def _when(summary: StageSummary) -> str:
    if summary.stage.date is not None:
        return summary.stage.date.isoformat()
    if summary.first_recorded_at is None:
        return MISSING
    return f"{summary.first_recorded_at.astimezone():%Y-%m-%d}"


def _recorded(take: Take) -> str:
    if take.recorded_at is None:
        return MISSING
    mark = " ?" if take.recorded_at_from != "metadata" else ""
    return f"{take.recorded_at.astimezone():%Y-%m-%d %H:%M}{mark}"


def _mid_cells(mid: MidTime | None) -> tuple[str, str]:
    if mid is None or mid.decay_time_s is None:
        return MISSING, MISSING
    return _mid_words(mid).removesuffix(" s"), f"{SIGNS[mid.verdict]} {mid.verdict}"


def _mid_words(mid: MidTime) -> str:
    if mid.decay_time_s is None:
        return "no time at mid frequencies"
    decimals = decimals_of(mid.decay_time_s, interval=mid.ci95_s)
    value = rounded(mid.decay_time_s, decimals=decimals)
    if mid.ci95_s is None:
        return f"{value} s"
    low, high = rounded_outwards(mid.ci95_s, decimals=decimals)
    return f"{value} ({low} to {high}) s"


def columns(heads: Sequence[str], rows: Iterable[Sequence[str]], *, indent: str = "  ") -> list[str]:
    """Set cells under each other; text from outside is made harmless, and long text is cut short."""
    cells = [[_cell(cell) for cell in row] for row in rows]
    widths = [max(len(head), *(len(row[i]) for row in cells)) for i, head in enumerate(heads)]
    return [
        (indent + "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True))).rstrip()
        for row in (list(heads), *cells)
    ]


def _cell(text: str) -> str:
    safe = printable(text)
    return safe if len(safe) <= _LONGEST_CELL else f"{safe[: _LONGEST_CELL - 3]}..."


# ------------------------------------------------------------------ looking after


def purge_lines(going: Purge) -> list[str]:
    """Say what purging erases; names are not yet harmless."""
    if going.is_empty:
        return ["Nothing is removed, so there is nothing to erase."]
    lines = ["This erases for good:"]
    lines += [f'  the room "{name}"' for name in going.rooms]
    lines += [f'  the stage "{name}"' for name in going.stages]
    lines += [f"  take {number}, {name}" for number, name in going.takes]
    lines.append(f"  {counted(len(going.recordings), 'recording')}, {going.n_bytes / 1e6:.1f} MB")
    lines += [f"  a copy of the database that still holds it: {path.name}" for path in going.copies]
    lines.append(
        "Not touched: backups and exports you made, and what a disk or its snapshots keep by themselves."
    )
    return lines


def purge_document(going: Purge) -> Document:
    """Make the document of what purging erases."""
    return {
        "takes": [{"number": number, "name": name} for number, name in going.takes],
        "stages": list(going.stages),
        "rooms": list(going.rooms),
        "recordings": list(going.recordings),
        "n_bytes": going.n_bytes,
        "copies": [path.name for path in going.copies],
    }


def health_lines(health: Health) -> list[str]:
    """Say what a check has looked at, and what lies about."""
    seen = f"{health.n_takes} takes, {health.n_recordings} recordings, {health.n_readings} readings"
    verdict = f"{len(health.problems)} of them in trouble" if health.problems else "all whole"
    return [f"{seen}: {verdict}.", *(f"Note: {said_and_done(note)}" for note in health.notes)]


def health_document(health: Health) -> Document:
    """Make the document of a check."""
    return {
        "whole": not health.problems,
        "n_takes": health.n_takes,
        "n_recordings": health.n_recordings,
        "n_readings": health.n_readings,
        "problems": [encode_remark(one) for one in health.problems],
        "notes": [encode_remark(one) for one in health.notes],
    }


def reread_lines(again: Sequence[Reread]) -> list[str]:
    """Say which numbers moved."""
    moved = [one for one in again if one.moved]
    if not moved:
        return [f"Read again: {counted(len(again), 'take')}. No number moved."]
    lines = [f"Read again: {counted(len(again), 'take')}. Numbers moved in {len(moved)} of them:"]
    for one in moved:
        lines.append(
            f"  take {one.take.id}, {one.take.name} ({one.version_before}, now {one.take.roomir_version})"
        )
        lines += [
            f"    {band_name(what.band_hz)} {what.quantity}: {_figure(what.before)} -> {_figure(what.after)}"
            for what in one.moved
        ]
    return lines


def reread_document(again: Sequence[Reread]) -> Document:
    """Make the document of what moved."""
    return {
        "takes": [
            {
                "number": one.take.id,
                "name": one.take.name,
                "version_before": one.version_before,
                "version_now": one.take.roomir_version,
                "moved": [
                    {
                        "centre_hz": what.band_hz,
                        "quantity": what.quantity,
                        "before": what.before,
                        "after": what.after,
                    }
                    for what in one.moved
                ],
                "failure": None if one.failure is None else encode_failure(one.failure),
            }
            for one in again
        ]
    }


def _figure(value: float | int | str | None) -> str:
    if value is None:
        return MISSING
    return value if isinstance(value, str) else f"{value:.4g}"
