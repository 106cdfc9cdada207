"""Whole takes with known truth: claps in a room, over a background, among disturbances.

A take is a row of claps in one or more spots of a room whose decay times are
set, with anything else that a recorder may hear between them or in the middle
of a decay. The truth stands beside the samples: when each clap begins, when
its decay stops being free, how far it stands over the background, and what
the disturbances are.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomir.audio.recording import SoundInMemory
from roomir.bands.band import OCTAVES
from roomir.errors import ParameterError
from roomir.synth.box import octave_crossfades
from roomir.synth.decay import Slope, room_response
from roomir.synth.distractors import KINDS, DrySound
from roomir.synth.sources import board_pulse, clap_pulse, pop_pulse

Floats = NDArray[np.float64]

SOURCES: Mapping[str, DrySound] = {"clap": clap_pulse, "pop": pop_pulse, "boards": board_pulse}
"""What may set the room ringing, by name."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueClap:
    """One clap as it was made.

    Attributes
    ----------
    onset_s : float
        First instant within 20 dB of the peak of the undisturbed response. [s]
    free_until_s : float
        When the next thing happens, or the take ends. [s]
    spot : int
        Where source and recorder stood, from 0.
    peak : float
        Highest magnitude of the undisturbed response, full scale = 1.
    decay_range_db : tuple of float
        Per octave of ``OCTAVES``: reverberant level at the onset over the
        background; -inf where the band lies beyond the rate. [dB]
    """

    onset_s: float
    free_until_s: float
    spot: int
    peak: float
    decay_range_db: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TrueDistractor:
    """One disturbance as it was made.

    Attributes
    ----------
    kind : str
        A name of :data:`roomir.synth.distractors.KINDS`.
    start_s, stop_s : float
        When its dry sound begins and ends. [s]
    dry : array, shape (n,)
        That sound without the room, largest magnitude 1.
    """

    kind: str
    start_s: float
    stop_s: float
    dry: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SynthTake:
    """A take and the truth about it.

    Attributes
    ----------
    samples : array of float32, shape (n,)
        The sound, full scale = 1.
    sample_rate_hz : int
        Frames per second. [Hz]
    decay_time_s : tuple of float
        Decay time of the reverberation per octave of ``OCTAVES``. [s]
    claps : tuple of TrueClap
        In time order.
    distractors : tuple of TrueDistractor
        In time order.
    responses : tuple of arrays, shape (n,)
        What one spot of the room makes of a single frame of 1, per spot.
    """

    samples: NDArray[np.float32]
    sample_rate_hz: int
    decay_time_s: tuple[float, ...]
    claps: tuple[TrueClap, ...]
    distractors: tuple[TrueDistractor, ...]
    responses: tuple[Floats, ...]

    @property
    def sound(self) -> SoundInMemory:
        """The take as the clap finder gets it."""
        return SoundInMemory(samples=self.samples, sample_rate_hz=self.sample_rate_hz)


@dataclass(frozen=True, slots=True, kw_only=True)
class Flutter:
    """Repeating echo between two walls.

    Attributes
    ----------
    period_s : float
        Time from echo to echo. [s]
    decay_time_s : float
        Time in which the echoes fall by 60 dB. [s]
    level_db : float
        Level of the echoes, carried back to time zero, re the direct sound. [dB]
    """

    period_s: float
    decay_time_s: float
    level_db: float


