r"""A take that ends in a fade which reaches into its last decay, told from the decay itself.

Where the fade leaves some background to look at, :mod:`roomir.faults.ends` follows it from the
very end. Where it goes through a decay, no level is steady; but which gain a fade in a straight
line has at any moment is known, :math:`\tau/\tau_0` where :math:`\tau` is the time left to the end of the
take. So the two can be held against each other with nothing to adjust: the decay as it is, and the
decay with the fade taken back, each under a fit of its own. A decay that is merely cut off gets no
likelier by dividing it by a falling gain, and a steady background far less likely.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from roomir.audio.recording import Sound
from roomir.claps.clap import Clap
from roomir.decay.band_fit import BandFit
from roomir.decay.heard import HeardClap
from roomir.decay.likelihood import BlockEnergies, Floats, fit_decay
from roomir.faults.fault import Fault
from roomir.faults.scores import LEAST_BANDS
from roomir.faults.shapes import LAST_BIT_PER_HZ
from roomir.remarks import Remark

SURE = 4.6
"""Log-likelihood that taking the fade back gains over all bands: a hundred times likelier. None of some
360 takes that end in background or inside a decay came near, most of them lose tens and hundreds."""
SURE_WITHOUT_LOUDEST = 1.0

_BEGINS = (0.0, 0.3)
"""Where a fade begins, as a part of the time from the clap to the end of the take."""
_LAST_PART = 0.03
"""So close to the end the filters' own ringing and the steps of 16 bits are all there is."""
_BELOW_LAST_BIT = 0.2
_LEAST_HEARD = 0.67
_LEAST_BLOCKS = 5
_LOWEST_HZ = 400.0
_FALLS_OFF = 0.3
_ENDS_IN, _AGAINST = 0.05, 0.2


def find_faded_end(
    sound: Sound,
    claps: Sequence[Clap],
    heard: Sequence[tuple[int, HeardClap]],
    fits: Sequence[BandFit | None],
    *,
    take: int,
) -> list[Fault]:
    """Name the last clap of a take if a fade goes through its decay.

    Parameters
    ----------
    sound : Sound
        The take.
    claps : sequence of Clap
        Its events, used or not.
    heard : sequence of (int, HeardClap)
        Rows and claps of this take, one or more.
    fits : sequence of BandFit or None
        The bands.
    take : int
        Which recording.
    """
    row, clap = max(heard, key=lambda one: claps[one[1].place].onset)
    left_s = sound.n_frames / sound.sample_rate_hz - claps[clap.place].onset_s
    if not _falls_off(sound, left_s=left_s):
        return []
    gains = [
        gain for fit in fits if fit is not None and (gain := _gained(fit, row, left_s=left_s)) is not None
    ]
    if len(gains) < LEAST_BANDS:
        return []
    over_bands = np.sum(gains, axis=0)
    best = int(np.argmax(over_bands))
    without_loudest = over_bands[best] - max(gain[best] for gain in gains)
    if over_bands[best] < SURE or without_loudest < SURE_WITHOUT_LOUDEST:
        return []
    remark = Remark(
        code="faded-out",
        says="the take is faded out while its last clap rings: its decay is read too short",
        remedy="use the recording as it came from the microphone, without fades",
    )
    return [Fault(remark=remark, take=take, place=clap.place)]


def _falls_off(sound: Sound, *, left_s: float) -> bool:
    """Whether the last moments are quieter than those before them: most takes end in steady background."""
    n = round(left_s * sound.sample_rate_hz)
    near, far = round(_ENDS_IN * n), round(_AGAINST * n)
    if near < 1:
        return False
    change = np.diff(sound.stretch(start=sound.n_frames - far - 1, stop=sound.n_frames), axis=0)
    power = np.einsum("ij,ij->i", change, change)
    return bool(power[-near:].mean() <= _FALLS_OFF * power[:-near].mean())


def _gained(fit: BandFit, row: int, *, left_s: float) -> Floats | None:
    """Log-likelihood that taking a fade back gains in one band; shape (n_begins,)."""
    own = np.flatnonzero(fit.rows == row)
    if fit.band_filter.band.exact_hz < _LOWEST_HZ or not own.size:
        return None
    here, edges = int(own[0]), fit.blocks.edges_s
    if fit.traces[here].end_s < _LEAST_HEARD * left_s:
        return None
    # Rounding hides a band altogether only well below one step: the loud ones keep it moving.
    last_bit = _BELOW_LAST_BIT * LAST_BIT_PER_HZ * fit.band_filter.band.width_hz
    seen = (edges[1:] < left_s * (1.0 - _LAST_PART)) & (fit.own.expectation[here] > last_bit)
    shape = np.where(seen, fit.blocks.shape[here], 0.0)
    if np.count_nonzero(shape) < _LEAST_BLOCKS:
        return None
    to_end_s = np.maximum(left_s - 0.5 * (edges[1:] + edges[:-1]), _LAST_PART * left_s)
    full_s = left_s * (1.0 - np.array([[0.0], *([begins] for begins in _BEGINS)]))
    log_gain = 2.0 * np.log(np.minimum(to_end_s / full_s, 1.0))
    log_gain[0] = 0.0
    n = log_gain.shape[0]
    undone = fit_decay(
        BlockEnergies(
            edges_s=edges, energy=fit.blocks.energy[here] * np.exp(-log_gain), shape=np.tile(shape, (n, 1))
        ),
        group=np.arange(n),
        shared=np.repeat(fit.own.shared[here : here + 1], n, axis=0),
        log_level=np.repeat(fit.own.log_level[here], n),
        log_noise=np.repeat(fit.own.log_noise[here], n),
    )
    likelihood = undone.log_likelihood - log_gain @ shape
    return np.asarray(likelihood[1:] - likelihood[0])
