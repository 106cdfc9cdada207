"""Where something sudden happens, and the exact frame at which it begins."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomir.audio.recording import Sound
from roomir.claps.envelope import Envelope, changes, lag_frames

Values = NDArray[np.float64]

RISE_DB = 8.0
"""Least rise of two milliseconds over what came before them that is worth a look. [dB]"""

_N_BEFORE = 10
_N_PEAKS_BEFORE = 21
_SHARE_OF_PEAK = 0.3
_N_AROUND = 4
_FLOOR_DB = -120.0
_START_RISE_DB = 10.0

_BEFORE_S = 0.002
_AFTER_S = 0.03
_WITHIN_PEAK_DB = 20.0
_OVER_NOISE_DB = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """A sudden arrival of sound.

    Attributes
    ----------
    onset : int
        First frame within 20 dB of the peak. [frames]
    i_step : int
        Step of the envelope in which the rise happens.
    rise_db : float
        Energy of the step and its successor over that of the steps before;
        infinite at the very start of a recording. [dB]
    energy : float
        Highest energy of a step at the rise, in the envelope's unit.
    attack_db : float
        That energy over the highest in the 60 ms that follow. [dB]
    opening_db : float
        Energy of the first 10 ms over that of the 30 ms that follow. [dB]
    peak : float
        Highest magnitude within 30 ms over all channels, full scale = 1.
    """

    onset: int
    i_step: int
    rise_db: float
    energy: float
    attack_db: float
    opening_db: float
    peak: float


def find_arrivals(sound: Sound, *, envelope: Envelope) -> tuple[Arrival, ...]:
    """List everything that arrives suddenly, in time order.

    Parameters
    ----------
    sound : Sound
        The recording; only stretches of some 30 ms around each arrival are looked up.
    envelope : Envelope
        Its envelope.

    Returns
    -------
    tuple of Arrival
        Empty for silence and for sound without a sudden rise.
    """
    arrivals: list[Arrival] = []
    for i_step, rise_db in find_rises(envelope):
        onset, peak = refine_onset(sound, centre=i_step * envelope.n_step, at_start=i_step == 0)
        if arrivals and onset <= arrivals[-1].onset:
            continue
        course = envelope.energy[max(i_step - 1, 0) : i_step + 60]
        arrivals.append(
            Arrival(
                onset=onset,
                i_step=i_step,
                rise_db=rise_db,
                energy=float(course[:5].max()),
                attack_db=_over(float(course[:5].max()), float(course[5:].max(initial=0.0))),
                opening_db=_over(float(course[:11].sum()), float(course[11:41].sum())),
                peak=peak,
            )
        )
    return tuple(arrivals)


def find_rises(envelope: Envelope) -> tuple[tuple[int, float], ...]:
    """List the steps at which the envelope rises suddenly, and by how much. [dB]."""
    energy = envelope.energy
    if energy.size <= _N_BEFORE or not energy.max() > 0.0:
        return ()
    floor = float(energy.max()) * 10.0 ** (_FLOOR_DB / 10.0)
    total = np.concatenate([[0.0], np.cumsum(energy)])
    now = 0.5 * (energy[:-1] + energy[1:])
    # The step just before belongs to neither side: the rise may begin in it.
    last = np.maximum(np.arange(now.size) - 1, 0)
    first = np.maximum(last - _N_BEFORE, 0)
    before = np.maximum(total[last] - total[first], 0.0) / np.maximum(last - first, 1)
    # Mains hum and other pulse trains peak every 8 to 20 ms; one more peak is no rise.
    peaks = np.concatenate([[0.0], _highest_of_last(energy, n=_N_PEAKS_BEFORE)])[last]
    rise = now / np.maximum(np.maximum(before, _SHARE_OF_PEAK * peaks), floor)
    rise[:2] = 0.0
    hits = np.flatnonzero(rise >= 10.0 ** (RISE_DB / 10.0))
    rises = [(int(i), _decibels(float(rise[i]))) for i in hits if _is_top(rise, int(i))]
    if _starts_suddenly(envelope):
        rises = [(0, float("inf"))] + [(i, db) for i, db in rises if i > 2 * _N_AROUND]
    return tuple(rises)


def refine_onset(sound: Sound, *, centre: int, at_start: bool) -> tuple[int, float]:
    """Find the first frame within 20 dB of an event's peak, and the peak.

    Parameters
    ----------
    sound : Sound
        The recording.
    centre : int
        First frame of the envelope's step in which the rise happens. [frames]
    at_start : bool
        Whether the recording begins with the event, so that nothing precedes it.

    Returns
    -------
    onset : int
        Start of the response. [frames]
    peak : float
        Highest magnitude over all channels, full scale = 1.

    Notes
    -----
    ISO 3382-1:2009, 5.3: the response starts where its level is still at
    least 20 dB below its highest. Noise before a weak event can lie within
    those 20 dB. So the search is done on the pre-emphasised sound, from which
    rumble and hum are gone, doesn't reach back by more than 2 ms from the
    rise, and asks for more than the noise just before has.
    """
    rate = sound.sample_rate_hz
    lag = max(1, lag_frames(sample_rate_hz=rate) // 2)
    start = max(centre - round(_BEFORE_S * rate), 0)
    n_quiet = min(round(0.01 * rate), start)
    stretch = sound.stretch(start=start, stop=centre + round(_AFTER_S * rate))
    peak = float(np.max(np.abs(stretch)))
    change = changes(
        sound, start=start - n_quiet, stop=start + stretch.shape[0], lag=lag, from_silence=at_start
    )
    squared = np.einsum("ij,ij->i", change, change)
    threshold = float(squared.max()) * 10.0 ** (-_WITHIN_PEAK_DB / 10.0)
    if n_quiet > 0:
        threshold = max(threshold, float(squared[:n_quiet].max()) * 10.0 ** (_OVER_NOISE_DB / 10.0))
    above = np.flatnonzero(squared[n_quiet:] >= min(threshold, 0.5 * float(squared[n_quiet:].max())))
    return start + (int(above[0]) if above.size else 0), peak


def _is_top(rise: Values, i: int) -> bool:
    """Whether no steeper rise lies within some milliseconds, and no equal one before."""
    around = rise[max(i - _N_AROUND, 0) : i + _N_AROUND + 1]
    return bool(rise[i] >= around.max()) and int(np.argmax(around)) == min(i, _N_AROUND)


def _starts_suddenly(envelope: Envelope) -> bool:
    """Whether the first milliseconds stand over what follows soon, as in a take cut to its clap."""
    n_smooth = 30
    early = envelope.energy[: round(3.0 / envelope.step_s)]
    if early.size < 2 * n_smooth:
        return False
    total = np.concatenate([[0.0], np.cumsum(early[8:])])
    smooth = np.maximum(total[n_smooth:] - total[:-n_smooth], 0.0) / n_smooth
    start = float(early[:5].mean())
    return start > 10.0 ** (_START_RISE_DB / 10.0) * float(smooth.min()) and start > 0.1 * float(smooth.max())


def _highest_of_last(values: Values, *, n: int) -> Values:
    """Maximum over each value and the ``n - 1`` before it, by doubling."""
    best = values.copy()
    width = 1
    while width < n:
        shift = min(width, n - width)
        best[shift:] = np.maximum(best[shift:], best[:-shift])
        width += shift
    return best


def _over(part: float, rest: float) -> float:
    """Level of a part over the rest; infinite where there is no rest. [dB]."""
    return _decibels(part / rest) if rest > 0.0 else float("inf")


def _decibels(ratio: float) -> float:
    return 10.0 * float(np.log10(ratio)) if ratio > 0.0 else float("-inf")