def make_take(
    *,
    seed: int,
    sample_rate_hz: int,
    decay_time_s: float | Mapping[float, float],
    n_claps: int,
    spots: int = 1,
    direct_to_reverberant_db: float = 0.0,
    background_db: float | None = -60.0,
    background_slope_db_per_octave: float = -3.0,
    hum_db: float | None = None,
    distractors: Sequence[str] = (),
    source: str = "clap",
    level_spread_db: float = 6.0,
    spacing_s: tuple[float, float] | None = None,
    n_early: int = 8,
    second_slope: Slope | None = None,
    flutter: Flutter | None = None,
    interrupted: bool = False,
    lead_s: float = 0.7,
    peak: float = 0.5,
) -> SynthTake:
    """Make a take.

    Parameters
    ----------
    seed : int
        Of all chance in the take. The background has a stream of its own, so
        the same seed with another background gives the same events.
    sample_rate_hz : int
        Frames per second. [Hz]
    decay_time_s : float, or mapping from nominal octave to float
        Decay time of the reverberation; octaves left out take that of the
        nearest one given. [s]
    n_claps : int
        How many claps, shared out over the spots in turn.
    spots : int, default 1
        Number of spots; each has its own response of the same room.
    direct_to_reverberant_db : float, default 0
        Energy of the direct sound over that of the reverberation. [dB]
    background_db : float or None, default -60
        Root mean square of the background re the peak of the loudest clap;
        digital silence where it is ``None``. [dB]
    background_slope_db_per_octave : float, default -3
        Slope of the background's spectral density: 0 white, -3 pink, -6 brown.
    hum_db : float, optional
        Root mean square of mains hum re the peak of the loudest clap. [dB]
    distractors : sequence of str
        Kinds from :data:`roomir.synth.distractors.KINDS`, each placed once,
        between claps or before or after them.
    source : str, default "clap"
        A name of :data:`SOURCES`.
    level_spread_db : float, default 6
        Claps lie at random within this much of the loudest. [dB]
    spacing_s : (float, float), optional
        Shortest and longest wait from one event to the next; as long as the
        decay and more where it is not given. [s]
    n_early : int, default 8
        Discrete early reflections within 40 ms.
    second_slope : Slope, optional
        A slower decay, ``level_db`` below the first at time zero.
    flutter : Flutter, optional
        A repeating echo on top of the reverberation.
    interrupted : bool, default False
        Let the disturbances begin before a clap has died away.
    lead_s : float, default 0.7
        Wait before the first event; 0 trims the take to it. [s]
    peak : float, default 0.5
        Magnitude of the loudest clap, full scale = 1.

    Returns
    -------
    SynthTake
        Samples and truth.

    Raises
    ------
    ParameterError
        For an unknown source or kind, or a count, rate or decay time that is
        not positive.
    """
    from scipy.fft import next_fast_len

    _check(
        sample_rate_hz=sample_rate_hz, n_claps=n_claps, spots=spots, source=source, distractors=distractors
    )
    times = _per_octave(decay_time_s)
    rng, background_rng = (np.random.default_rng(s) for s in np.random.SeedSequence(seed).spawn(2))
    responses = tuple(
        _spot_response(
            rng=rng,
            rate=sample_rate_hz,
            decay_time_s=times,
            direct_to_reverberant_db=direct_to_reverberant_db,
            n_early=n_early,
            second_slope=second_slope,
            flutter=flutter,
        )
        for _ in range(spots)
    )
    events: list[tuple[str, int]] = [("", i) for i in range(n_claps)]
    for kind in distractors:
        events.insert(int(rng.integers(0, len(events) + 1)), (kind, -1))
    longest_s = max(times)
    wait_s = (0.8 * longest_s + 0.3, 1.6 * longest_s + 1.0) if spacing_s is None else spacing_s

    sounds: list[tuple[float, Floats, Floats, str, int]] = []
    clock_s = lead_s
    for index, (kind, i_clap) in enumerate(events):
        if kind:
            dry = KINDS[kind].make(rng=rng, sample_rate_hz=sample_rate_hz)
            where = responses[int(rng.integers(spots))]
            wet = _convolved(dry, where) if KINDS[kind].in_the_room else dry
            wet = wet * (10.0 ** (rng.uniform(*KINDS[kind].level_db) / 20.0) / float(np.max(np.abs(wet))))
        else:
            dry = SOURCES[source](rng=rng, sample_rate_hz=sample_rate_hz)
            wet = _convolved(dry, responses[i_clap % spots])
            loudness = 10.0 ** (-(rng.uniform(0.0, level_spread_db) if i_clap else 0.0) / 20.0)
            wet = wet * (loudness / float(np.max(np.abs(wet))))
        sounds.append((clock_s, wet, dry, kind, i_clap))
        length_s = dry.size / sample_rate_hz if kind else 0.0
        next_is_distractor = index + 1 < len(events) and bool(events[index + 1][0])
        hurried = interrupted and not kind and next_is_distractor
        clock_s += length_s + (rng.uniform(0.2, 1.0) * longest_s if hurried else rng.uniform(*wait_s))

    n = next_fast_len(int(clock_s * sample_rate_hz) + 1, real=True)
    clean = np.zeros(n)
    starts = [int(at_s * sample_rate_hz) for at_s, *_ in sounds]
    for start, (_, wet, _, _, _) in zip(starts, sounds, strict=True):
        stop = min(start + wet.size, n)
        clean[start:stop] += wet[: stop - start]
    noise = _background(
        rng=background_rng,
        n=n,
        rate=sample_rate_hz,
        level_db=background_db,
        slope_db_per_octave=background_slope_db_per_octave,
        hum_db=hum_db,
    )
    noise_power = _octave_powers(noise, n_fft=n, rate=sample_rate_hz) / n
    claps, others = [], []
    for index, (start, (_, wet, dry, kind, i_clap)) in enumerate(zip(starts, sounds, strict=True)):
        after = starts[index + 1] if index + 1 < len(starts) else n
        if kind:
            others.append(
                TrueDistractor(
                    kind=kind,
                    start_s=start / sample_rate_hz,
                    stop_s=(start + dry.size) / sample_rate_hz,
                    dry=dry,
                )
            )
        else:
            magnitude = np.abs(wet)
            top = float(np.max(magnitude))
            onset = start + int(np.argmax(magnitude >= 0.1 * top))
            claps.append(
                TrueClap(
                    onset_s=onset / sample_rate_hz,
                    free_until_s=after / sample_rate_hz,
                    spot=i_clap % spots,
                    peak=peak * top,
                    decay_range_db=_ranges_db(wet, noise_power, rate=sample_rate_hz, decay_time_s=times),
                )
            )
    return SynthTake(
        samples=np.asarray(peak * (clean + noise), dtype=np.float32),
        sample_rate_hz=sample_rate_hz,
        decay_time_s=times,
        claps=tuple(claps),
        distractors=tuple(others),
        responses=responses,
    )


