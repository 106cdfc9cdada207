"""All claps of a reading fitted band by band: where the decay starts, how many slopes it has."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from roomir.bands.filters import BandFilter
from roomir.decay.blocks import Prepared, prepare
from roomir.decay.energy import EnergyTrace
from roomir.decay.influence import likeness
from roomir.decay.likelihood import BlockEnergies, DecayFit, Floats, Ints, fit_decay
from roomir.decay.model import DecayModel
from roomir.decay.slopes import find_second_slope
from roomir.decay.start import Start, choose_starts, start_up_to

LEADING_HZ = 900.0
"""Octaves from 1 kHz on, which hold more independent energies in a millisecond, decide where the
first reflections end. [Hz]"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BandFit:
    """Fits of one band over the claps that show in it.

    Attributes
    ----------
    band_filter : BandFilter
        The band.
    rows : int array, shape (n_shown,)
        Which of the claps show in this band.
    traces : tuple of EnergyTrace
        Theirs.
    blocks : BlockEnergies
        Their energies from ``start_s`` on.
    start_s : float
        Where the fit starts after the onset. [s]
    joint : DecayFit
        One decay shared by all of them.
    own : DecayFit
        One decay for each of them, with as many slopes.
    likeness : array, shape (n_shown, n_shown)
        Correlation of the fine structure of each pair of claps, 0 to 1.
    second_slope_gain : float
        Log-likelihood that a second slope gains, whether or not it was let in.
    """

    band_filter: BandFilter
    rows: Ints
    traces: tuple[EnergyTrace, ...]
    blocks: BlockEnergies
    start_s: float
    joint: DecayFit
    own: DecayFit
    likeness: Floats
    second_slope_gain: float

    @property
    def n_slopes(self) -> int:
        """Number of slopes."""
        return self.joint.n_slopes

    def model(self, row: int) -> DecayModel:
        """Return the fitted decay of one clap."""
        return self.own.model(row)


def fit_bands(
    traces: Sequence[Sequence[EnergyTrace | None]], *, filters: Sequence[BandFilter]
) -> tuple[BandFit | None, ...]:
    """Fit all bands of a reading.

    Parameters
    ----------
    traces : sequence (n_claps) of sequence (n_bands) of EnergyTrace or None
        Every clap in every band; None where the clap's recording cannot carry the band.
    filters : sequence (n_bands) of BandFilter
        The bands.

    Returns
    -------
    tuple of BandFit or None
        One a band; None where no clap shows a decay.
    """
    prepared = [
        prepare([bands[column] for bands in traces], band_filter=band_filter)
        for column, band_filter in enumerate(filters)
    ]
    shown = [band for band in prepared if band is not None]
    leading = [band for band in shown if band.band_filter.band.exact_hz >= LEADING_HZ] or shown
    led = dict(zip(map(id, leading), choose_starts(leading), strict=True)) if leading else {}
    discard_s = max((start.discard_s for start in led.values()), default=0.0)
    fits: list[BandFit | None] = []
    for band in prepared:
        if band is None:
            fits.append(None)
            continue
        start = led.get(id(band)) or start_up_to(band, discard_s=discard_s)
        fits.append(_fit_band(band, start))
    return tuple(fits)


def _fit_band(band: Prepared, start: Start) -> BandFit:
    first_s = float(band.blocks.edges_s[0])
    two, gain = find_second_slope(start.blocks, start.fit, worth=start.worth)
    joint = start.fit if two is None else two
    n = band.rows.size
    own = fit_decay(
        start.blocks,
        group=np.arange(n),
        shared=np.repeat(joint.shared, n, axis=0),
        log_level=joint.log_level,
        log_noise=joint.log_noise,
    )
    return BandFit(
        band_filter=band.band_filter,
        rows=band.rows,
        traces=band.traces,
        blocks=start.blocks,
        start_s=first_s + start.discard_s,
        joint=joint,
        own=own,
        likeness=likeness(own, start.blocks.shape),
        second_slope_gain=gain,
    )
