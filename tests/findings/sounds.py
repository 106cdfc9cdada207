"""Claps in rooms whose flutter, echoes and tones are known, as the findings get them. All values invented."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from roomir.audio.recording import Recording, SoundInMemory
from roomir.bands.band import OCTAVES
from roomir.bands.filters import BandFilter
from roomir.claps.clap import Clap
from roomir.decay.band_fit import fit_bands
from roomir.decay.energy import LEAD_S, trace_energy
from roomir.decay.heard import HeardClap
from roomir.decay.spots import find_spots
from roomir.findings.find import find
from roomir.findings.findings import RoomFindings
from roomir.synth.decay import Slope, room_response
from roomir.synth.sources import clap_pulse

RATE_HZ = 16_000
FILTERS = tuple(BandFilter(band) for band in OCTAVES if band.high_hz < 0.48 * RATE_HZ)
_SILENCE_S = 0.3


def response(
    rng: np.random.Generator,
    *,
    decay_time_s: float,
    second: Slope | None = None,
    direct_db: float = 0.0,
    n_early: int = 6,
    duration_s: float | None = None,
) -> np.ndarray:
    """A diffuse room: direct sound, early reflections, reverberation of unit variance at time zero."""
    slopes = [Slope(decay_time_s=decay_time_s), *([second] if second else [])]
    return room_response(
        rng=rng,
        sample_rate_hz=RATE_HZ,
        slopes=slopes,
        duration_s=duration_s or 1.2 * max(s.decay_time_s for s in slopes) + 0.2,
        direct_to_reverberant_db=direct_db,
        n_early=n_early,
        early_s=0.03,
    )


def with_flutter(
    diffuse: np.ndarray,
    rng: np.random.Generator,
    *,
    spacing_s: float,
    strength_db: float,
    decay_time_s: float,
) -> np.ndarray:
    """The same room with a row of echoes, its energy so far above the reverberation at every moment."""
    time_s = np.arange(diffuse.size) / RATE_HZ
    at = np.round(np.arange(rng.uniform(0.3, 1.0) * spacing_s, time_s[-1], spacing_s) * RATE_HZ).astype(int)
    row = np.zeros(diffuse.size)
    # The reverberation has unit variance: as much energy in a spacing as it has samples.
    row[at] = np.sqrt(spacing_s * RATE_HZ) * 10.0 ** (strength_db / 20.0 - 3.0 * time_s[at] / decay_time_s)
    return diffuse + row


def findings_of(
    responses: Sequence[np.ndarray],
    rng: np.random.Generator,
    *,
    background_db: float = -50.0,
    claps: int = 1,
    dry: np.ndarray | None = None,
    dimensions_m: tuple[float, float, float] | None = None,
) -> RoomFindings:
    """Clap in rooms (one response a spot), over a background re the loudest frame, and look what is found."""
    lead = round(LEAD_S * RATE_HZ)
    parts, events, at = [], [], 0
    for one in responses:
        for _ in range(claps):
            pulse = clap_pulse(rng=rng, sample_rate_hz=RATE_HZ) if dry is None else dry
            sound = np.concatenate(
                [np.zeros(lead), np.convolve(one, pulse), np.zeros(round(_SILENCE_S * RATE_HZ))]
            )
            top = np.abs(sound).max()
            onset = int(np.argmax(np.abs(sound) >= 0.1 * top))
            parts.append(sound / top)
            events.append(
                Clap(onset=at + onset, stop=at + sound.size, sample_rate_hz=RATE_HZ, peak_dbfs=-6.0)
            )
            at += sound.size
    samples = np.concatenate(parts)
    samples += rng.standard_normal(samples.size) * 10.0 ** (background_db / 20.0)
    recording = Recording(
        sound=SoundInMemory(samples=0.5 * samples / np.abs(samples).max(), sample_rate_hz=RATE_HZ),
        source_name="take",
    )
    heard = []
    for place, clap in enumerate(events):
        stretch = recording.sound.stretch(start=clap.onset - lead, stop=clap.stop)
        traces = trace_energy(stretch, onset=lead, sample_rate_hz=RATE_HZ, filters=FILTERS)
        heard.append(HeardClap(take=0, place=place, traces=traces))
    fits = fit_bands([one.traces for one in heard], filters=FILTERS)
    return find(
        [recording],
        [events],
        heard,
        fits,
        spot=find_spots([fit for fit in fits if fit is not None], n_claps=len(heard)),
        slopes=[None if fit is None else fit.n_slopes for fit in fits],
        dimensions_m=dimensions_m,
    )
