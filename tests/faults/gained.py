"""Takes of claps as a good recorder keeps them, and what other recorders do to them. Values are invented."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from roomir.audio.recording import Recording, SoundInMemory
from roomir.bands.band import OCTAVES
from roomir.bands.filters import BandFilter
from roomir.claps.find import find_claps
from roomir.decay.band_fit import BandFit, fit_bands
from roomir.decay.energy import LEAD_S, trace_energy
from roomir.decay.heard import HeardClap
from roomir.faults.fault import Fault
from roomir.faults.in_decays import inspect_decays
from roomir.reading.reading import Reading
from roomir.reading.take import take_reading
from roomir.synth.takes import SynthTake, make_take

RATE_HZ = 24_000
"""Enough for all octaves."""

STEP = 24
"""Frames from one gain to the next: 1 ms."""

FILTERS = tuple(BandFilter(band) for band in OCTAVES)


@lru_cache(maxsize=8)
def claps(seed: int, *, decay_time_s: float = 0.5, n: int = 3, background_db: float = -75.0) -> SynthTake:
    """Claps in as many spots."""
    return make_take(
        seed=seed,
        sample_rate_hz=RATE_HZ,
        decay_time_s=decay_time_s,
        n_claps=n,
        spots=n,
        background_db=background_db,
        spacing_s=(2.2 * decay_time_s + 0.7, 2.2 * decay_time_s + 0.8),
    )


def sound_of(take: SynthTake) -> np.ndarray:
    """Its samples in full precision."""
    return np.asarray(take.samples, dtype=np.float64)


def levels_db(sound: np.ndarray) -> np.ndarray:
    """Level of each step re the loudest. [dB]."""
    steps = sound[: sound.size // STEP * STEP].reshape(-1, STEP)
    power = np.convolve((steps**2).mean(axis=1), np.ones(5) / 5.0, mode="same")
    return np.asarray(10.0 * np.log10(power / power.max() + 1e-12))


def ridden(sound: np.ndarray, wanted_db: np.ndarray, *, down_s: float, up_s: float) -> np.ndarray:
    """Apply a gain that goes after what is wanted, down and up at its own pace."""
    down, up = (1.0 - np.exp(-STEP / RATE_HZ / time_s) for time_s in (down_s, up_s))
    gain_db, now = np.empty(wanted_db.size), float(wanted_db[0])
    for i, wanted in enumerate(wanted_db.tolist()):
        now += (down if wanted < now else up) * (wanted - now)
        gain_db[i] = now
    at = np.arange(sound.size)
    gain: np.ndarray = 10.0 ** (np.interp(at, (np.arange(gain_db.size) + 0.5) * STEP, gain_db) / 20.0)
    return sound * gain


def automatic_gain(sound: np.ndarray) -> np.ndarray:
    """Down within milliseconds by what is above a target, up within a second."""
    return ridden(sound, np.minimum(-20.0 - levels_db(sound), 6.0), down_s=0.003, up_s=1.0)


def compressed(sound: np.ndarray) -> np.ndarray:
    """Four to one above a threshold 25 dB below the loudest."""
    return ridden(sound, -0.75 * np.maximum(levels_db(sound) + 25.0, 0.0), down_s=0.002, up_s=0.05)


def gated(sound: np.ndarray, *, below_db: float = -35.0) -> np.ndarray:
    """Shut by 40 dB below a threshold."""
    return ridden(sound, np.where(levels_db(sound) > below_db, 0.0, -40.0), down_s=0.1, up_s=0.001)


def suppressed(sound: np.ndarray) -> np.ndarray:
    """Wiener gain per bin of a short spectrum, against the median background, down to -20 dB."""
    from scipy.signal import istft, stft

    _, _, spectra = stft(sound, RATE_HZ, nperseg=512)
    power = np.abs(spectra) ** 2
    noise = 6.0 * np.quantile(power, 0.3, axis=1, keepdims=True)
    smooth = power.copy()
    for i in range(1, power.shape[1]):
        # Suppressors open at once and shut slowly.
        smooth[:, i] = np.maximum(power[:, i], 0.6 * smooth[:, i - 1])
    gain = np.maximum(1.0 - noise / smooth, 0.1)
    _, out = istft(spectra * gain, RATE_HZ, nperseg=512)
    return np.asarray(out[: sound.size])


def recording_of(sound: np.ndarray, *, peak: float = 0.5) -> Recording:
    """Recording with its peak at half of full scale, or where it is asked for."""
    samples = (peak * sound / np.abs(sound).max()).astype(np.float32)
    return Recording(sound=SoundInMemory(samples=samples, sample_rate_hz=RATE_HZ), source_name="take")


def hear(
    sound: np.ndarray, *, peak: float = 0.5
) -> tuple[Recording, list[HeardClap], tuple[BandFit | None, ...]]:
    """Find the claps of a sound and fit their decays."""
    recording = recording_of(sound, peak=peak)
    found = [clap for clap in find_claps(recording.sound) if clap.used]
    heard = []
    for place, clap in enumerate(found):
        start = max(0, clap.onset - round(LEAD_S * RATE_HZ))
        traces = trace_energy(
            recording.sound.stretch(start=start, stop=clap.stop),
            onset=clap.onset - start,
            sample_rate_hz=RATE_HZ,
            filters=FILTERS,
        )
        heard.append(HeardClap(take=0, place=place, traces=traces))
    return recording, heard, fit_bands([clap.traces for clap in heard], filters=FILTERS)


def faults_of(sound: np.ndarray, *, peak: float = 0.5) -> tuple[Fault, ...]:
    """What the decays of a sound show."""
    recording = recording_of(sound, peak=peak)
    found = [tuple(clap for clap in find_claps(recording.sound) if clap.used)]
    _, heard, fits = hear(sound, peak=peak)
    return inspect_decays([recording], found, heard, fits)[0]


def read(sound: np.ndarray) -> Reading:
    """Read a sound all the way."""
    return take_reading([recording_of(sound)])
