"""The background before and after each clap: what a gain that follows the sound does to it.

A clap ends, and the background is what it was. Where all bands come back quieter by the same
number of decibels and creep up again, the recorder had turned itself down.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from roomir.audio.recording import Sound
from roomir.bands.filters import fast_length
from roomir.bands.fourier import rfft
from roomir.claps.clap import Clap
from roomir.decay.band_fit import BandFit
from roomir.decay.heard import HeardClap
from roomir.decay.likelihood import Floats
from roomir.decay.model import DB_PER_NEPER

_FRAME_S = 0.03
_BEFORE_S = 0.8
_AFTER_S = 1.2
_CLEAR_S = 0.05
_PAST_CROSSPOINT = 1.25
_LEAST_BEFORE = 5
_LEAST_AFTER = 9
_LOWEST_HZ = 200.0
_STEADY_DB = 2.0
_LAST_BIT = 2.0**-15
_HANN_POWER = 0.375


@dataclass(frozen=True, slots=True, kw_only=True)
class BackgroundCourse:
    """Background of one clap over its bands.

    Attributes
    ----------
    columns : tuple of int
        Bands in which it is heard before and after.
    before_db : array, shape (n_columns,)
        Its level before the clap, re anything. [dB]
    lower_db : array, shape (n_columns,)
        How far it lies just after the decay below what it was before the clap. [dB]
    rises_db : array, shape (n_columns,)
        How much it rises from there to the end of what is heard. [dB]
    rising_s : float
        In what time. [s]
    """

    columns: tuple[int, ...]
    before_db: Floats
    lower_db: Floats
    rises_db: Floats
    rising_s: float


def follow_background(
    sound: Sound,
    claps: Sequence[Clap],
    heard: Sequence[tuple[int, HeardClap]],
    fits: Sequence[BandFit | None],
) -> dict[int, BackgroundCourse]:
    """Follow the background around every clap of one take.

    Parameters
    ----------
    sound : Sound
        The take.
    claps : sequence of Clap
        Its events, used or not.
    heard : sequence of (int, HeardClap)
        Rows and claps of this take.
    fits : sequence of BandFit or None
        The bands.

    Returns
    -------
    dict
        By row; without those that leave too little background to be heard.
    """
    onsets = np.array([clap.onset_s for clap in claps])
    sunk = {row: _sunk_s(fits, row) for row, _ in heard}
    by_place = {clap.place: row for row, clap in heard}
    out = {}
    for row, clap in heard:
        onset_s = claps[clap.place].onset_s
        earlier, later = onsets[onsets < onset_s - 1e-6], onsets[onsets > onset_s + 1e-6]
        free_s = float(later.min()) - _CLEAR_S if later.size else np.inf
        clear_s = np.full(len(fits), onset_s - _BEFORE_S)
        if earlier.size:
            before = by_place.get(int(np.flatnonzero(onsets == earlier.max())[0]))
            known = sunk[row if before is None else before]
            longest = np.max(known, initial=0.0, where=~np.isnan(known))
            decayed = np.where(np.isnan(known) | (before is None), longest, known)
            clear_s = np.maximum(clear_s, earlier.max() + decayed + _CLEAR_S)
        course = _course(
            sound,
            fits,
            onset_s=onset_s,
            clear_s=clear_s,
            after_s=onset_s + sunk[row] + _CLEAR_S,
            free_s=free_s,
        )
        if course is not None:
            out[row] = course
    return out


def quiet_stretches(
    claps: Sequence[Clap],
    heard: Sequence[tuple[int, HeardClap]],
    fits: Sequence[BandFit | None],
    *,
    end_s: float,
) -> list[tuple[float, float]]:
    """Stretches of one take between a decay that has sunk in every band and the next event. [s]."""
    onsets = sorted(clap.onset_s for clap in claps)
    out = []
    for row, clap in heard:
        onset_s, sunk_s = claps[clap.place].onset_s, _sunk_s(fits, row)
        if not np.isnan(sunk_s).all():
            stop_s = next((later for later in onsets if later > onset_s + 1e-6), end_s)
            out.append((onset_s + float(np.nanmax(sunk_s)) + _CLEAR_S, stop_s - _CLEAR_S))
    return out


def _sunk_s(fits: Sequence[BandFit | None], row: int) -> Floats:
    """When the decay of a clap has sunk well into the background, band by band; NaN where it is not heard."""
    out = np.full(len(fits), np.nan)
    for column, fit in enumerate(fits):
        if fit is None or fit.band_filter.band.exact_hz < _LOWEST_HZ or row not in fit.rows:
            continue
        own = int(np.flatnonzero(fit.rows == row)[0])
        out[column] = _PAST_CROSSPOINT * fit.model(own).crosspoint_s(fit.traces[own].end_s)
    return out


def _course(
    sound: Sound,
    fits: Sequence[BandFit | None],
    *,
    onset_s: float,
    clear_s: Floats,
    after_s: Floats,
    free_s: float,
) -> BackgroundCourse | None:
    rate = sound.sample_rate_hz
    if np.isnan(after_s).all() or np.isnan(clear_s).all():
        return None
    first_s, last_s = float(np.nanmin(clear_s)), onset_s - _CLEAR_S
    end_s = min(free_s, sound.n_frames / rate, float(np.nanmax(after_s)) + _AFTER_S)
    early, early_s = _frames(sound, from_s=first_s, to_s=last_s)
    # Digital silence before a trimmed take is no background.
    heard = early.any(axis=1)
    early, early_s = early[heard], early_s[heard]
    late, late_s = _frames(sound, from_s=float(np.nanmin(after_s)), to_s=end_s)
    if early_s.size < _LEAST_BEFORE or late_s.size < _LEAST_AFTER:
        return None
    columns, levels, lower, rises, lasted, unsteady = [], [], [], [], [], []
    for column, fit in enumerate(fits):
        if fit is None or np.isnan(after_s[column]):
            continue
        before = _level(early, fit, rate=rate)[early_s >= clear_s[column]]
        behind = late_s >= after_s[column]
        after = _level(late, fit, rate=rate)[behind]
        if before.size < _LEAST_BEFORE or after.size < _LEAST_AFTER:
            continue
        half, third = before.size // 2, after.size // 3
        level, first = _median(before), _median(after[:third])
        unsteady.append(abs(_median(before[:half]) - _median(before[half:])))
        columns.append(column)
        levels.append(level)
        lower.append(level - first)
        rises.append(_median(after[-third:]) - first)
        lasted.append((late_s[-1] - after_s[column]) * 2.0 / 3.0)
    # Somebody who walks or talks before the clap is no background to hold another against.
    if not columns or float(np.median(unsteady)) > _STEADY_DB:
        return None
    return BackgroundCourse(
        columns=tuple(columns),
        before_db=np.array(levels),
        lower_db=np.array(lower),
        rises_db=np.array(rises),
        rising_s=float(np.median(lasted)),
    )


def _median(values: Floats) -> float:
    """Median of a few values; numpy's own spends longer on checks than on them."""
    ordered = np.sort(values)
    return float(0.5 * (ordered[(ordered.size - 1) // 2] + ordered[ordered.size // 2]))


def _frames(sound: Sound, *, from_s: float, to_s: float) -> tuple[Floats, Floats]:
    """Power spectra of frames, shape (n_frames, n_bins), and their middles [s]."""
    rate = sound.sample_rate_hz
    n = fast_length(round(_FRAME_S * rate))
    start, stop = max(0, round(from_s * rate)), min(sound.n_frames, round(to_s * rate))
    if stop - start < n:
        return np.empty((0, n // 2 + 1)), np.empty(0)
    mono = sound.stretch(start=start, stop=stop).sum(axis=1)
    frames = np.lib.stride_tricks.sliding_window_view(mono, n)[::n] * np.hanning(n).astype(np.float32)
    middles = (start + n * (0.5 + np.arange(frames.shape[0]))) / rate
    spectrum = rfft(frames)
    return np.asarray(spectrum.real**2 + spectrum.imag**2, dtype=np.float64), middles


def _level(power: Floats, fit: BandFit, *, rate: float) -> Floats:
    band = fit.band_filter.band
    step_hz = 0.5 * rate / (power.shape[1] - 1)
    low, high = round(band.low_hz / step_hz), round(band.high_hz / step_hz)
    # What lies below the last of 16 bits comes and goes with rounding: it is no background to follow.
    last_bit = (high - low) * _HANN_POWER * 2.0 * (power.shape[1] - 1) * _LAST_BIT**2
    return np.asarray(DB_PER_NEPER * np.log(power[:, low:high].sum(axis=1) + last_bit))
