"""Decays made by hand whose every quantity is known, and noise whose expectation is. All values invented."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from roomir.audio.recording import Recording, SoundInMemory
from roomir.bands.band import OCTAVES
from roomir.bands.filters import BandFilter
from roomir.claps.clap import Clap
from roomir.decay.band_fit import BandFit, fit_bands
from roomir.decay.combine import Estimate, estimate_room
from roomir.decay.curve import DecayCurve
from roomir.decay.energy import LEAD_S, EnergyTrace, trace_energy
from roomir.decay.model import DecayModel
from roomir.decay.spots import find_spots
from roomir.synth.box import octave_crossfades
from roomir.synth.decay import Slope, room_response

LN_60_DB = 6.0 * np.log(10.0)
"""Nepers of energy in 60 dB."""

OCTAVE = {band.nominal_hz: band for band in OCTAVES}
FILTER = {band.nominal_hz: BandFilter(band) for band in OCTAVES}


def model_of(*slopes: tuple[float, float], noise_db: float | None = None) -> DecayModel:
    """Decay of (decay time [s], level of the squared envelope [dB]) each, over a steady background."""
    return DecayModel(
        rates=tuple(LN_60_DB / time_s for time_s, _ in slopes),
        levels=tuple(10.0 ** (level_db / 10.0) for _, level_db in slopes),
        noise=0.0 if noise_db is None else 10.0 ** (noise_db / 10.0),
    )


def trace_of(model: DecayModel, *, end_s: float, step_s: float = 1e-4, start_s: float = -0.05) -> EnergyTrace:
    """Energy of exactly that model: background from the start, the decay from time zero on."""
    edges_s = start_s + step_s * np.arange(round((end_s - start_s) / step_s) + 1)
    since_s = np.maximum(edges_s, 0.0)
    decayed = sum(
        level / rate * -np.expm1(-rate * since_s)
        for level, rate in zip(model.levels, model.rates, strict=True)
    )
    return EnergyTrace(
        start_s=start_s,
        step_s=step_s,
        cumulative=decayed + model.noise * (edges_s - start_s),
        end_s=float(edges_s[-1]),
        channels_worth=1.0,
    )


def curve_of(energy_left: np.ndarray, time_s: np.ndarray) -> DecayCurve:
    """Curve of an energy still to come that is known at every time."""
    with np.errstate(divide="ignore"):
        return DecayCurve(time_s=time_s, level_db=10.0 * np.log10(energy_left / energy_left[0]))


def noise_decay(
    rng: np.random.Generator,
    *,
    decay_time_s: float,
    sample_rate_hz: int,
    duration_s: float,
    second: tuple[float, float] | None = None,
    direct_db: float | None = None,
    n_early: int = 0,
    background_db: float | None = None,
) -> np.ndarray:
    """White Gaussian decay with ``LEAD_S`` of background before it; frame of the onset: ``lead_of``.

    ``second`` is decay time [s] and level [dB] of a second slope, ``direct_db`` the energy of the direct
    sound over the reverberation's, ``background_db`` its level under the start of the decay.
    """
    slopes = [Slope(decay_time_s=decay_time_s)]
    if second is not None:
        slopes.append(Slope(decay_time_s=second[0], level_db=second[1]))
    response = room_response(
        rng=rng,
        sample_rate_hz=sample_rate_hz,
        slopes=slopes,
        duration_s=duration_s,
        direct_to_reverberant_db=direct_db,
        n_early=n_early,
    )
    sound = np.concatenate([np.zeros(lead_of(sample_rate_hz)), response])
    if background_db is not None:
        sound += rng.standard_normal(sound.size) * 10.0 ** (background_db / 20.0)
    return sound


def lead_of(sample_rate_hz: int) -> int:
    """Frames before the onset of ``noise_decay``."""
    return round(LEAD_S * sample_rate_hz)


def trace_in(sound: np.ndarray, *, nominal_hz: float, sample_rate_hz: int) -> EnergyTrace:
    """Energy of one band of a sound from ``noise_decay``, shape (n,) or (n, n_channels)."""
    frames = sound[:, np.newaxis] if sound.ndim == 1 else sound
    return trace_energy(
        frames,
        onset=lead_of(sample_rate_hz),
        sample_rate_hz=sample_rate_hz,
        filters=[FILTER[nominal_hz]],
    )[0]


def take_of(sound: np.ndarray, *, sample_rate_hz: int, name: str = "take") -> Recording:
    """Recording of a sound, its peak put 6 dB below full scale."""
    return Recording(
        sound=SoundInMemory(samples=0.5 * sound / np.abs(sound).max(), sample_rate_hz=sample_rate_hz),
        source_name=name,
    )


def clap_at(onset: int, *, stop: int, sample_rate_hz: int) -> Clap:
    """Clap whose place is known."""
    return Clap(onset=onset, stop=stop, sample_rate_hz=sample_rate_hz, peak_dbfs=-6.0)


def take_of_claps(
    responses: Sequence[np.ndarray], *, sample_rate_hz: int, name: str = "take"
) -> tuple[Recording, tuple[Clap, ...]]:
    """One recording of several sounds from ``noise_decay`` after one another, with its claps."""
    lead, claps, at = lead_of(sample_rate_hz), [], 0
    for response in responses:
        claps.append(clap_at(at + lead, stop=at + response.shape[0], sample_rate_hz=sample_rate_hz))
        at += response.shape[0]
    return take_of(np.concatenate(responses), sample_rate_hz=sample_rate_hz, name=name), tuple(claps)


def fit_of(traces: Sequence[EnergyTrace], *, nominal_hz: float) -> BandFit | None:
    """Fit of one band alone, one trace a clap."""
    return fit_bands([[trace] for trace in traces], filters=[FILTER[nominal_hz]])[0]


def octave_wise_decay(
    rng: np.random.Generator,
    *,
    decay_times_s: dict[float, float],
    sample_rate_hz: int,
    duration_s: float,
    background_db: float,
    brick_walls: bool,
) -> np.ndarray:
    """White noise whose octaves decay at times of their own, as ``noise_decay`` otherwise.

    Between the octaves stand either walls at the exact band edges, so that an octave holds nothing of its
    neighbours, or crossfades from midband to midband, so that each holds a part of both.
    """
    n = round(duration_s * sample_rate_hz)
    frequency_hz = np.fft.rfftfreq(n, 1.0 / sample_rate_hz)
    if brick_walls:
        edges_hz = [band.low_hz for band in OCTAVES[1:]]
        weights = np.eye(len(OCTAVES))[np.searchsorted(edges_hz, frequency_hz)].T
    else:
        weights = octave_crossfades(frequency_hz)
    spectrum = np.fft.rfft(rng.standard_normal(n))
    time_s = np.arange(n) / sample_rate_hz
    sound = np.zeros(n)
    for band, weight in zip(OCTAVES, weights, strict=True):
        rate = LN_60_DB / decay_times_s[band.nominal_hz]
        sound += np.fft.irfft(spectrum * weight, n) * np.exp(-0.5 * rate * time_s)
    sound = np.concatenate([np.zeros(lead_of(sample_rate_hz)), sound])
    return sound + rng.standard_normal(sound.size) * 10.0 ** (background_db / 20.0)


@dataclass(frozen=True, kw_only=True)
class HeardRoom:
    """Bands of an invented room after the fit: fits, spot of each clap, estimates; by nominal frequency."""

    fits: dict[float, BandFit | None]
    spot: np.ndarray
    estimates: dict[float, Estimate | None]


HEARD_RATE_HZ = 8_000
HEARD_HZ = (125.0, 250.0, 500.0, 1000.0, 2000.0)


def hear(sounds: Sequence[np.ndarray], *, names: Sequence[float] = HEARD_HZ) -> HeardRoom:
    """Fit claps at 8 kHz, one sound from ``noise_decay`` each, as a reading does it."""
    filters = [FILTER[hz] for hz in names]
    traces = [
        trace_energy(
            sound[:, np.newaxis] if sound.ndim == 1 else sound,
            onset=lead_of(HEARD_RATE_HZ),
            sample_rate_hz=HEARD_RATE_HZ,
            filters=filters,
        )
        for sound in sounds
    ]
    fits = fit_bands(traces, filters=filters)
    spot = find_spots([fit for fit in fits if fit is not None], n_claps=len(sounds))
    estimates = [None if fit is None else estimate_room(fit, spot=spot) for fit in fits]
    return HeardRoom(
        fits=dict(zip(names, fits, strict=True)),
        spot=spot,
        estimates=dict(zip(names, estimates, strict=True)),
    )


def claps_in_spots(
    rng: np.random.Generator,
    *,
    n_spots: int,
    claps_per_spot: int = 1,
    background_db: float = -50.0,
    decay_time_s: float = 0.5,
    duration_s: float | None = None,
    **which: object,
) -> list[np.ndarray]:
    """Sounds of claps: in one spot the same response at another loudness, with a background of its own."""
    sounds = []
    for _ in range(n_spots):
        response = noise_decay(
            rng,
            decay_time_s=decay_time_s,
            sample_rate_hz=HEARD_RATE_HZ,
            duration_s=duration_s or 2.0 * decay_time_s + 0.3,
            **which,
        )
        for _ in range(claps_per_spot):
            louder = 10.0 ** (rng.uniform(-3.0, 3.0) / 20.0)
            hiss = rng.standard_normal(response.shape) * 10.0 ** (background_db / 20.0)
            sounds.append(louder * response + hiss)
    return sounds
