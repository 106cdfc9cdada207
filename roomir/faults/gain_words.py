"""Bends and backgrounds put together: which fault they are signs of, in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from roomir.faults.backgrounds import BackgroundCourse
from roomir.faults.bends import Bend
from roomir.faults.fault import Fault
from roomir.faults.hidden import HiddenEvent
from roomir.faults.shapes import Law
from roomir.remarks import Remark

LOWER_DB = 1.5
"""Backgrounds wander; so far all bands together do not. [dB]"""

_AGREEING = 0.8
_LEAST_BANDS = 3
_RISES_DB = 0.7
_RECORDER = "record with an app that lets you switch automatic gain off, or with a plain audio recorder"


def name_gains(
    bends: Sequence[Bend],
    courses: Mapping[int, BackgroundCourse],
    hidden: Mapping[int, HiddenEvent],
    *,
    take: int,
    places: Mapping[int, int],
) -> list[Fault]:
    """Name what rides on the level of one take.

    Parameters
    ----------
    bends : sequence of Bend
        Over all claps, or of single ones.
    courses : mapping
        Background around each clap that shows it, by row.
    hidden : mapping
        Events inside decays, by row.
    take : int
        Which recording.
    places : mapping
        Place of each row's clap among the events of the take.
    """
    dips = {row: dip for row, course in courses.items() if (dip := _dip_db(course)) is not None}
    if dips and 2 * len(dips) > len(courses):
        lower_db = float(np.median([lower for lower, _ in dips.values()]))
        rises = [rise for _, rise in dips.values()]
        return [Fault(remark=_turned_down(lower_db, float(np.median(rises))), take=take)]
    out = [
        Fault(remark=_struck_again(event), take=take, place=places[row])
        for row, event in hidden.items()
        if row in places
    ]
    for bend in bends:
        if all(row in hidden for row in bend.rows):
            continue
        whole = len(bend.rows) > 1 or len(places) == 1
        place = None if whole else places[bend.rows[0]]
        out.append(Fault(remark=_bent(bend), take=take, place=place))
    return out


def apart_from_gains(
    hidden: Mapping[int, HiddenEvent], bends: Sequence[Bend], *, rows: Sequence[int]
) -> dict[int, HiddenEvent]:
    """Keep the events of one take that no gain explains.

    A gain that recovers looks like an event, but it rides on every clap alike; whoever hammers does so
    when he likes.
    """
    own = {row: hidden[row] for row in rows if row in hidden}
    if any(
        len(bend.rows) > 1 or 0.5 * bend.z**2 > own[bend.rows[0]].gain
        for bend in bends
        if bend.rows[0] in own
    ):
        return {}
    if any(len(bend.rows) > 1 for bend in bends):
        return {}
    return own


def _dip_db(course: BackgroundCourse) -> tuple[float, float] | None:
    """How far all bands together have gone down, and how far they come up again; None where they have not."""
    lower = course.lower_db
    if lower.size < _LEAST_BANDS or np.median(lower) < LOWER_DB:
        return None
    if np.mean(lower > 0.4 * np.median(lower)) < _AGREEING:
        return None
    return float(np.median(lower)), float(np.median(course.rises_db))


def _turned_down(lower_db: float, rises_db: float) -> Remark:
    lower = f"after a clap the background is {lower_db:.1f} dB lower than before it"
    if rises_db > _RISES_DB:
        return Remark(
            code="automatic-gain",
            says=f"{lower} and comes up again by {rises_db:.1f} dB while it is heard: the recorder"
            " changes its level by itself, and the decay reads too long",
            remedy=_RECORDER,
        )
    return Remark(
        code="background-lower-after",
        says=f"{lower} in all bands: the recorder turns itself down or suppresses noise,"
        " and the decay is not the room's alone",
        remedy=_RECORDER,
    )


def _bent(bend: Bend) -> Remark:
    shape = bend.shape
    where = {
        Law.TIME: f"{1000 * shape.at:.0f} ms after the clap",
        Law.SHUT: f"{1000 * shape.at:.0f} ms after the clap",
        Law.FALLEN: f"{shape.at:.0f} dB below their start",
        Law.FLOOR: f"{shape.at:.0f} dB above the background",
    }[shape.law]
    bent = f"from {where} on the decays of all bands fall faster, as no room's do"
    longer = f"{100.0 * bend.longest:.0f} % too long"
    shorter = f"{100.0 * bend.shortest:.0f} % too short"
    if bend.holds_down:
        return Remark(
            code="loud-part-held-down",
            says=f"{bent}: a limiter, a compressor or automatic gain holds the loud beginning down,"
            f" and the decay reads up to {longer}",
            remedy="clap more softly or farther from the phone, or use a recorder without automatic level",
        )
    if bend.pulls_down:
        return Remark(
            code="tail-pulled-down",
            says=f"{bent}: a noise gate or noise suppression takes the quiet end away,"
            f" and the decay reads up to {shorter}",
            remedy="switch noise reduction and voice enhancement off, or use a plain audio recorder",
        )
    return Remark(
        code="bent-in-all-bands",
        says=f"{bent}: either the recorder holds the loud beginning down, and the decay reads up to"
        f" {longer}, or it takes the quiet end away, and it reads up to {shorter}",
        remedy="switch automatic gain and noise reduction off, or use a plain audio recorder",
    )


def _struck_again(event: HiddenEvent) -> Remark:
    most = 100.0 * max(event.moves, key=abs)
    return Remark(
        code="sound-inside-decay",
        says=f"another sound begins {event.after_s:.2f} s after the clap, inside its decay, and moves"
        f" the decay time by up to {abs(most):.0f} %",
        remedy="record when nobody else works or moves, and let one clap die away before the next sound",
    )
