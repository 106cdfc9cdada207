"""Bends and backgrounds put together: which fault they are signs of, in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

import numpy as np

from roomir.faults.backgrounds import BackgroundCourse
from roomir.faults.bends import Bend
from roomir.faults.fault import Fault
from roomir.faults.hidden import HiddenEvent
from roomir.faults.shapes import Law
from roomir.remarks import Remark

LOWER_DB = 1.5
LOWER_OFTEN_DB = 1.1
"""Backgrounds wander; so far all bands together do not, or less far time and again. [dB]"""

CHANGED_DB = 4.0
"""A background that is another by this much in some bands was changed by something. [dB]"""

_AGREEING = 0.8
_LEAST_BANDS = 3
_RISES_DB = 0.7
_ONE_TIME = 1.4
_TAKEN_BACK = 0.5
_OFTEN = 3
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
    changed = {row: change for row, course in courses.items() if (change := _changed(course))[1]}
    least_db = LOWER_OFTEN_DB if len(courses) >= _OFTEN else LOWER_DB
    dips = {
        row: dip for row, course in courses.items() if (dip := _dip_db(course, least_db=least_db)) is not None
    }
    by_recorder = _comes_back(courses)
    if by_recorder and 2 * len(dips) > len(courses):
        lower_db, rises_db = np.median(list(dips.values()), axis=0)
        return [Fault(remark=_turned_down(float(lower_db), float(rises_db)), take=take)]
    if by_recorder and 2 * len(changed) > len(courses) > 1:
        # Each clap alike: no machine does that. A gate that is open for a while does.
        changed = {}
    out = [
        Fault(remark=_other_background(change_db), take=take, place=places[row], columns=columns)
        for row, (change_db, columns) in changed.items()
    ]
    struck = {row: event for row, event in hidden.items() if row not in changed}
    alone = [bend for bend in bends if len(bend.rows) == 1 and bend.rows[0] not in changed]
    together = [bend for bend in bends if len(bend.rows) > 1]
    hit = struck.keys() | {bend.rows[0] for bend in alone}
    if not together and 2 * len(hit) > len(places) > 1 and (alone or _at_one_time(struck)):
        # Nobody hammers into every decay: what strikes most of the claps is the recorder's.
        strongest = max(alone, key=lambda bend: bend.z, default=None)
        remark = _jumps(struck) if strongest is None else _bent(strongest)
        return [*out, Fault(remark=remark, take=take)]
    out += [Fault(remark=_struck_again(event), take=take, place=places[row]) for row, event in struck.items()]
    for bend in together + [bend for bend in alone if bend.rows[0] not in struck]:
        whole = len(bend.rows) > 1 or len(places) == 1
        out.append(Fault(remark=_bent(bend), take=take, place=None if whole else places[bend.rows[0]]))
    return out


def _at_one_time(struck: Mapping[int, HiddenEvent]) -> bool:
    times_s = [event.after_s for event in struck.values()]
    return max(times_s) < _ONE_TIME * min(times_s)


def _comes_back(courses: Mapping[int, BackgroundCourse]) -> bool:
    """Whether before the next clap the background has gone back, half the way or more.

    What a recorder does to it, it takes back; a machine that was switched off stays off, and a
    background that drifts, drifts on. With one clap nobody knows.
    """
    shares = []
    for first, later in pairwise(courses.values()):
        before = dict(zip(later.columns, later.before_db, strict=True))
        for column, level_db, lower_db in zip(first.columns, first.before_db, first.lower_db, strict=True):
            if column in before and abs(lower_db) > 1.0:
                shares.append((before[column] - level_db + lower_db) / lower_db)
    return not shares or float(np.median(shares)) >= _TAKEN_BACK


def apart_from_gains(
    hidden: Mapping[int, HiddenEvent], bends: Sequence[Bend], *, rows: Sequence[int]
) -> dict[int, HiddenEvent]:
    """Keep the events of one take that no gain explains.

    A gain that recovers looks like an event, but it rides on every clap alike; whoever hammers does so
    when he likes.
    """
    own = {row: hidden[row] for row in rows if row in hidden}
    for bend in bends:
        if len(bend.rows) > 1:
            return {}
        if bend.rows[0] in own and 0.5 * bend.z**2 > own[bend.rows[0]].gain:
            del own[bend.rows[0]]
    return own


def _changed(course: BackgroundCourse) -> tuple[float, tuple[int, ...]]:
    """In which bands the background behind the clap is another than before it, and by how much at most."""
    change_db = -course.lower_db
    far = np.abs(change_db) >= CHANGED_DB
    if int(far.sum()) < _LEAST_BANDS:
        return 0.0, ()
    most_db = float(change_db[np.argmax(np.abs(change_db))])
    return most_db, tuple(column for column, is_far in zip(course.columns, far, strict=True) if is_far)


def _dip_db(course: BackgroundCourse, *, least_db: float) -> tuple[float, float] | None:
    """How far all bands together have gone down, and how far they come up again; None where they have not."""
    lower = course.lower_db
    if lower.size < _LEAST_BANDS or np.median(lower) < least_db:
        return None
    if np.mean(lower > 0.4 * np.median(lower)) < _AGREEING:
        return None
    return float(np.median(lower)), float(np.median(course.rises_db))


def _other_background(change_db: float) -> Remark:
    way = "louder" if change_db > 0.0 else "quieter"
    return Remark(
        code="background-changes",
        says=f"behind the clap the background is up to {abs(change_db):.0f} dB {way} than before it:"
        " something was switched on or off meanwhile, and where the decay ends is not known",
        remedy="wait until heaters, fans and machines run steadily, or switch them off",
    )


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


def _comes_up(bend: Bend) -> Remark:
    return Remark(
        code="automatic-gain",
        says=f"after each clap all bands come up together with their backgrounds, with a time constant of"
        f" {bend.shape.at:g} s: the recorder had turned itself down, and the decay reads very roughly"
        f" {100.0 * bend.longest:.0f} % too long",
        remedy=_RECORDER,
    )


def _bent(bend: Bend) -> Remark:
    if bend.recovers:
        return _comes_up(bend)
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
            # A strong expander bends a decay as high up, and shortens it.
            says=f"{bent}: most likely a limiter, a compressor or automatic gain holds the loud beginning"
            f" down, and the decay reads very roughly {longer}; noise reduction would make it too short",
            remedy="clap more softly or farther from the phone, or use a recorder without automatic level"
            " and noise reduction",
        )
    if bend.pulls_down:
        return Remark(
            code="tail-pulled-down",
            says=f"{bent}: a noise gate or noise suppression takes the quiet end away,"
            f" and the decay reads very roughly {shorter}",
            remedy="switch noise reduction and voice enhancement off, or use a plain audio recorder",
        )
    return Remark(
        code="bent-in-all-bands",
        says=f"{bent}: either the recorder holds the loud beginning down, and the decay reads"
        f" very roughly {longer}, or it takes the quiet end away, and it reads very roughly {shorter}",
        remedy="switch automatic gain and noise reduction off, or use a plain audio recorder",
    )


def _struck_again(event: HiddenEvent) -> Remark:
    most = 100.0 * max(event.moves, key=abs)
    return Remark(
        code="sound-inside-decay",
        says=f"{event.after_s:.2f} s after the clap another sound begins inside its decay, or the recorder"
        f" turns its level up, and moves the decay time by up to {abs(most):.0f} %",
        remedy="record when nobody else works or moves, and let one clap die away before the next sound",
    )


def _jumps(struck: Mapping[int, HiddenEvent]) -> Remark:
    after_s = float(np.median([event.after_s for event in struck.values()]))
    return Remark(
        code="level-jumps",
        says=f"about {after_s:.2f} s after each clap all bands hold more sound than their decays leave:"
        " the recorder turns its level up, and the decay reads too long",
        remedy=_RECORDER,
    )