def _check(*, sample_rate_hz: int, n_claps: int, spots: int, source: str, distractors: Sequence[str]) -> None:
    for name, value in (("sample_rate_hz", sample_rate_hz), ("n_claps", n_claps), ("spots", spots)):
        if value < 1:
            raise ParameterError(f"{name} has to be at least 1, not {value}", code="not-positive")
    if source not in SOURCES:
        raise ParameterError(f"there is no source called {source!r}", code="unknown-source")
    for kind in distractors:
        if kind not in KINDS:
            raise ParameterError(f"there is no disturbance called {kind!r}", code="unknown-distractor")


def _per_octave(decay_time_s: float | Mapping[float, float]) -> tuple[float, ...]:
    given = decay_time_s if isinstance(decay_time_s, Mapping) else {1000.0: decay_time_s}
    if not given or min(given.values()) <= 0.0:
        raise ParameterError("decay_time_s has to be above zero", code="not-positive")
    return tuple(given[min(given, key=lambda hz: abs(np.log(hz / band.nominal_hz)))] for band in OCTAVES)


def _spot_response(
    *,
    rng: np.random.Generator,
    rate: int,
    decay_time_s: tuple[float, ...],
    direct_to_reverberant_db: float,
    n_early: int,
    second_slope: Slope | None,
    flutter: Flutter | None,
) -> Floats:
    """Direct sound at frame 0, reflections that thin out with distance, reverberation by octaves."""
    from scipy.fft import irfft, next_fast_len, rfft

    slowest_s = max((*decay_time_s, second_slope.decay_time_s if second_slope else 0.0))
    duration_s = 1.2 * slowest_s + 0.1
    n = next_fast_len(round(duration_s * rate), real=True)
    response = np.zeros(n)
    # Bands that fade into each other ring little; the room to spare keeps it from wrapping around.
    frequency: Floats = np.fft.rfftfreq(2 * n, 1.0 / rate).astype(np.float64)
    weights = np.sqrt(octave_crossfades(frequency))
    for weight, fall_s in zip(weights, decay_time_s, strict=True):
        slopes = [Slope(decay_time_s=fall_s)] + ([second_slope] if second_slope else [])
        part = room_response(rng=rng, sample_rate_hz=rate, slopes=slopes, duration_s=n / rate)
        response += irfft(rfft(part, 2 * n) * weight, 2 * n)[:n]
    # Reverberation needs a few reflections before it is dense.
    gap_s = rng.uniform(0.001, 0.008)
    response *= 1.0 - np.exp(-np.arange(n) / rate / gap_s)
    amplitude = float(np.sqrt(np.sum(response**2) * 10.0 ** (direct_to_reverberant_db / 10.0)))
    reach_s = rng.uniform(0.004, 0.015)  # source to microphone
    for delay_s in rng.uniform(0.001, 0.04, size=n_early):
        level = amplitude * rng.uniform(0.4, 1.0) * reach_s / (reach_s + delay_s)
        response[min(int(delay_s * rate), n - 1)] += level * rng.choice([-1.0, 1.0])
    if flutter is not None:
        echoes = np.arange(1, int(duration_s / flutter.period_s) + 1)
        frames = (echoes * flutter.period_s * rate).astype(np.intp)
        levels_db = flutter.level_db - 60.0 * echoes * flutter.period_s / flutter.decay_time_s
        keep = frames < n
        response[frames[keep]] += amplitude * 10.0 ** (levels_db[keep] / 20.0)
    response[0] += amplitude
    return response


