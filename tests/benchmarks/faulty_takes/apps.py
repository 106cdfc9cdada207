"""Reverberation that an app has added."""

from __future__ import annotations

import numpy as np

from roomir.synth.decay import Slope, room_response
from tests.benchmarks.faulty_takes.base import RATE_HZ, Base, convolved
from tests.benchmarks.faulty_takes.draw import Draw
from tests.benchmarks.faulty_takes.fault import Fault, everywhere, to_peak
from tests.benchmarks.faulty_takes.kit import Floats, amplitude


def _added(base: Base, draw: Draw, response: Floats) -> Fault:
    """Mix the take's own reverberated copy to it; the level is that of the energies of the two."""
    wet = convolved(base.sound, response)[: base.dry.size]
    wet *= float(np.sqrt(np.sum(base.sound**2) / np.sum(wet**2)))
    level_db = draw.evenly("wet_db", dev=(-12.0, 0.0), exam=(-18.0, 6.0))
    return everywhere(base, to_peak(base.sound + float(amplitude(level_db)) * wet, base))


def _time_s(draw: Draw) -> float:
    return draw.evenly_in_log("added_s", dev=(0.5, 3.0), exam=(0.3, 4.0))


def combs(base: Base, draw: Draw) -> Fault:
    """Recirculating delays and all-pass stages (Schroeder, J. Audio Eng. Soc. 10 (1962) 219), no damping.

    All frequencies decay alike.
    """
    from scipy.signal import lfilter

    time_s = _time_s(draw)
    impulse = np.zeros(round(1.1 * time_s * RATE_HZ))
    impulse[0] = 1.0
    response = np.zeros(impulse.size)
    stretch = draw.rng.uniform(0.8, 1.25)
    for delay_s in (0.0297, 0.0371, 0.0411, 0.0437, 0.0313, 0.0453):
        delay = round(stretch * delay_s * RATE_HZ)
        feedback = 10.0 ** (-3.0 * delay / RATE_HZ / time_s)
        response += lfilter([1.0], [1.0, *np.zeros(delay - 1), -feedback], impulse)
    for delay_s in (0.005, 0.0017):
        delay = round(delay_s * RATE_HZ)
        middle = np.zeros(delay - 1)
        response = lfilter([-0.7, *middle, 1.0], [1.0, *middle, -0.7], response)
    return _added(base, draw, np.asarray(response))


def another_room(base: Base, draw: Draw) -> Fault:
    """Convolved with the response of another room, whose octaves differ as a room's do."""
    from roomir.bands.band import OCTAVES
    from roomir.synth.takes import make_take

    mid_s, treble = _time_s(draw), draw.rng.uniform(0.4, 1.0)
    octaves = np.log2([band.nominal_hz / 1000.0 for band in OCTAVES])
    times_s = mid_s * np.where(octaves < 0.0, 1.1 ** (-octaves), treble ** (octaves / 3.0))
    other = make_take(
        seed=int(draw.rng.integers(2**31)),
        sample_rate_hz=RATE_HZ,
        decay_time_s={b.nominal_hz: float(t) for b, t in zip(OCTAVES, times_s, strict=True)},
        n_claps=1,
        background_db=None,
        spacing_s=(0.1, 0.1),
        lead_s=0.0,
    )
    return _added(base, draw, other.responses[0])


def gaussian_tail(base: Base, draw: Draw) -> Fault:
    """Convolved with noise under one exponential for all frequencies."""
    time_s = _time_s(draw)
    response = room_response(
        rng=draw.rng, sample_rate_hz=RATE_HZ, slopes=[Slope(decay_time_s=time_s)], duration_s=1.1 * time_s
    )
    return _added(base, draw, response)
