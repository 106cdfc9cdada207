"""Bends that are not proven, in the bands whose decay time they would move: full trust is not due there."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from roomir.faults.bends import LEAST_MOVE, RECOVERS, Bend, measure, weigh_claps
from roomir.faults.fault import Fault
from roomir.faults.limits import SUSPECTED, SUSPECTED_ALONE, reaches
from roomir.faults.scores import AskedBand, Scores
from roomir.remarks import Remark

LEAST_MOVE_SURER = 0.02
"""Part of the decay time that a suspected bend has to move in a band for the band to lose full trust,
where it goes further beyond its limit: a gain that is none of the shapes moves more than the one that
comes nearest to it. Elsewhere ``LEAST_MOVE`` counts, as for bends that are named."""

_SURER = 1.3
_LIFTED = 5.0
"""So significant over all bands, a background that comes up with the decays is suspected even where
one clap carries most of it. [standard deviations]"""


def suspect_bends(
    scores: Scores, bands: Sequence[AskedBand | None], *, rows: Sequence[int], take: int
) -> list[Fault]:
    """Name the bands of one take that a bend too weak to be named would move, if it is one.

    Parameters
    ----------
    scores : Scores
        Of all shapes.
    bands : sequence of AskedBand or None
        The bands.
    rows : sequence of int
        The claps of the take.
    take : int
        Which recording.
    """
    claps = weigh_claps(scores, bands, rows=rows)
    limits = SUSPECTED if len(rows) > 1 else SUSPECTED_ALONE
    reach = reaches(claps.together, claps.without, limits=limits, bend_s=claps.bend_s, alike=claps.alike)
    if len(rows) > 1:
        reach = np.where(RECOVERS, np.maximum(reach, claps.together / _LIFTED), reach)
    likeliest_first = [int(which) for which in np.argsort(-reach) if reach[which] >= 1.0]
    bends = [measure(claps, scores, bands, which=which) for which in likeliest_first]
    least = [LEAST_MOVE_SURER if reach[which] >= _SURER else LEAST_MOVE for which in likeliest_first]
    columns = tuple(
        column
        for column in range(len(bands))
        if any(bend.moves_in(column) >= part for bend, part in zip(bends, least, strict=True))
    )
    if not columns:
        return []
    return [Fault(remark=_remark(bends), take=take, columns=columns, suspected=True)]


def _remark(bends: Sequence[Bend]) -> Remark:
    longer = max((bend.longest for bend in bends if not bend.pulls_down), default=0.0)
    shorter = max((bend.shortest for bend in bends if not bend.holds_down), default=0.0)
    so = " or ".join(
        f"{100.0 * part:.0f} % too {way}"
        for part, way in ((longer, "long"), (shorter, "short"))
        if part >= LEAST_MOVE_SURER
    )
    return Remark(
        code="gain-suspected",
        says="several bands seem to bend downwards together, as a recorder does it that changes its level:"
        f" unless that is chance, they read very roughly {so}",
        remedy="record with automatic gain and noise reduction off, and in more spots: they settle it",
    )
