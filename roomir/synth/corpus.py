"""Takes drawn at random from everything that a builder may record, for trying the clap finder."""

from __future__ import annotations

import numpy as np

from roomir.bands.band import OCTAVES
from roomir.synth.decay import Slope
from roomir.synth.distractors import KINDS
from roomir.synth.takes import Flutter, SynthTake, make_take

_RATES_HZ = (48000, 44100, 32000, 22050, 16000, 8000, 96000, 192000)
_SHARE_OF_RATE = (0.40, 0.30, 0.06, 0.06, 0.06, 0.06, 0.04, 0.02)


def draw_take(*, seed: int) -> SynthTake:
    """Draw one take.

    Parameters
    ----------
    seed : int
        Decides everything: room, source, background, disturbances, rate.

    Returns
    -------
    SynthTake
        2 to 5 claps, 1 to 3 disturbances; decay times 0.1 to 4 s, background
        30 to 70 dB below the loudest clap, direct-to-reverberant balance -8 to
        12 dB, 8 to 192 kHz, now and then a flutter echo, a second slope, a
        take cut to its first event, a decay that something breaks into.
    """
    rng = np.random.default_rng([seed, 0xC1A9])
    rate = int(rng.choice(_RATES_HZ, p=_SHARE_OF_RATE))
    mid_s = float(np.exp(rng.uniform(np.log(0.1), np.log(4.0))))
    bass, treble = rng.uniform(0.8, 1.8), rng.uniform(0.4, 1.0)
    octaves = np.log2([band.nominal_hz / 1000.0 for band in OCTAVES])
    shape = np.where(octaves < 0.0, bass ** (-octaves / 3.0), treble ** (octaves / 3.0))
    flutter = Flutter(
        period_s=rng.uniform(0.012, 0.12),
        decay_time_s=mid_s * rng.uniform(0.5, 1.1),
        level_db=rng.uniform(-14.0, -1.0),
    )
    second = Slope(decay_time_s=mid_s * rng.uniform(1.6, 2.5), level_db=rng.uniform(-35.0, -12.0))
    # Every draw is made whether it is used or not, so that one probability can change alone.
    hum_db = rng.uniform(-60.0, -30.0)
    kinds = rng.choice(list(KINDS), size=3, replace=False)
    chance = rng.random(7)
    return make_take(
        seed=seed,
        sample_rate_hz=rate,
        decay_time_s={b.nominal_hz: float(mid_s * s) for b, s in zip(OCTAVES, shape, strict=True)},
        n_claps=int(rng.integers(2, 6 if mid_s < 1.5 else 4)),
        spots=int(rng.integers(1, 4)),
        direct_to_reverberant_db=rng.uniform(-8.0, 12.0),
        background_db=rng.uniform(-70.0, -30.0),
        background_slope_db_per_octave=rng.uniform(-6.0, 0.0),
        hum_db=hum_db if chance[0] < 0.3 else None,
        distractors=[str(k) for k in kinds[: 1 + int(2.99 * chance[1])]],
        source="clap" if chance[2] < 0.65 else ("pop" if chance[2] < 0.85 else "boards"),
        level_spread_db=rng.uniform(0.0, 12.0),
        n_early=int(rng.integers(0, 20)),
        second_slope=second if chance[3] < 0.12 else None,
        flutter=flutter if chance[4] < 0.12 else None,
        interrupted=bool(chance[5] < 0.25),
        lead_s=0.0 if chance[6] < 0.12 else rng.uniform(0.1, 1.5),
        peak=float(np.exp(rng.uniform(np.log(0.003), np.log(0.9)))),
    )
