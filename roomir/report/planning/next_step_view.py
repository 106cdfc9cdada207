"""What stands under "What to hang next", as plain data: worded and rounded once, for report and page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from roomir.bands.band import OCTAVES
from roomir.report.aims import AIM_SIGNS
from roomir.report.planning.next_step import (
    AS_FORESEEN,
    LONGER,
    NO_READING,
    SHORTER,
    NextStep,
    read_ci95_s,
    verdicts,
)
from roomir.report.planning.reasons import percent, sentences
from roomir.report.rounding import MISSING, decimals_of, rounded, rounded_outwards
from roomir.report.unit_system import METRIC, UnitSystem
from roomir.report.wording import band_name, band_names, counted, joined, printable, said_and_done

if TYPE_CHECKING:  # they need numpy, which `roomir --help` does not
    from roomir.plan.propose import Outcome, Proposal, Window
    from roomir.remarks import Remark

_SIGNS = {AS_FORESEEN: "=", LONGER: ">", SHORTER: "<", NO_READING: "x"}


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeCell:
    """A decay time with its interval, each empty where there is none."""

    time: str
    ends: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """A verdict in a word, and the sign that stands beside it."""

    sign: str
    word: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ForeseenRow:
    """One band of the prediction against the reading."""

    band: str
    predicted: TimeCell
    read: TimeCell
    verdict: Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class HungRow:
    """So many panels of one kind on one surface."""

    count: str
    absorber: str
    surface: str
    area: str
    mounting: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ThenRow:
    """One band now, as proposed and with thin foam everywhere."""

    band: str
    target: str
    now: TimeCell
    now_verdict: Verdict
    then: TimeCell
    then_verdict: Verdict
    chance: str
    foam: TimeCell | None
    foam_verdict: Verdict | None


@dataclass(frozen=True, slots=True, kw_only=True)
class NextStepView:
    """The section, in the order in which it is told; ``area`` is the unit of the areas.

    ``answer`` is empty without a proposal, and ``lacks`` says what there is none for.
    """

    title: str
    foreseen_says: tuple[str, ...]
    foreseen: tuple[ForeseenRow, ...]
    target: str
    answer: str
    more: tuple[str, ...]
    area: str
    hung: tuple[HungRow, ...]
    bands: tuple[ThenRow, ...]
    method: str
    against_foam: tuple[str, ...]
    lacks: str
    players: tuple[str, ...]
    cautions: tuple[str, ...]
    remarks: tuple[str, ...]


def next_step_view(step: NextStep, *, units: UnitSystem = METRIC) -> NextStepView:
    """Word and round what to hang next.

    Parameters
    ----------
    step : NextStep
        What was worked out.
    units : UnitSystem
        For areas.

    Returns
    -------
    NextStepView
        Strings only; not yet escaped.
    """
    from roomir.plan.cautions import cautions

    proposal = step.proposal
    answer, *more = ("",) if proposal is None else sentences(proposal, units=units)
    return NextStepView(
        title="What to hang next",
        foreseen_says=tuple(_foreseen_says(step)),
        foreseen=tuple(_foreseen_rows(step)),
        target="" if proposal is None else printable(proposal.window.name),
        answer=printable(answer),
        more=tuple(map(printable, more)),
        area=units.area,
        hung=() if proposal is None else tuple(_hung(proposal, units=units)),
        bands=() if proposal is None else tuple(_bands(proposal)),
        method="" if proposal is None else _method(step, proposal),
        against_foam=() if proposal is None else tuple(_against_foam(proposal, units=units)),
        lacks=printable(step.lacks),
        players=tuple(printable(one.words) for one in step.players),
        cautions=() if proposal is None else tuple(map(_said, cautions(proposal.room, proposal.then.items))),
        remarks=tuple(map(_said, step.remarks)),
    )


def _said(remark: Remark) -> str:
    return printable(said_and_done(remark))


# ------------------------------------------------------------------ prediction and reading


def _foreseen_says(step: NextStep) -> Iterator[str]:
    if step.foreseen is None:
        return
    found = verdicts(step)
    octaves = [OCTAVES[i] for i in step.foreseen.octaves]
    read = [verdict for verdict in found if verdict != NO_READING]
    if not read:
        yield "Nothing was read in the bands that the description speaks of; this is what it lets expect."
        return
    said = [f"as predicted in {read.count(AS_FORESEEN)} of {len(read)} bands"]
    for word in (LONGER, SHORTER):
        those = [band for band, verdict in zip(octaves, found, strict=True) if verdict == word]
        if those:
            said.append(f"{word} at {band_names(those, among=octaves)}")
    yield f"Described, predicted, and then read in {printable(step.stage)}: {'; '.join(said)}."
    if set(read) - {AS_FORESEEN}:
        yield (
            "Where they differ some surface is not what the description says, or leans on something behind"
            " it: a hollow wall, a loose ceiling, a gap."
        )


def _foreseen_rows(step: NextStep) -> Iterator[ForeseenRow]:
    if step.foreseen is None:
        return
    for k, (i, verdict) in enumerate(zip(step.foreseen.octaves, verdicts(step), strict=True)):
        low, high = (float(end) for end in step.foreseen.ci95_s[k])
        read = TimeCell(time=MISSING)
        if i in step.read:
            time_s, share = step.read[i]
            read = _cell(time_s, read_ci95_s(time_s, share))
        yield ForeseenRow(
            band=band_name(OCTAVES[i].nominal_hz),
            predicted=_cell(float(step.foreseen.decay_time_s[k]), (low, high)),
            read=read,
            verdict=Verdict(sign=_SIGNS[verdict], word=verdict),
        )


def _cell(time_s: float, interval: tuple[float, float]) -> TimeCell:
    decimals = decimals_of(time_s, interval=interval)
    return TimeCell(
        time=rounded(time_s, decimals=decimals),
        ends=" to ".join(rounded_outwards(interval, decimals=decimals)),
    )


# ------------------------------------------------------------------ the proposal


def _method(step: NextStep, proposal: Proposal) -> str:
    from roomir.plan.model import LEARNED
    from roomir.plan.propose import LEAST_CHANCE

    expected = proposal.then.expected
    if step.foreseen is None:
        start = f"It starts from the reading of {printable(step.stage)}."
    elif expected.learnt_from:
        names = joined([printable(one) for one in expected.learnt_from])
        start = f"It starts from the description, corrected by what was read in {names}."
    else:
        start = "Nothing was learnt from a reading, so it starts from the description alone."
    formula = "" if expected.method == LEARNED else f" {expected.method} applies: {expected.because}."
    return (
        f"In brackets: 95 % interval. Inside: with a probability of at least {100 * LEAST_CHANCE:.0f} %."
        f" {start}{formula}"
    )


def _hung(proposal: Proposal, *, units: UnitSystem) -> Iterator[HungRow]:
    for item in proposal.then.items:
        yield HungRow(
            count=str(item.count),
            absorber=printable(item.absorber.name),
            surface=printable(item.surface),
            area=units.area_text(item.area_m2),
            mounting=printable(item.absorber.mounting),
        )


def _bands(proposal: Proposal) -> Iterator[ThenRow]:
    window, foam = proposal.window, proposal.foam
    for k, i in enumerate(proposal.then.expected.octaves):
        low, high = (float(end) for end in proposal.then.expected.ci95_s[k])
        yield ThenRow(
            band=band_name(OCTAVES[i].nominal_hz),
            target=_limits(window, k),
            now=_plain(proposal.now, k),
            now_verdict=_verdict(proposal.now, window, k),
            then=_cell(float(proposal.then.expected.decay_time_s[k]), (low, high)),
            then_verdict=_verdict(proposal.then, window, k),
            chance=f"{percent(float(proposal.then.chance[k]))} %" if window.asked[k] else "",
            foam=None if foam is None else _plain(foam, k),
            foam_verdict=None if foam is None else _verdict(foam, window, k),
        )


def _plain(outcome: Outcome, k: int) -> TimeCell:
    return TimeCell(time=rounded(float(outcome.expected.decay_time_s[k]), decimals=2))


def _verdict(outcome: Outcome, window: Window, k: int) -> Verdict:
    time_s = float(outcome.expected.decay_time_s[k])
    if not window.asked[k]:
        return Verdict(sign=" ", word="not asked")
    if outcome.inside[k]:
        word = "inside"
    elif time_s > float(window.high_s[k]):
        word = "too long"
    elif time_s < float(window.low_s[k]):
        word = "too short"
    else:
        word = "undecided"
    return Verdict(sign=AIM_SIGNS[word], word=word)


def _limits(window: Window, k: int) -> str:
    low, high = float(window.low_s[k]), float(window.high_s[k])
    if not window.asked[k]:
        return MISSING
    if high == float("inf"):
        return f"{low:.2f} or more"
    return f"{low:.2f} to {high:.2f}" if low > 0.0 else f"at most {high:.2f}"


def _against_foam(proposal: Proposal, *, units: UnitSystem) -> Iterator[str]:
    from roomir.plan.propose import FOAM

    if proposal.foam is None:
        return
    foam, then = proposal.foam, proposal.then
    of = int(proposal.window.asked.sum())
    yield (
        f"{FOAM} on all the free area of walls and ceiling, {_area(foam, units)}, brings"
        f" {_inside(foam, proposal.window)} of {of} bands inside."
    )
    if not then.items:
        yield f"Hanging nothing brings {_inside(then, proposal.window)} of {of}."
        return
    thick = [item.absorber.panel.thickness_mm for item in then.items if item.absorber.panel]
    yield (
        f"What is proposed, {_area(then, units)} in {counted(_panels(then), 'panel')},"
        f" {_thickness(thick)}, brings {_inside(then, proposal.window)} of {of}."
    )


def _area(outcome: Outcome, units: UnitSystem) -> str:
    return units.area_text(sum(item.area_m2 for item in outcome.items))


def _panels(outcome: Outcome) -> int:
    return sum(item.count for item in outcome.items)


def _thickness(thick_mm: Sequence[float]) -> str:
    low, high = min(thick_mm), max(thick_mm)
    return f"{low:.0f} mm thick" if low == high else f"{low:.0f} to {high:.0f} mm thick"


def _inside(outcome: Outcome, window: Window) -> int:
    return int((outcome.inside & window.asked).sum())
