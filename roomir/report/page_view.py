"""What stands on the page of a room, as plain data: worded and rounded once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from roomir.compare.aim import Aim
from roomir.report.aims import AIM_SIGNS, aim_says, limits_text
from roomir.report.answer import SIGNS, but, interval_note
from roomir.report.answer import answer as answer_of
from roomir.report.changes import ComparisonView, comparison_view, signed
from roomir.report.heed import heed
from roomir.report.history import room_title, stage_line
from roomir.report.measured import Fact, deviation, facts
from roomir.report.quantities import band_decimals
from roomir.report.rounding import MISSING, decimals_of, rounded, rounded_outwards
from roomir.report.unit_system import METRIC, UnitSystem
from roomir.report.view import CAUTION, LIMITS, view
from roomir.report.wording import after_comma, band_name, printable

if TYPE_CHECKING:  # it needs numpy, which `roomir --help` does not
    from roomir.compare.history import History, StageReading
    from roomir.reading.reading import RoomBand

DUST = (
    "Mineral wool irritates skin, eyes and airways while it is cut: gloves, goggles, a dust mask and air,"
    " and a cloth over what stays open. Keep foam away from heat, and hang loads from what carries them."
)
"""Said once to whoever goes on building."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StageView:
    """One stage of the story."""

    name: str
    line: str
    answer: str
    against: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AimRow:
    """One band against the target."""

    band: str
    limits: str
    decay_time: str
    off: str
    sign: str
    verdict: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NowRow:
    """One band of the latest stage; no interval is an empty ``ends``."""

    band: str
    decay_time: str
    ends: str
    t20: str
    t30: str
    edt: str
    range_db: str
    spots: str
    sign: str
    verdict: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PageView:
    """Everything on the page apart from its pictures, in the order in which it is told."""

    title: str
    answer: str
    more: tuple[str, ...]
    stages: tuple[StageView, ...]
    change_title: str
    change: ComparisonView | None
    aim: tuple[str, ...]
    aim_rows: tuple[AimRow, ...]
    now_title: str
    rows: tuple[NowRow, ...]
    but: tuple[str, ...]
    interval_note: str
    next_steps: tuple[str, ...]
    deviation: str
    facts: tuple[Fact, ...]
    concerns: tuple[str, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...]
    made: str


def page_view(
    history: History,
    *,
    aims: Sequence[Aim] = (),
    units: UnitSystem = METRIC,
    now: datetime | None = None,
) -> PageView:
    """Word and round what stands on the page of a room.

    Parameters
    ----------
    history : History
        With stages, or with none.
    aims : sequence of Aim
        Every stage against a target, or none.
    units : UnitSystem
        For sizes and absorption.
    now : datetime, optional
        When the page is written.

    Returns
    -------
    PageView
        Strings only; not yet escaped.
    """
    last = history.stages[-1] if history.stages else None
    whole = history.first_to_last
    change = None if whole is None else comparison_view(whole, units=units)
    shown = None if last is None else view(last.reading)
    aim = aims[-1] if aims else None
    return PageView(
        title=room_title(history, units=units),
        answer="Nothing is logged for this room yet." if last is None else answer_of(last.reading)[0],
        more=_more(history, change=change, aim=aim),
        stages=_stages(history),
        change_title=_change_title(history),
        change=change,
        aim=() if aim is None else tuple(map(printable, aim_says(aim))),
        aim_rows=() if aim is None else tuple(_aim_rows(aim)),
        now_title="" if last is None else f"Now: {printable(last.name)}",
        rows=() if last is None else tuple(map(_now_row, last.reading.bands)),
        but=() if last is None else (*heed(last.reading), *but(last.reading.bands)),
        interval_note="" if last is None else interval_note(last.reading.bands),
        next_steps=() if shown is None else shown.next_steps,
        deviation=deviation(None if last is None else last.reading),
        facts=() if last is None else tuple(facts(history, last, units=units)),
        concerns=tuple(_remarks(history, "concerns")),
        notes=tuple(_remarks(history, "notes")),
        cautions=(LIMITS, CAUTION, DUST),
        made=_made(last, now=now),
    )


def _more(history: History, *, change: ComparisonView | None, aim: Aim | None) -> tuple[str, ...]:
    said = []
    if change is not None:
        said.append(f"Since {printable(history.stages[0].name)}, {after_comma(change.says)}")
    if aim is not None:
        said.append(f"Target: {printable(aim_says(aim)[0])}")
    return tuple(said)


def _stages(history: History) -> tuple[StageView, ...]:
    out = []
    for place, stage in enumerate(history.stages):
        against = history.against_previous[place]
        out.append(
            StageView(
                name=printable(stage.name),
                line=stage_line(stage),
                answer=answer_of(stage.reading)[0],
                against=()
                if against is None
                else (f"Since the stage before, {after_comma(comparison_view(against).says)}",),
            )
        )
    return tuple(out)


def _change_title(history: History) -> str:
    if len(history.stages) < 2:
        return ""
    return f"Before and after: {printable(history.stages[0].name)} to {printable(history.stages[-1].name)}"


# ------------------------------------------------------------------ tables


def _aim_rows(aim: Aim) -> list[AimRow]:
    rows = []
    for one in aim.bands:
        decimals = 2 if one.decay_time_s is None else decimals_of(one.decay_time_s, interval=one.ci95_s)
        rows.append(
            AimRow(
                band=band_name(one.band.nominal_hz),
                limits=limits_text(one.limits),
                decay_time=rounded(one.decay_time_s, decimals=decimals),
                off=signed(one.off_s, decimals=max(decimals, 2)),
                sign=AIM_SIGNS[one.verdict],
                verdict=one.verdict,
            )
        )
    return rows


def _now_row(room_band: RoomBand) -> NowRow:
    figures = room_band.figures
    decimals = band_decimals(figures)
    ends = ""
    if figures.ci95_s is not None:
        ends = " to ".join(rounded_outwards(figures.ci95_s, decimals=decimals))
    return NowRow(
        band=band_name(figures.band.nominal_hz),
        decay_time=rounded(figures.decay_time_s, decimals=decimals),
        ends=ends,
        t20=rounded(figures.t20_s, decimals=decimals),
        t30=rounded(figures.t30_s, decimals=decimals),
        edt=rounded(figures.edt_s, decimals=decimals),
        range_db=rounded(figures.decay_range_db, decimals=0),
        spots=str(room_band.spots),
        sign=SIGNS[figures.verdict],
        verdict=figures.verdict,
    )


def _remarks(history: History, which: str) -> list[str]:
    """Collect what each recording has against it: one line for each fault, with the recordings."""
    found: dict[str, list[str]] = {}
    for stage in history.stages:
        for take in view(stage.reading).takes:
            for said in getattr(take, which):
                found.setdefault(said, []).append(f"{stage.name}: {take.path}")
        if which == "concerns":
            for line in view(stage.reading).failures:
                found.setdefault(line, []).append(stage.name)
    return [f"{printable(said)} ({printable(', '.join(where))})" for said, where in found.items()]


def _made(last: StageReading | None, *, now: datetime | None) -> str:
    version = "" if last is None else f" {last.reading.roomir_version}"
    day = "" if now is None else f" on {now:%Y-%m-%d}"
    return f"Made by roomir{version}{day}. Where {MISSING} stands, the sound does not support a figure."
