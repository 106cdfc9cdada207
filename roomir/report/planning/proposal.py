"""A proposal as text and as the document ``roomir/proposal/1``."""

from __future__ import annotations

import math
from collections.abc import Iterator

from roomir.bands.band import OCTAVES
from roomir.plan.cautions import cautions
from roomir.plan.propose import FOAM, LEAST_CHANCE, Outcome, Proposal, Window
from roomir.plan.treatment import Item
from roomir.report.planning.reasons import percent, says, sentences
from roomir.report.planning.tables import (
    Document,
    dumped,
    named,
    number,
    numbers,
    remark_documents,
    remark_lines,
    table_lines,
    time_cell,
)
from roomir.report.rounding import MISSING, rounded
from roomir.report.text import wrapped
from roomir.report.unit_system import METRIC, UnitSystem
from roomir.report.wording import band_name, joined, printable

SCHEMA = "roomir/proposal/1"


def proposal_document(proposal: Proposal) -> Document:
    """Make the document of a proposal."""
    items, step = proposal.then.items, proposal.next_step
    document: Document = {
        "schema": SCHEMA,
        "room": proposal.room.name,
        "target": proposal.window.name,
        "least": proposal.measure,
        "feasible": proposal.feasible,
        "method": proposal.then.expected.method,
        "learnt_from": list(proposal.then.expected.learnt_from),
        "items": [_item(item) for item in items],
        "bands": _bands(proposal.now, proposal.then, proposal.window),
        "says": says(proposal),
        "full_surfaces": list(proposal.full_surfaces),
        "next_step": None
        if step is None
        else {
            "absorber": step.absorber.name,
            "surface": step.surface,
            "least_probability": number(proposal.next_worst),
        },
        "thin_foam_everywhere": None
        if proposal.foam is None
        else {
            "absorber": FOAM,
            "area_m2": number(_area(proposal.foam)),
            "bands": _bands(proposal.now, proposal.foam, proposal.window),
        },
        "turned_target": None,
        "turned_bands": None,
        "cautions": remark_documents(cautions(proposal.room, items)),
        "remarks": remark_documents(proposal.room.remarks),
    }
    if proposal.turned_window is not None and proposal.turned_then is not None:
        document["turned_target"] = proposal.turned_window.name
        document["turned_bands"] = _bands(proposal.now, proposal.turned_then, proposal.turned_window)
    return document


def proposal_json(proposal: Proposal) -> str:
    """Write the document as JSON text."""
    return dumped(proposal_document(proposal))


def _item(item: Item) -> Document:
    return {
        "absorber": item.absorber.name,
        "surface": item.surface,
        "count": item.count,
        "area_m2": number(item.area_m2),
        "alpha": numbers(item.absorber.alpha[1:7]),
        "covers": True,
        "mounting": item.absorber.mounting,
        "source": item.absorber.source,
    }


def _bands(now: Outcome, then: Outcome, window: Window) -> list[Document]:
    rows = []
    for k, i in enumerate(then.expected.octaves):
        low, high = float(window.low_s[k]), float(window.high_s[k])
        rows.append(
            {
                "centre_hz": OCTAVES[i].nominal_hz,
                "now_s": number(now.expected.decay_time_s[k]),
                "then_s": number(then.expected.decay_time_s[k]),
                "ci95_s": numbers(then.expected.ci95_s[k].tolist()),
                "target_s": [number(low), number(high)] if window.asked[k] else None,
                "probability": number(then.chance[k]) if window.asked[k] else None,
                "inside": bool(then.inside[k]),
            }
        )
    return rows


def _area(outcome: Outcome) -> float:
    return sum(item.area_m2 for item in outcome.items)


def proposal_text(proposal: Proposal, *, units: UnitSystem = METRIC) -> str:
    """Lay a proposal out for a terminal."""
    return "\n".join(_lines(proposal, units)) + "\n"


def _lines(proposal: Proposal, units: UnitSystem) -> Iterator[str]:
    told = " ".join(sentences(proposal, units=units))
    yield from wrapped(f"{named(proposal.room)}, target {proposal.window.name}: {told}")
    items = proposal.then.items
    if items:
        yield ""
        for item in items:
            area = units.area_text(item.area_m2)
            of_all = f"{item.count} x {printable(item.absorber.name)}, {area}, on {printable(item.surface)}"
            yield from wrapped(f"{of_all} ({item.absorber.mounting})", first="  - ", rest="    ")
    yield ""
    yield from _table(proposal.now, proposal.then, proposal.window, foam=proposal.foam)
    if proposal.turned_then is not None and proposal.turned_window is not None:
        yield ""
        yield f"Panels turned round, target {proposal.turned_window.name}:"
        yield from _table(proposal.now, proposal.turned_then, proposal.turned_window, foam=None)
    yield ""
    yield from wrapped(
        f"In brackets: 95 % interval. Inside: with a probability of at least {100 * LEAST_CHANCE:.0f} %."
        f" {_method(proposal)}"
    )
    if proposal.foam is not None:
        yield from wrapped(
            f"Foam: for comparison, {units.area_text(_area(proposal.foam))} of {FOAM} on all the free area of"
            f" walls and ceiling, against {units.area_text(_area(proposal.then))} proposed."
        )
    remarks = (*proposal.room.remarks, *cautions(proposal.room, items))
    if remarks:
        yield ""
        yield from remark_lines(remarks)


def _method(proposal: Proposal) -> str:
    expected = proposal.then.expected
    if expected.learnt_from:
        return f"Corrected by what the room has shown: {joined([*map(printable, expected.learnt_from)])}."
    return f"{expected.method} applies: {expected.because}."


def _table(now: Outcome, then: Outcome, window: Window, *, foam: Outcome | None) -> Iterator[str]:
    heads = ["Band", "Now s", "Then s", "Target s", "Chance", "Inside"]
    rows = []
    for k, i in enumerate(then.expected.octaves):
        ends = then.expected.ci95_s[k]
        asked = bool(window.asked[k])
        row = [
            band_name(OCTAVES[i].nominal_hz),
            rounded(float(now.expected.decay_time_s[k]), decimals=2),
            time_cell(float(then.expected.decay_time_s[k]), (float(ends[0]), float(ends[1]))),
            _target(window, k),
            f"{percent(float(then.chance[k]))} %" if asked else MISSING,
            ("yes" if then.inside[k] else "NO") if asked else MISSING,
        ]
        if foam is not None:
            row.append(rounded(float(foam.expected.decay_time_s[k]), decimals=2))
        rows.append(row)
    yield from table_lines([*heads, *(["Foam s"] if foam is not None else [])], rows)


def _target(window: Window, k: int) -> str:
    low, high = float(window.low_s[k]), float(window.high_s[k])
    if not window.asked[k]:
        return MISSING
    if not math.isfinite(high):
        return f"{low:.2f} or more"
    return f"{low:.2f} to {high:.2f}"
