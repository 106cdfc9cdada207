"""Two slopes in one decay: a second room behind an opening, or walls that keep sound between them."""

from __future__ import annotations

import math
from collections.abc import Sequence

from roomir.decay.band_fit import BandFit
from roomir.decay.model import DB_PER_NEPER, DecayModel
from roomir.findings.findings import TwoSlopes


def find_two_slopes(fits: Sequence[BandFit | None], *, slopes: Sequence[int | None]) -> tuple[TwoSlopes, ...]:
    """Tell the bands whose decay has two slopes.

    Parameters
    ----------
    fits : sequence (n_bands) of BandFit or None
        The bands.
    slopes : sequence (n_bands) of int or None
        How many slopes the room has in each, what a neighbouring band leaks left out.

    Returns
    -------
    tuple of TwoSlopes
        Low to high; with the fit that all claps share.
    """
    return tuple(
        _describe(fit.joint.model(0), nominal_hz=fit.band_filter.band.nominal_hz)
        for fit, n in zip(fits, slopes, strict=True)
        if fit is not None and n == 2 and fit.n_slopes == 2
    )


def _describe(model: DecayModel, *, nominal_hz: float) -> TwoSlopes:
    lead = math.log(model.levels[0] / model.levels[1])
    bend_s = max(lead, 0.0) / (model.rates[0] - model.rates[1])
    whole = sum(model.levels)
    return TwoSlopes(
        nominal_hz=nominal_hz,
        first_s=model.decay_times_s[0],
        second_s=model.decay_times_s[1],
        second_level_db=-DB_PER_NEPER * lead,
        bend_s=bend_s,
        bend_db=DB_PER_NEPER * math.log(whole / model.decaying(bend_s)),
    )
