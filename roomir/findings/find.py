"""Everything that a room does besides ringing, from one reading's claps and fits."""

from __future__ import annotations

from collections.abc import Sequence

from roomir.audio.recording import Recording
from roomir.claps.clap import Clap
from roomir.decay.band_fit import BandFit
from roomir.decay.heard import HeardClap
from roomir.decay.likelihood import Ints
from roomir.findings.coupled import find_two_slopes
from roomir.findings.echoes import find_reflections
from roomir.findings.envelope import fine_envelope
from roomir.findings.findings import RoomFindings
from roomir.findings.flutter import LOWEST_HZ, find_flutter
from roomir.findings.modes import find_modes


def find(
    recordings: Sequence[Recording],
    found: Sequence[Sequence[Clap]],
    heard: Sequence[HeardClap],
    fits: Sequence[BandFit | None],
    *,
    spot: Ints,
    slopes: Sequence[int | None],
    dimensions_m: tuple[float, float, float] | None = None,
) -> RoomFindings:
    """Look for all of it.

    Parameters
    ----------
    recordings : sequence (n_takes) of Recording
        The takes.
    found : sequence (n_takes) of sequence of Clap
        The events of each.
    heard : sequence (n_claps) of HeardClap
        The claps that were used.
    fits : sequence (n_bands) of BandFit or None
        Their fits.
    spot : int array, shape (n_claps,)
        Spot of every clap.
    slopes : sequence (n_bands) of int or None
        How many slopes the room has in each band, what a neighbouring band leaks left out.
    dimensions_m : (float, float, float), optional
        Length, width and height, for the box's modes. [m]

    Returns
    -------
    RoomFindings
        Plain numbers.
    """
    flutter = find_flutter(
        [
            envelope
            for column, fit in enumerate(fits)
            if fit is not None
            and fit.band_filter.band.exact_hz >= LOWEST_HZ
            and (envelope := fine_envelope(fit, column=column, spot=spot)) is not None
        ],
        dimensions_m=dimensions_m,
    )
    reflections, echoes = find_reflections(
        recordings, found, heard, fits, spot=spot, flutter_s=None if flutter is None else flutter.spacing_s
    )
    return RoomFindings(
        flutter=flutter,
        echoes=echoes,
        two_slopes=find_two_slopes(fits, slopes=slopes),
        reflections=reflections,
        modes=None
        if dimensions_m is None
        else find_modes(recordings, found, heard, fits, dimensions_m=dimensions_m),
    )
