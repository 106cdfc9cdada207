"""The story of a room in words, as a table, and as the JSON contract ``roomir/history/1``."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from roomir.compare.aim import Aim
from roomir.report.aims import aim_document, aim_says
from roomir.report.answer import answer
from roomir.report.comparison_document import band_document
from roomir.report.document import Document, number, remark_document, room_band_document
from roomir.report.headline import headline_says
from roomir.report.quantities import Quantity, QuantityTable, band_decimals
from roomir.report.rounding import MISSING, rounded
from roomir.report.text import WIDTH, bold, quantity_table, wrapped
from roomir.report.unit_system import METRIC, UnitSystem
from roomir.report.wording import after_comma, band_name, counted, printable

if TYPE_CHECKING:  # it needs numpy, which `roomir --help` does not
    from roomir.compare.change import Comparison
    from roomir.compare.history import History, StageReading

SCHEMA = "roomir/history/1"
"""Name and version of the contract."""


def room_title(history: History, *, units: UnitSystem = METRIC) -> str:
    """Name the room with its size."""
    if history.dimensions_m is not None:
        size = f", {units.lengths_text(history.dimensions_m)}"
    else:
        size = "" if history.volume_m3 is None else f", {units.volume_text(history.volume_m3)}"
    return f"{printable(history.room)}{size}"


def stage_line(stage: StageReading) -> str:
    """Say when a stage was and what was done to come to it; empty where nobody said."""
    when = "" if stage.date is None else f"{stage.date:%Y-%m-%d}"
    return ", ".join(printable(part) for part in (when, stage.done, stage.note) if part)


def stages_table(stages: Sequence[StageReading]) -> QuantityTable:
    """Decay times of every stage, with the bands as columns."""
    bands = sorted(
        {one.figures.band for stage in stages for one in stage.reading.bands}, key=lambda band: band.exact_hz
    )
    rows = []
    for place, stage in enumerate(stages, start=1):
        figures = {one.figures.band: one.figures for one in stage.reading.bands}
        cells = []
        for band in bands:
            known = figures.get(band)
            usable = known is not None and known.verdict != "unusable"
            cells.append(
                rounded(known.decay_time_s, decimals=band_decimals(known)) if known and usable else MISSING
            )
        rows.append(Quantity(name=f"{place} {printable(stage.name)[:24]}", cells=tuple(cells)))
    return QuantityTable(bands=tuple(band_name(band.nominal_hz) for band in bands), quantities=tuple(rows))


def render_history(
    history: History,
    *,
    aims: Sequence[Aim] = (),
    units: UnitSystem = METRIC,
    width: int = WIDTH,
    colour: bool = False,
) -> str:
    """Lay out the story of a room as text.

    Parameters
    ----------
    history : History
        With stages, or with none.
    aims : sequence of Aim
        Every stage against a target, or none.
    units : UnitSystem
        For the size of the room.
    width : int, default 80
        Columns to stay within.
    colour : bool, default False
        Print the names of the stages bold (ANSI).

    Returns
    -------
    str
        Lines ending in a line break. Names are made harmless.
    """
    return "\n".join(_lines(history, aims=aims, units=units, width=width, colour=colour)) + "\n"


def _lines(
    history: History, *, aims: Sequence[Aim], units: UnitSystem, width: int, colour: bool
) -> Iterator[str]:
    yield from wrapped(
        f"{room_title(history, units=units)}: {counted(len(history.stages), 'stage')}", width=width
    )
    for place, stage in enumerate(history.stages):
        yield ""
        name = wrapped(f"{place + 1} {stage.name}", width=width)
        yield from (map(bold, name) if colour else name)
        said = [stage_line(stage), answer(stage.reading)[0], *_against(history, place)]
        if aims:
            said.append(aim_says(aims[place])[0])
        for one in filter(None, said):
            yield from wrapped(one, width=width, first="  ", rest="    ")
    if any(stage.reading.bands for stage in history.stages):
        yield ""
        yield "Decay time s (unusable bands left out)"
        yield from quantity_table(stages_table(history.stages), width=width, indent="")


def _against(history: History, place: int) -> list[str]:
    previous, first = history.against_previous[place], history.against_first[place]
    out = []
    if previous is not None:
        out.append(f"Since {history.stages[place - 1].name}, {after_comma(headline_says(previous))}")
    if first is not None:
        out.append(f"Since {history.stages[0].name}, {after_comma(headline_says(first))}")
    return out


def history_document(history: History, *, aims: Sequence[Aim] = ()) -> Document:
    """Make the document of a room's story.

    Parameters
    ----------
    history : History
        With stages, or with none.
    aims : sequence of Aim
        Every stage against a target, or none.

    Returns
    -------
    dict
        Plain dicts, lists, strings, numbers, booleans and ``None``.
    """
    return {
        "schema": SCHEMA,
        "room": history.room,
        "volume_m3": number(history.volume_m3),
        "dimensions_m": None if history.dimensions_m is None else list(map(number, history.dimensions_m)),
        "note": history.note,
        "stages": [
            {
                "name": stage.name,
                "date": None if stage.date is None else stage.date.isoformat(),
                "done": stage.done,
                "note": stage.note,
                "takes": [{"sha256": take.sha256, "name": take.name} for take in stage.takes],
                "bands": [room_band_document(one) for one in stage.reading.bands],
                "mid_s": number(stage.reading.mid.decay_time_s),
                "temperature_c": number(stage.climate.temperature_c),
                "humidity_percent": number(stage.climate.humidity_percent),
                "against_previous": _comparison(history.against_previous[place]),
                "against_first": _comparison(history.against_first[place]),
                "target": aim_document(aims[place]) if aims else None,
            }
            for place, stage in enumerate(history.stages)
        ],
    }


def _comparison(comparison: Comparison | None) -> Document | None:
    if comparison is None:
        return None
    return {
        "headline": {"verdict": comparison.headline.verdict, "says": headline_says(comparison)},
        "bands": [band_document(one) for one in comparison.bands],
        "guards": [remark_document(remark) for remark in comparison.guards],
    }