def _background(
    *,
    rng: np.random.Generator,
    n: int,
    rate: int,
    level_db: float | None,
    slope_db_per_octave: float,
    hum_db: float | None,
) -> Floats:
    """Noise with a sloping spectrum above 20 Hz, and hum."""
    noise = np.zeros(n)
    if level_db is not None:
        frequency = np.fft.rfftfreq(n, 1.0 / rate)
        gain = np.maximum(frequency, 20.0) ** (slope_db_per_octave / 20.0 / np.log10(2.0))
        noise = np.fft.irfft(np.fft.rfft(rng.standard_normal(n)) * gain, n)
        noise *= 10.0 ** (level_db / 20.0) / float(np.std(noise))
    if hum_db is not None:
        mains_hz = rng.choice([50.0, 60.0])
        hum = np.zeros(n)
        for multiple in (1, 2, 3, 5, 7):
            turn = 2.0 * np.pi * multiple * mains_hz / rate
            hum += np.sin(turn * np.arange(n) + rng.uniform(0.0, 6.28)) * rng.uniform(0.2, 1.0) / multiple
        noise += hum * 10.0 ** (hum_db / 20.0) / float(np.std(hum))
    return noise


def _octave_powers(sound: Floats, *, n_fft: int, rate: int) -> Floats:
    """Energy per octave of ``OCTAVES``, up to a factor common to sounds of one ``n_fft``."""
    from scipy.fft import rfft

    spectrum = np.abs(rfft(sound, n_fft)) ** 2 / n_fft
    frequency = np.fft.rfftfreq(n_fft, 1.0 / rate)
    edges = np.searchsorted(frequency, [[band.low_hz, band.high_hz] for band in OCTAVES])
    return np.array([float(spectrum[low:high].sum()) for low, high in edges])


def _ranges_db(
    wet: Floats, noise_power: Floats, *, rate: int, decay_time_s: tuple[float, ...]
) -> tuple[float, ...]:
    """Reverberant level at time zero over the background, per octave.

    From the energy past 20 ms, by which time the direct sound has gone by:
    under an exponential it is ``A T/13.8 exp(-13.8 x 0.02 / T)``.
    """
    from scipy.fft import next_fast_len

    late = wet.copy()
    late[: int(0.02 * rate)] = 0.0
    energy = _octave_powers(late, n_fft=next_fast_len(wet.size, real=True), rate=rate)
    fall_per_s = 6.0 * np.log(10.0) / np.array(decay_time_s)
    level = energy * fall_per_s / rate * np.exp(0.02 * fall_per_s)
    ranges = 10.0 * np.log10(np.maximum(level, 1e-30) / np.maximum(noise_power, 1e-30))
    beyond = np.array([band.exact_hz > 0.45 * rate for band in OCTAVES])
    return tuple(np.where(beyond, -np.inf, ranges).tolist())


def _convolved(sound: Floats, response: Floats) -> Floats:
    from scipy.fft import irfft, next_fast_len, rfft

    n = sound.size + response.size - 1
    n_fft = next_fast_len(n, real=True)
    both: Floats = irfft(rfft(sound, n_fft) * rfft(response, n_fft), n_fft)[:n]
    return both
