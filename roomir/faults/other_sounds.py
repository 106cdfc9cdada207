"""Events that passed for claps and are none, as the bends of their decays give away."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from roomir.faults.bends import find_alone
from roomir.faults.scores import AskedBand, Scores
from roomir.remarks import Remark

SOFTER_DB = 6.0
"""How much softer than the other claps an event has to be. What a recorder does to a soft clap, it
does to louder ones as well. [dB]"""

LEAST_OTHERS = 2


def find_other_sounds(
    scores: Scores, bands: Sequence[AskedBand | None], *, peaks_dbfs: Mapping[int, float]
) -> dict[int, Remark]:
    """Tell which of a take's events are no claps.

    A cough or a step may begin as sharply as a clap and be followed by decay in all bands; but it
    lasts, and so its decay bends downwards. It is told from a recorder's doing by being softer than
    the claps of the take, none of which bends.

    Parameters
    ----------
    scores : Scores
        Of all shapes.
    bands : sequence of AskedBand or None
        The bands.
    peaks_dbfs : mapping
        Peak of each event that is read, by row. [dB re full scale]

    Returns
    -------
    dict
        Why they are set aside, by row.
    """
    bent = {row for row in peaks_dbfs if find_alone(scores, bands, row=row) is not None}
    straight = [peak_dbfs for row, peak_dbfs in peaks_dbfs.items() if row not in bent]
    if len(straight) < max(LEAST_OTHERS, len(bent)):
        return {}
    usual_dbfs = float(np.median(straight))
    return {
        row: _no_clap(usual_dbfs - peaks_dbfs[row])
        for row in sorted(bent)
        if peaks_dbfs[row] < usual_dbfs - SOFTER_DB
    }


def _no_clap(softer_db: float) -> Remark:
    return Remark(
        code="no-free-decay",
        says=f"it is {softer_db:.0f} dB softer than the claps of this take and dies away otherwise than"
        " they do, in all bands: another sound",
        remedy="nothing, if it was none of your claps; else clap it again as loud as the others",
    )
