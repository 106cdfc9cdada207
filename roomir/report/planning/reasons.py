"""Why a proposal is what it is: one paragraph in a builder's words."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from roomir.bands.band import OCTAVES
from roomir.plan.model import LEARNED
from roomir.plan.propose import LEAST_CHANCE, SIX, Outcome, Proposal, Window
from roomir.report.unit_system import METRIC, UnitSystem
from roomir.report.wording import band_name, counted, joined

_TAKES_BASS = 0.3
"""Coefficient at 125 Hz from which a panel is no thin absorber any more: own choice."""

_ALIKE = 0.1
"""Sides of a panel whose coefficients differ by less count as alike: own choice."""


def says(proposal: Proposal) -> str:
    """Say in a few sentences what to hang, what it does, what limits it and what comes next."""
    return " ".join(sentences(proposal))


def sentences(proposal: Proposal, *, units: UnitSystem = METRIC) -> tuple[str, ...]:
    """Say the same sentence by sentence, the answer first.

    Parameters
    ----------
    proposal : Proposal
        One that can be met, or the nearest.
    units : UnitSystem
        For areas.
    """
    return tuple(_sentences(proposal, units=units))


def _sentences(proposal: Proposal, *, units: UnitSystem) -> Iterator[str]:
    then, items = proposal.then, proposal.then.items
    area = units.area_text(sum(item.area_m2 for item in items))
    panels = counted(sum(item.count for item in items), "panel")
    if proposal.feasible and not items:
        yield "The room is inside the target as it is; nothing has to be hung."
    elif proposal.feasible:
        yield (
            f"{panels[0].upper()}{panels[1:]}, {area} in all, bring every band inside with a probability of"
            f" at least {100 * LEAST_CHANCE:.0f} %."
        )
    else:
        yield (
            "No choice from these absorbers and surfaces brings every band inside with a probability of"
            f" {100 * LEAST_CHANCE:.0f} %;"
            + (f" the nearest takes {panels}, {area}." if items else " the nearest is to hang nothing.")
        )
        if not proposal.places:
            yield (
                "These panels may hang nowhere: every surface is kept as it is, too small, or refuses them by"
                " their thickness or weight."
            )
        yield from _misses(proposal, then, proposal.window)
        if proposal.turned_then is not None and proposal.turned_window is not None:
            yield from _misses(proposal, proposal.turned_then, proposal.turned_window, turned=True)
            yield from _alike(proposal)
    if items:
        tight = int(np.argmin(np.where(proposal.window.asked, then.chance, 2.0)))
        yield f"What limits it is {band_name(OCTAVES[SIX[tight]].nominal_hz)}."
    if proposal.full_surfaces:
        yield f"No room for more panels on {joined(proposal.full_surfaces)}."
    step = proposal.next_step
    # A step that nobody would notice is none.
    if step is not None and items and percent(proposal.next_worst) != percent(then.worst):
        yield (
            f"The cheapest next step is one more {step.absorber.name} on {step.surface}"
            f" (least probability {percent(then.worst)} to {percent(proposal.next_worst)} %)."
        )


def percent(chance: float) -> int:
    """A probability in percent, never rounded up to a limit that it misses.

    Examples
    --------
    >>> percent(0.7996), percent(0.8)
    (79, 80)
    """
    return math.floor(100.0 * chance + 1e-9)


def _misses(proposal: Proposal, outcome: Outcome, window: Window, *, turned: bool = False) -> Iterator[str]:
    long, short, vague = [], [], []
    time_s = outcome.expected.decay_time_s
    for k in np.flatnonzero(~outcome.inside):
        name = band_name(OCTAVES[SIX[k]].nominal_hz)
        if time_s[k] > window.high_s[k]:
            long.append((k, f"{name} ({time_s[k]:.2f} s)"))
        elif time_s[k] < window.low_s[k]:
            short.append((k, f"{name} ({time_s[k]:.2f} s)"))
        else:
            vague.append(f"{name} ({percent(float(outcome.chance[k]))} %)")
    begin = "Turned round, " if turned else ""
    if long:
        yield f"{begin}{joined([one for _, one in long])} would stay too long."
        if any(k <= 1 for k, _ in long) and not turned and proposal.then.items:
            yield _bass_words(proposal)
        if proposal.places and not turned and not proposal.then.items:
            yield "Whatever may hang here leads further off: it takes too much, there or in other bands."
    if short:
        already = all(proposal.now.expected.decay_time_s[k] < window.low_s[k] or turned for k, _ in short)
        yield f"{begin}{joined([one for _, one in short])} would be too short" + (
            ", as before anything is hung: more absorption is no help there. Take some out of the room."
            if already and not turned and not proposal.then.items
            else "."
        )
    if vague:
        yield (
            f"{begin}{joined(vague)} would lie inside but cannot be told well enough; "
            + (
                "read the room again once part of it hangs."
                if outcome.expected.method == LEARNED
                else "a reading of the room as it is narrows it."
            )
        )


def _bass_words(proposal: Proposal) -> str:
    best = max(item.absorber.alpha[1] or 0.0 for item in proposal.then.items)
    if best >= _TAKES_BASS:
        return (
            f"Even the one that takes most at 125 Hz ({best:.2f}) is not enough on the area there is: free"
            " more of the walls, or allow deeper panels."
        )
    return (
        f"Thin absorbers take the top and leave the bass: the best of these has {best:.2f} at"
        " 125 Hz; allow thicker panels, panels off the wall, or thin boards on a filled cavity."
    )


def _alike(proposal: Proposal) -> Iterator[str]:
    assert proposal.turned_window is not None
    two_sided = [item for item in proposal.then.items if item.absorber.panel and item.absorber.panel.reverse]
    if not two_sided:
        yield "No two-sided panel is among the choice, so turning changes nothing."
        return
    assert proposal.turned_then is not None
    missed = ~(proposal.then.inside & proposal.turned_then.inside)
    sides = {
        (item.absorber.name, other.absorber.name): (item.absorber.alpha, other.absorber.alpha)
        for item, other in zip(proposal.then.items, proposal.turned_then.items, strict=True)
        if item.absorber.name != other.absorber.name
    }
    for (name, _), (out, back) in sides.items():
        alike = [
            band_name(OCTAVES[i].nominal_hz)
            for i, off in zip(SIX, missed, strict=True)
            if off and math.isclose(out[i] or 0.0, back[i] or 0.0, abs_tol=_ALIKE)
        ]
        if alike:
            yield (
                f"Both sides of {name} are alike at {joined(alike)}, so turning it cannot reach two different"
                " times there."
            )
