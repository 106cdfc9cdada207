"""How the energy of one clap runs down in one band, before any model is laid over it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from roomir.audio.recording import Samples
from roomir.bands.filters import BandFilter, Complexes, fast_length, filter_stretch
from roomir.bands.fourier import rfft

Floats = NDArray[np.float64]

LEAD_S = 0.11
"""Sound kept before the onset: what the 63 Hz filter smears forward of it. [s]"""

LOOK_AHEAD_BT = 2.5
"""How many 1/B the filter looks ahead: nearer to the end of the sound than this its output fades. """

_FADE_S = 0.004
_LENGTH_STEP_S = 0.25
_QUIET_SHARE = 0.2
_OVER_FLOOR = 10.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EnergyTrace:
    """Energy of one clap in one band against time after the onset, summed over the channels.

    Attributes
    ----------
    start_s : float
        Time of the first edge; negative, before the onset. [s]
    step_s : float
        Spacing of the edges. [s]
    cumulative : array, shape (n + 1,)
        Energy since the first edge. [full scale squared times s]
    end_s : float
        Until when the filter still saw nothing but this decay. [s]
    channels_worth : float
        How many independent channels the sum is worth: 1 for one channel or
        for several that carry the same sound.
    """

    start_s: float
    step_s: float
    cumulative: Floats
    end_s: float
    channels_worth: float

    def until(self, time_s: Floats) -> Floats:
        """Energy from the first edge to ``time_s``, constant outside the trace."""
        edges_s = self.start_s + self.step_s * np.arange(self.cumulative.size)
        return np.asarray(np.interp(time_s, edges_s, self.cumulative))

    def mean_between(self, edges_s: Floats) -> Floats:
        """Mean power in the blocks between consecutive ``edges_s``."""
        return np.asarray(np.diff(self.until(edges_s)) / np.diff(edges_s))


def trace_energy(
    stretch: Samples,
    *,
    onset: int,
    sample_rate_hz: float,
    filters: Sequence[BandFilter],
) -> tuple[EnergyTrace, ...]:
    """Filter the stretch around one clap and sum up its energy in every band.

    Parameters
    ----------
    stretch : array, shape (n_frames, n_channels)
        Sound from up to ``LEAD_S`` before the onset to the end of the free decay.
    onset : int
        Frame of the onset within ``stretch``.
    sample_rate_hz : float
        Rate. [Hz]
    filters : sequence of BandFilter
        Bands that the rate can carry.

    Returns
    -------
    tuple of EnergyTrace
        One a band, in the order given.
    """
    n = stretch.shape[0]
    # Zeros enough for the lowest band to ring out before it comes round to the other end.
    n_ring = int(4.0 / min(f.band.width_hz for f in filters) * sample_rate_hz)
    # In steps, so that claps of a take share a length and with it the filters' responses.
    n_step = max(1, int(_LENGTH_STEP_S * sample_rate_hz))
    n_fft = fast_length(-(-(n + n_ring) // n_step) * n_step)
    # Single precision, as the sound has: what it rounds off lies 130 dB below the clap.
    sound = np.array(stretch.T)
    sound -= sound.mean(axis=1, keepdims=True, dtype=np.float64).astype(np.float32)
    _fade(sound, n_lead=onset, n_fade=int(_FADE_S * sample_rate_hz))
    spectrum = rfft(sound, n_fft)
    return tuple(
        _trace(
            spectrum, n_fft=n_fft, n=n, onset=onset, sample_rate_hz=sample_rate_hz, band_filter=band_filter
        )
        for band_filter in filters
    )


def _fade(sound: Samples, *, n_lead: int, n_fade: int) -> None:
    """Soften the cut ends, so that rumble cut off there does not click into the other bands."""
    ramp = _ramp(min(n_fade, n_lead))
    sound[:, : ramp.size] *= ramp
    tail = _ramp(min(n_fade, sound.shape[1] - n_lead - 1))
    if tail.size:
        sound[:, -tail.size :] *= tail[::-1]


@lru_cache(maxsize=8)
def _ramp(n: int) -> Samples:
    return np.asarray(np.sin(0.5 * np.pi * (np.arange(n) + 0.5) / max(n, 1)) ** 2, dtype=np.float32)


def _trace(
    spectrum: Complexes,
    *,
    n_fft: int,
    n: int,
    onset: int,
    sample_rate_hz: float,
    band_filter: BandFilter,
) -> EnergyTrace:
    signal = filter_stretch(spectrum, n_fft=n_fft, sample_rate_hz=sample_rate_hz, band_filter=band_filter)
    step_s = 1.0 / signal.rate_hz
    # What lies past the end of the sound has come round from before its start.
    n_seen = min(signal.analytic.shape[1], int(np.ceil(n / sample_rate_hz * signal.rate_hz)))
    power = 0.5 * (signal.analytic.real[:, :n_seen] ** 2 + signal.analytic.imag[:, :n_seen] ** 2)
    cumulative = np.concatenate([[0.0], np.cumsum(power.sum(axis=0), dtype=np.float64) * step_s])
    return EnergyTrace(
        # Sample i stands for the step centred on it.
        start_s=-onset / sample_rate_hz - 0.5 * step_s,
        step_s=step_s,
        cumulative=cumulative,
        end_s=(n - onset) / sample_rate_hz - LOOK_AHEAD_BT / band_filter.band.width_hz,
        channels_worth=_channels_worth(
            signal.analytic[:, :n_seen],
            power,
            n_smooth=int(3.0 * signal.rate_hz / band_filter.band.width_hz),
        ),
    )


def _channels_worth(analytic: Complexes, power: Samples, *, n_smooth: int) -> float:
    r"""Participation ratio :math:`(\sum\lambda)^2 / \sum\lambda^2` of the channels' covariance.

    Each instant of the decay counts alike, whatever its level: the decay is
    divided out, so that the direct sound, which all channels share, does not
    decide alone. The background, in which they may differ, is left out.
    """
    if analytic.shape[0] == 1:
        return 1.0
    total = power.sum(axis=0)
    n_smooth = max(1, min(n_smooth, total.size // 8))
    smooth = np.convolve(total, np.ones(n_smooth) / n_smooth, mode="same")
    floor = float(np.quantile(smooth, _QUIET_SHARE))
    decaying = smooth > _OVER_FLOOR * floor
    decaying &= smooth > np.finfo(float).tiny
    if not decaying.any():
        return 1.0
    white = analytic[:, decaying] / np.sqrt(smooth[decaying])
    covariance = white @ white.conj().T
    return float(np.trace(covariance).real ** 2 / (np.abs(covariance) ** 2).sum())
