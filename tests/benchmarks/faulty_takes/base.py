"""Clean takes with known truth: what a good recorder would have kept of claps in a room.

Three kinds of room: noise under one exponential per octave, the same with a second, slower
slope, and boxes by image sources with a diffuse tail. Tuning: mid-frequency decay time 0.25 to
2 s, decay range at 1 kHz 30 to 60 dB; exam: 0.2 to 2.5 s, 25 to 65 dB. 3 to 6 claps in 1 to 4
spots; one take in five has somebody walk or talk between two claps, when the room is silent, and
one in ten was kept as AAC at a high bit rate: neither is a fault.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomir.bands.band import OCTAVES
from roomir.synth.box import BoxRoom, DiffuseTail, box_response, octave_crossfades
from roomir.synth.decay import Slope
from roomir.synth.distractors import KINDS as DISTURBANCES
from roomir.synth.sources import clap_pulse, pop_pulse
from roomir.synth.takes import make_take
from tests.benchmarks.faulty_takes.draw import Draw
from tests.benchmarks.faulty_takes.kit import Floats, amplitude, through_codec
from tests.benchmarks.truths import line_time_s

RATE_HZ = 48_000
EXAM_SEED = 700_000
"""Seeds from here on belong to the exam, those below to tuning."""

_K60 = 6.0 * np.log(10.0)
_BETWEEN = ("speech", "counting", "footsteps", "cough")


@dataclass(frozen=True, slots=True, kw_only=True)
class BaseClap:
    """One clap: first frame of its sound, when it sinks into the background, spot, peak at full gain."""

    onset: int
    sunk: int
    spot: int
    peak: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Base:
    """A clean take in its parts.

    Attributes
    ----------
    dry : array, shape (n,)
        Everything in the room but the background.
    noise : array, shape (n,)
        The background.
    claps : tuple of BaseClap
        In time order.
    responses : tuple of array
        What each spot makes of a frame of 1.
    decay_time_s : tuple of float
        Truth per octave: T30 of the mean decay. [s]
    range_db : tuple of float
        Reverberant level of the loudest clap over the background, per octave. [dB]
    room : str
        Kind of room.
    kbps : float or None
        Bit rate of the AAC it is kept in; None for 16 bits a sample.
    """

    dry: Floats
    noise: Floats
    claps: tuple[BaseClap, ...]
    responses: tuple[Floats, ...]
    decay_time_s: tuple[float, ...]
    range_db: tuple[float, ...]
    room: str
    kbps: float | None

    @property
    def sound(self) -> Floats:
        """What reaches the recorder, shape (n,)."""
        return self.dry + self.noise

    @property
    def loudest(self) -> float:
        """Peak of the loudest clap."""
        return max(clap.peak for clap in self.claps)

    def die_s(self, clap: BaseClap) -> float:
        """How long a clap stands over the background. [s]."""
        return (clap.sunk - clap.onset) / RATE_HZ

    def kept(self, sound: Floats) -> NDArray[np.float32]:
        """Store a sound as the recorder does: through its codec, if it has one, in 16 bits."""
        if self.kbps is not None and sound.ndim == 1:
            sound = through_codec(sound, rate_hz=RATE_HZ, codec="aac", container="mp4", kbps=self.kbps)
        return (np.clip(np.round(sound * 32768.0), -32768, 32767) / 32768.0).astype(np.float32)


def draw_base(*, seed: int) -> Base:
    """Draw a clean take; the seed tells whether it is one for tuning or for the exam."""
    exam = seed >= EXAM_SEED
    rng = np.random.default_rng([seed, 0xBA5E])
    draw = Draw(rng=rng, exam=exam)
    mid_s = draw.evenly_in_log("mid_s", dev=(0.25, 2.0), exam=(0.2, 2.5))
    mid_db = draw.evenly("range_db", dev=(30.0, 60.0), exam=(25.0, 65.0))
    room = str(rng.choice(["one slope", "two slopes", "box"], p=[0.55, 0.15, 0.3]))
    octaves = np.log2([band.nominal_hz / 1000.0 for band in OCTAVES])
    bass, treble = rng.uniform(0.8, 1.8), rng.uniform(0.4, 1.0)
    shape = np.where(octaves < 0.0, bass ** (-octaves / 3.0), treble ** (octaves / 3.0))
    times_s = np.clip(mid_s * shape, 0.2, 2.5)
    spots = int(rng.integers(1, 5))
    direct_db = rng.uniform(-6.0, 8.0)
    second = None
    if room == "two slopes":
        second = Slope(decay_time_s=float(mid_s * rng.uniform(1.6, 2.5)), level_db=rng.uniform(-30.0, -12.0))
    responses = (
        _box_responses(rng, times_s=times_s, spots=spots)
        if room == "box"
        else _noise_responses(seed, times_s=times_s, spots=spots, second=second, direct_db=direct_db)
    )
    # Backgrounds have more bass than claps have: the lower the octave, the less of its decay is seen.
    tilt_db, treble_db = rng.uniform(0.0, 4.0), rng.uniform(-2.0, 2.0)
    ranges_db = mid_db - tilt_db * np.maximum(-octaves, 0.0) + treble_db * np.maximum(octaves, 0.0)
    dry, claps, voiced = _clapped(
        rng,
        responses=responses,
        n_claps=int(rng.integers(3, 7)),
        mid_db=mid_db,
        longest_s=float(times_s.max()),
    )
    noise = _background(rng, n=dry.size, level=_late_density(voiced, times_s=times_s), ranges_db=ranges_db)
    gain = draw.evenly_in_log("peak", dev=(0.05, 0.7), exam=(0.03, 0.9)) / max(c.peak for c in claps)
    truth_s = [
        line_time_s([Slope(decay_time_s=float(t)), *([second] if second else [])]) for t in times_s.tolist()
    ]
    return Base(
        dry=gain * dry,
        noise=gain * noise,
        claps=tuple(BaseClap(onset=c.onset, sunk=c.sunk, spot=c.spot, peak=gain * c.peak) for c in claps),
        responses=responses,
        decay_time_s=tuple(truth_s),
        range_db=tuple(ranges_db.tolist()),
        room=room,
        kbps=float(rng.uniform(160.0, 256.0)) if rng.random() < 0.1 else None,
    )


def convolved(dry: Floats, response: Floats) -> Floats:
    """What a sound becomes in a room."""
    from scipy.signal import fftconvolve

    return np.asarray(fftconvolve(dry, response))


def mix_in(sound: Floats, piece: Floats, *, at: int) -> None:
    """Add a piece in place; what lies past the end is lost."""
    stop = min(at + piece.size, sound.size)
    if stop > at:
        sound[at:stop] += piece[: stop - at]


def shaped_noise(rng: np.random.Generator, *, n: int, density: Floats) -> Floats:
    """Noise of a given power per octave of ``OCTAVES`` and frame, smooth in between."""
    from scipy.fft import irfft, next_fast_len, rfft

    m = next_fast_len(n, real=True)
    frequency: Floats = np.fft.rfftfreq(m, 1.0 / RATE_HZ)
    gain = np.sqrt(np.maximum(density @ octave_crossfades(frequency), 0.0))
    return np.asarray(irfft(rfft(rng.standard_normal(m)) * gain, m)[:n])


def _noise_responses(
    seed: int, *, times_s: Floats, spots: int, second: Slope | None, direct_db: float
) -> tuple[Floats, ...]:
    made = make_take(
        seed=seed,
        sample_rate_hz=RATE_HZ,
        decay_time_s={b.nominal_hz: float(t) for b, t in zip(OCTAVES, times_s, strict=True)},
        n_claps=1,
        spots=spots,
        direct_to_reverberant_db=direct_db,
        second_slope=second,
        background_db=None,
        spacing_s=(0.1, 0.1),
        lead_s=0.0,
    )
    return tuple(r / np.abs(r).max() for r in made.responses)


def _box_responses(rng: np.random.Generator, *, times_s: Floats, spots: int) -> tuple[Floats, ...]:
    size_m = np.sort(rng.uniform([2.3, 2.8, 3.4], [3.2, 5.0, 8.0]))[::-1] * rng.uniform(0.9, 1.15, 3)
    area_m2 = 2.0 * (size_m[0] * size_m[1] + size_m[0] * size_m[2] + size_m[1] * size_m[2])
    # Eyring's formula the other way round: the absorption that gives these decay times.
    alpha = 1.0 - np.exp(-0.161 * float(np.prod(size_m)) / (area_m2 * times_s))
    even = tuple(np.clip(alpha, 0.01, 0.95).tolist())
    room = BoxRoom(
        length_m=float(size_m[0]), width_m=float(size_m[1]), height_m=float(size_m[2]),
        west=even, east=even, south=even, north=even, floor=even, ceiling=even,
    )  # fmt: skip
    out = []
    for _ in range(spots):
        source = size_m * rng.uniform(0.2, 0.45, 3)
        ear = size_m * rng.uniform(0.55, 0.8, 3)
        response = box_response(
            room,
            source_m=(float(source[0]), float(source[1]), float(source[2])),
            microphone_m=(float(ear[0]), float(ear[1]), float(ear[2])),
            sample_rate_hz=RATE_HZ,
            duration_s=1.2 * float(times_s.max()) + 0.1,
            sound_speed_m_per_s=343.0,
            rng=rng,
            tail=DiffuseTail(from_s=0.02, full_s=0.05, decay_time_s=tuple(times_s.tolist())),
        )
        out.append(response / np.abs(response).max())
    return tuple(out)


def _clapped(
    rng: np.random.Generator, *, responses: tuple[Floats, ...], n_claps: int, mid_db: float, longest_s: float
) -> tuple[Floats, list[BaseClap], list[Floats]]:
    """Claps one after another, each left to die away; and the wet claps themselves."""
    die_s = mid_db / 60.0 * longest_s
    source = pop_pulse if rng.random() < 0.2 else clap_pulse
    walks = int(rng.integers(n_claps)) if rng.random() < 0.2 else -1
    clock = round(rng.uniform(0.5, 1.5) * RATE_HZ)
    pieces, claps, voiced = [], [], []
    for i in range(n_claps):
        wet = convolved(source(rng=rng, sample_rate_hz=RATE_HZ), responses[i % len(responses)])
        wet *= 10.0 ** (-rng.uniform(0.0, 6.0) / 20.0) / np.abs(wet).max()
        pieces.append((clock, wet))
        voiced.append(wet)
        claps.append(
            BaseClap(
                onset=clock + int(np.argmax(np.abs(wet) >= 0.1 * np.abs(wet).max())),
                sunk=clock + round(die_s * RATE_HZ),
                spot=i % len(responses),
                peak=float(np.abs(wet).max()),
            )
        )
        clock += round((die_s + rng.uniform(0.8, 2.5)) * RATE_HZ)
        if i == walks:
            kind = DISTURBANCES[str(rng.choice(_BETWEEN))]
            said = convolved(kind.make(rng=rng, sample_rate_hz=RATE_HZ), responses[0])
            pieces.append((clock, said * 10.0 ** (rng.uniform(-30.0, -12.0) / 20.0) / np.abs(said).max()))
            clock += said.size + round(rng.uniform(0.5, 1.0) * RATE_HZ)
    dry = np.zeros(clock)
    for at, piece in pieces:
        mix_in(dry, piece, at=at)
    return dry, claps, voiced


def _late_density(voiced: list[Floats], *, times_s: Floats) -> Floats:
    """Power of the loudest clap's reverberation at time zero, per octave, as density per frame.

    From the energy past 25 ms, under the exponential of the octave.
    """
    wet = max(voiced, key=lambda sound: float(np.sum(sound**2)))
    skip = 0.025
    late = wet[round(skip * RATE_HZ) :]
    spectrum = np.abs(np.fft.rfft(late)) ** 2 / late.size
    frequency = np.fft.rfftfreq(late.size, 1.0 / RATE_HZ)
    edges = np.searchsorted(frequency, [[band.low_hz, band.high_hz] for band in OCTAVES])
    # Both halves of the spectrum, over the bandwidth's share of the rate: white noise of power p gives p.
    energy = np.array([float(spectrum[low:high].sum()) for low, high in edges])
    share = np.array([(high - low) / frequency.size for low, high in edges])
    per_s = _K60 / times_s
    return np.asarray(energy / share / frequency.size * per_s / RATE_HZ * np.exp(skip * per_s) * late.size)


def _background(rng: np.random.Generator, *, n: int, level: Floats, ranges_db: Floats) -> Floats:
    """Steady noise with a given decay range per octave, that wanders by up to 1 dB."""
    noise = shaped_noise(rng, n=n, density=level * 10.0 ** (-ranges_db / 10.0))
    knots = np.linspace(0, n, max(3, n // (2 * RATE_HZ)))
    wander_db = np.interp(np.arange(n), knots, rng.uniform(-0.5, 0.5, knots.size))
    return np.asarray(noise * amplitude(wander_db))
