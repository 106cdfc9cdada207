"""Rooms that are read twice, with and without a change between.

Two ways: spot estimates drawn from the scatter that is known of them, put into
readings by hand; and sound, read from the finding of claps on. All rooms are
invented.
"""

from __future__ import annotations

import math

import numpy as np

from roomir.audio.recording import Recording, SoundInMemory
from roomir.bands.band import OCTAVES, Band
from roomir.decay.combine import Spots, mean_over_spots
from roomir.reading.reading import BandFigures, MidFigures, Reading, RoomBand, SpotTime, TakeReading
from roomir.reading.take import take_reading

BANDS = OCTAVES[1:]
"""Octaves 125 Hz to 8 kHz, which a reading of claps usually gives."""

NEW, AGAIN, PAIRED = "new spots", "the same spots again", "the same spots, paired"
SPOTS = (NEW, AGAIN, PAIRED)
"""Where the second reading is taken, and whether it is compared position by position."""

NOISE_SHARE = 0.1
"""Part of a spot's variance that is not the room's fine structure: background and clap. Invented."""

THEORY_SHARE = 0.75
"""What theory says of a spot read over 45 dB, over the scatter of T30 in the formula. Invented."""


def t30_scatter(bt: float) -> float:
    """Relative scatter of one response (ISO 3382-1:2009, clause 7, n = 10; from memory)."""
    return 0.55 * math.sqrt((1.0 + 1.52 / 10.0) / bt)


def draw_readings(
    rng: np.random.Generator, *, where: str, n_spots: int, change: float, extra: float
) -> tuple[Reading, Reading, dict[Band, tuple[float, float]]]:
    """Draw a reading before and one after.

    Parameters
    ----------
    rng : numpy.random.Generator
        Of all chance.
    where : str
        One of `SPOTS`.
    n_spots : int
        On each side.
    change : float
        Decay time after over before, in every band from 500 Hz to 4 kHz (elsewhere none).
    extra : float
        How much more the room scatters from spot to spot than the formula says.

    Returns
    -------
    (Reading, Reading, dict)
        Before, after, and the true decay times of every band.
    """
    mid_s = math.exp(rng.uniform(math.log(0.3), math.log(1.2)))
    bands: tuple[list[RoomBand], list[RoomBand]] = ([], [])
    truth = {}
    for band in BANDS:
        before_s = mid_s * float(rng.uniform(0.8, 1.25))
        after_s = before_s * (change if 400.0 < band.nominal_hz < 5000.0 else 1.0)
        truth[band] = before_s, after_s
        fine: list[np.ndarray] = []
        for side, time_s in zip(bands, (before_s, after_s), strict=True):
            scatter = extra * t30_scatter(band.width_hz * time_s)
            again = where != NEW and fine
            own = fine[0] if again else math.sqrt(1.0 - NOISE_SHARE) * rng.standard_normal(n_spots)
            fine.append(own)
            noise = math.sqrt(NOISE_SHARE) * rng.standard_normal(n_spots)
            side.append(_band(rng, band, math.log(time_s) + scatter * (own + noise)))
    return _reading(bands[0], n_spots), _reading(bands[1], n_spots), truth


def _band(rng: np.random.Generator, band: Band, log_time: np.ndarray) -> RoomBand:
    theory = THEORY_SHARE * np.array([t30_scatter(band.width_hz * math.exp(one)) for one in log_time])
    # A fit knows its own uncertainty only roughly.
    theory *= np.exp(0.15 * rng.standard_normal(log_time.size))
    n = log_time.size
    mean = mean_over_spots(
        Spots(log_time=log_time, variance=theory**2, likeness=np.eye(n)), width_hz=band.width_hz
    )
    low, high = (math.exp(mean.log_time + side * mean.half_width) for side in (-1, 1))
    spread = mean.spread
    return RoomBand(
        figures=BandFigures(
            band=band, decay_time_s=math.exp(mean.log_time), ci95_s=(low, high), verdict="reliable"
        ),
        claps_used=n,
        effective_claps=float(n),
        spots=n,
        interval_from="prior" if spread.degrees_of_freedom is None else "scatter",
        u_relative=spread.u_relative,
        u_theory_relative=spread.u_theory_relative,
        spot_times=tuple(
            SpotTime(
                decay_time_s=math.exp(log_time[i]),
                u_relative=float(theory[i]),
                weight=float(mean.weight[i]),
                takes=(i,),
            )
            for i in range(n)
        ),
    )


def _reading(bands: list[RoomBand], n_spots: int) -> Reading:
    takes = tuple(
        TakeReading(
            path=f"spot{i}.wav", sha256=None, recorded_at=None, recorded_at_from=None, sample_rate_hz=48_000,
            duration_s=10.0, channels=1, concerns=(), notes=(), claps=(),
        )
        for i in range(n_spots)
    )  # fmt: skip
    return Reading(
        roomir_version="drawn", band_set="octave", takes=takes, failures=(), bands=tuple(bands),
        mid=MidFigures(), bass_ratio=None,
    )  # fmt: skip


# ------------------------------------------------------------------ sound

RATE_HZ = 16_000
"""Carries the octaves up to 4 kHz."""

_LEAD_S = 0.7
_BACKGROUND_DB = -66.0
"""White background re the clap's peak: leaves about 45 dB of range at 500 Hz."""


def record_room(
    rng: np.random.Generator, *, decay_time_s: float, n_spots: int, responses: list[np.ndarray] | None = None
) -> tuple[list[Recording], list[np.ndarray]]:
    """Record one clap in each spot, in new ones or in those whose responses are given."""
    from scipy.signal import fftconvolve

    from roomir.synth.sources import clap_pulse
    from roomir.synth.takes import make_take

    takes, heard = [], []
    for spot in range(n_spots):
        if responses is None:
            made = make_take(
                seed=int(rng.integers(2**31)),
                sample_rate_hz=RATE_HZ,
                decay_time_s=decay_time_s,
                n_claps=1,
                background_db=None,
            )
            response = made.responses[0]
        else:
            response = responses[spot]
        heard.append(response)
        n, lead = round((_LEAD_S + 1.4 * decay_time_s + 0.6) * RATE_HZ), round(_LEAD_S * RATE_HZ)
        sound = np.zeros(n)
        clap = fftconvolve(clap_pulse(rng=rng, sample_rate_hz=RATE_HZ), response)[: n - lead]
        sound[lead : lead + clap.size] = clap / np.abs(clap).max()
        sound += rng.standard_normal(n) * 10.0 ** (_BACKGROUND_DB / 20.0)
        memory = SoundInMemory(samples=(0.5 * sound).astype(np.float32), sample_rate_hz=RATE_HZ)
        takes.append(Recording(sound=memory, source_name=f"spot{spot}.wav"))
    return takes, heard


def record_twice(
    rng: np.random.Generator, *, where: str, n_spots: int, decay_time_s: float, change: float
) -> tuple[Reading, Reading]:
    """Record and read a room, change it, and record and read it again."""
    takes, responses = record_room(rng, decay_time_s=decay_time_s, n_spots=n_spots)
    again, _ = record_room(
        rng,
        decay_time_s=change * decay_time_s,
        n_spots=n_spots,
        responses=None if where == NEW else responses,
    )
    return take_reading(takes), take_reading(again)
