"""Recordings whose decay is known, and what is true of them.

Reverberation is Gaussian noise under an exponential, white, so that every
octave has the same decay; the background is white too, so that every octave
has the same decay range. The clap is an all-pass burst of 2 to 6 ms: as long
as a hand clap and just as jagged, but with the same energy at every
frequency, so that the direct-to-reverberant ratio is the same in every octave
as well.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from roomir.audio.recording import Recording, SoundInMemory
from roomir.claps.clap import Clap
from roomir.synth.decay import Slope, envelope_power, room_response

RATE_HZ = 16_000
"""Enough for the octaves 125 Hz to 4 kHz."""

LEAD_S = 0.15
_EARLY_S = (0.003, 0.025)
_EARLY_DB = (3.0, 12.0)
_FULL_SCALE = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """What a take is made of.

    Attributes
    ----------
    slopes : tuple of Slope
        The reverberation.
    range_db : float
        Reverberant level at time zero over the background. [dB]
    direct_db : float or None
        Energy of the direct sound over that of the reverberation; None for reverberation alone. [dB]
    """

    slopes: tuple[Slope, ...]
    range_db: float
    direct_db: float | None

    @property
    def length_s(self) -> float:
        """From one clap to the next: the decay into the background, as long again, and a breath. [s]"""
        slowest_s = max(s.decay_time_s * (self.range_db + s.level_db) / 60.0 for s in self.slopes)
        return 2.4 * slowest_s + 0.6


def flat_burst(rng: np.random.Generator) -> np.ndarray:
    """Make a burst with the same energy at every frequency, gone (-60 dB) after 2 to 6 ms."""
    from scipy.signal import sosfilt

    length = float(rng.uniform(0.002, 0.006)) * RATE_HZ
    radius = 10.0 ** (-3.0 / length)
    angle = rng.uniform(0.0, np.pi, 6)
    one, middle = np.ones_like(angle), -2.0 * radius * np.cos(angle)
    sections = np.stack([one * radius**2, middle, one, one, middle, one * radius**2], axis=1)
    impulse = np.zeros(int(3.0 * length))
    impulse[0] = 1.0
    return np.asarray(sosfilt(sections, impulse))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Response:
    """What one clap in one spot sounds like without background.

    Attributes
    ----------
    sound : array, shape (n,)
        One realisation.
    energy : array, shape (n,)
        Expected energy, frame by frame.
    """

    sound: np.ndarray
    energy: np.ndarray


def draw_response(scene: Scene, rng: np.random.Generator) -> Response:
    """Draw direct sound, four to eight early reflections 3 to 12 dB below it, and reverberation."""
    reverberation = room_response(
        rng=rng, sample_rate_hz=RATE_HZ, slopes=scene.slopes, duration_s=scene.length_s
    )
    power = envelope_power(np.arange(reverberation.size) / RATE_HZ, slopes=scene.slopes)
    arrivals = np.zeros(reverberation.size)
    if scene.direct_db is not None:
        # Against the expectation, not the draw: a loud draw must not raise the direct sound.
        arrivals[0] = np.sqrt(power.sum() * 10.0 ** (scene.direct_db / 10.0))
        n_early = int(rng.integers(4, 9))
        frames = np.round(rng.uniform(*_EARLY_S, n_early) * RATE_HZ).astype(np.intp)
        levels = arrivals[0] * 10.0 ** (-rng.uniform(*_EARLY_DB, n_early) / 20.0)
        np.add.at(arrivals, frames, levels * rng.choice([-1.0, 1.0], n_early))
    burst = flat_burst(rng)
    n = reverberation.size
    return Response(
        sound=np.convolve(reverberation + arrivals, burst)[:n],
        energy=np.convolve(arrivals**2 + power, burst**2)[:n],
    )


def record(
    scene: Scene, responses: Sequence[Response], rng: np.random.Generator, *, levels_db: Sequence[float]
) -> tuple[Recording, list[Clap]]:
    """Put claps one after the other into one recording with a steady background.

    Returns
    -------
    (Recording, list of Clap)
        The recording, and its claps with the onset of ISO 3382-1:2009, 5.3: the
        first frame within 20 dB of the peak.
    """
    lead = round(LEAD_S * RATE_HZ)
    loud = [r.sound * 10.0 ** (db / 20.0) for r, db in zip(responses, levels_db, strict=True)]
    starts = lead + np.concatenate([[0], np.cumsum([r.size for r in loud])])
    sound = np.concatenate([np.zeros(lead), *loud])
    sound += rng.standard_normal(sound.size) * 10.0 ** (-scene.range_db / 20.0)
    onsets = [
        int(start) + int(np.argmax(np.abs(r) >= 0.1 * np.abs(r).max()))
        for start, r in zip(starts[:-1], loud, strict=True)
    ]
    sound *= _FULL_SCALE / np.abs(sound).max()
    claps = [
        Clap(onset=onset, stop=stop, sample_rate_hz=RATE_HZ, peak_dbfs=-10.0)
        for onset, stop in zip(onsets, [*onsets[1:], sound.size], strict=True)
    ]
    memory = SoundInMemory(samples=sound.astype(np.float32), sample_rate_hz=RATE_HZ)
    return Recording(sound=memory, source_name="known take"), claps


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KnownTakes:
    """Recordings, where the claps are, and the response behind each clap."""

    recordings: list[Recording]
    claps: list[list[Clap]]
    responses: list[Response]


def record_claps(scene: Scene, rng: np.random.Generator, *, arrangement: str) -> KnownTakes:
    """Record claps.

    ``arrangement`` is ``"one clap"``, or one of these with six claps, each up to 4 dB louder
    or softer: ``"one spot"`` (one file, one response), ``"six files"`` and ``"one walk"`` (six
    spots in six files, or in one).
    """
    n = 1 if arrangement == "one clap" else 6
    levels_db = [float(db) for db in rng.uniform(-4.0, 4.0, n)] if n > 1 else [0.0]
    if arrangement == "one spot":
        responses = [draw_response(scene, rng)] * n
    else:
        responses = [draw_response(scene, rng) for _ in range(n)]
    if arrangement == "six files":
        pairs = [record(scene, [r], rng, levels_db=[db]) for r, db in zip(responses, levels_db, strict=True)]
    else:
        pairs = [record(scene, responses, rng, levels_db=levels_db)]
    return KnownTakes(
        recordings=[recording for recording, _ in pairs],
        claps=[claps for _, claps in pairs],
        responses=responses,
    )


def octaves_ringing(
    decay_times_s: Sequence[float], rng: np.random.Generator, *, length_s: float, sharp: bool
) -> np.ndarray:
    """Draw reverberation whose decay time differs from octave to octave, 63 Hz to 8 kHz.

    With ``sharp`` the decay time jumps at the band edges; without, it passes
    smoothly from each midband frequency to the next.
    """
    from roomir.bands.band import OCTAVES
    from roomir.synth.box import octave_crossfades

    n = round(length_s * RATE_HZ)
    time_s = np.arange(n) / RATE_HZ
    noise = rng.standard_normal(n)
    n_fft = 2 * n
    frequency_hz = np.fft.rfftfreq(n_fft, 1.0 / RATE_HZ)
    if sharp:
        edges_hz = [0.0, *(band.high_hz for band in OCTAVES[:-1]), np.inf]
        weights = np.array(
            [(frequency_hz >= low) & (frequency_hz < high) for low, high in itertools.pairwise(edges_hz)]
        )
    else:
        weights = octave_crossfades(frequency_hz)
    spectrum = np.zeros(frequency_hz.size, dtype=np.complex128)
    for decay_time_s in set(decay_times_s):
        share = sum(w for w, t in zip(weights, decay_times_s, strict=True) if t == decay_time_s)
        spectrum += share * np.fft.rfft(noise * 10.0 ** (-3.0 * time_s / decay_time_s), n_fft)
    return np.asarray(np.fft.irfft(spectrum, n_fft)[:n])
