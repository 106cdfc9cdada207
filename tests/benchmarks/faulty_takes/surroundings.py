"""What the building site adds: wind, handling, mains, machines, blows and voices inside a decay."""

from __future__ import annotations

import numpy as np

from roomir.bands.band import OCTAVES
from roomir.synth.distractors import KINDS as DISTURBANCES
from roomir.synth.sources import board_pulse, clap_pulse
from tests.benchmarks.faulty_takes.base import RATE_HZ, Base, convolved, mix_in, shaped_noise
from tests.benchmarks.faulty_takes.draw import Draw
from tests.benchmarks.faulty_takes.fault import Fault, everywhere
from tests.benchmarks.faulty_takes.kit import Floats, amplitude


def mains(draw: Draw, *, n: int) -> Floats:
    """Hum of the mains and its multiples, root mean square 1; the frequency is right within 0.05 %."""
    mains_hz = draw.one_of("mains_hz", dev=(50.0, 60.0), exam=(50.0, 60.0)) * draw.rng.uniform(0.9995, 1.0005)
    rich = draw.evenly("fall_db_per_octave", dev=(4.0, 9.0), exam=(2.0, 12.0))
    time_s = np.arange(n) / RATE_HZ
    hum = np.zeros(n)
    for multiple in range(1, 21):
        level = multiple ** (-rich / 6.02) * draw.rng.uniform(0.3, 1.0) * (1.0 if multiple % 2 == 0 else 0.7)
        hum += level * np.sin(2.0 * np.pi * multiple * mains_hz * time_s + draw.rng.uniform(0.0, 6.28))
    return hum / float(hum.std())


def hum(base: Base, draw: Draw) -> Fault:
    """The mains get into the recorder for the whole take."""
    level_db = draw.evenly("over_background_db", dev=(3.0, 20.0), exam=(0.0, 26.0))
    size = float(base.noise.std()) * float(amplitude(level_db))
    return everywhere(base, base.sound + size * mains(draw, n=base.dry.size))


def _scattered(base: Base, draw: Draw, *, kind: str, level_db: float, count: int) -> Fault:
    sound = base.sound
    struck = [False] * len(base.claps)
    for _ in range(count):
        piece = DISTURBANCES[kind].make(rng=draw.rng, sample_rate_hz=RATE_HZ)
        i = int(draw.rng.integers(len(base.claps)))
        clap = base.claps[i]
        reach = clap.sunk - clap.onset
        at = max(0, clap.onset + round(draw.rng.uniform(-0.3, 0.8) * reach))
        piece = piece * (base.loudest * float(amplitude(level_db)) / float(np.abs(piece).max()))
        mix_in(sound, piece, at=at)
        for k, other in enumerate(base.claps):
            struck[k] |= at < other.sunk and at + piece.size > other.onset
    return Fault(sound=sound, struck=tuple(struck))


def wind(base: Base, draw: Draw) -> Fault:
    """Gusts across the microphone, some of them during a decay."""
    level_db = draw.evenly("under_peak_db", dev=(-35.0, -8.0), exam=(-45.0, -3.0))
    return _scattered(base, draw, kind="wind", level_db=level_db, count=int(draw.rng.integers(1, 5)))


def handling(base: Base, draw: Draw) -> Fault:
    """The phone is moved in the hand while a clap dies away: thumps, taps, rubbing."""
    level_db = draw.evenly("under_peak_db", dev=(-40.0, -12.0), exam=(-50.0, -6.0))
    return _scattered(base, draw, kind="handling", level_db=level_db, count=int(draw.rng.integers(1, 5)))


def _machine(base: Base, draw: Draw) -> Floats:
    """A heater or fan: noise with a shape of its own and perhaps lines, in proportion to the background."""
    over_db = draw.evenly("over_background_db", dev=(6.0, 25.0), exam=(4.0, 35.0))
    slope_db = draw.evenly("slope_db_per_octave", dev=(-6.0, 0.0), exam=(-8.0, 3.0))
    octaves = np.log2([band.nominal_hz / 1000.0 for band in OCTAVES])
    noise = shaped_noise(draw.rng, n=base.dry.size, density=10.0 ** ((slope_db - 3.0) * octaves / 10.0))
    noise /= float(noise.std())
    if draw.happens("lines", chance=0.4):
        noise = noise + 0.7 * mains(draw, n=base.dry.size)
    return noise * float(base.noise.std()) * float(amplitude(over_db))


def _switched(base: Base, draw: Draw, *, at: int) -> Floats:
    """A machine that runs from a moment on, or until then."""
    ramp_s = draw.evenly_in_log("ramp_s", dev=(0.02, 0.5), exam=(0.005, 1.5))
    on = 1.0 / (
        1.0 + np.exp(-np.clip((np.arange(base.dry.size) - at) / (0.25 * ramp_s * RATE_HZ), -50.0, 50.0))
    )
    return _machine(base, draw) * (on if draw.happens("goes_on", chance=0.5) else 1.0 - on)


def machine_between_claps(base: Base, draw: Draw) -> Fault:
    """A machine goes on or off when the room is silent."""
    i = int(draw.rng.integers(len(base.claps)))
    until = base.claps[i + 1].onset if i + 1 < len(base.claps) else base.dry.size
    at = round(
        draw.rng.uniform(
            base.claps[i].sunk + 0.1 * RATE_HZ, max(until - 0.2 * RATE_HZ, base.claps[i].sunk + 1)
        )
    )
    return everywhere(base, base.sound + _switched(base, draw, at=at))


def machine_in_a_decay(base: Base, draw: Draw) -> Fault:
    """A machine goes on or off while a clap dies away."""
    i = int(draw.rng.integers(len(base.claps)))
    clap = base.claps[i]
    at = clap.onset + round(draw.evenly("place", dev=(0.2, 0.9), exam=(0.1, 1.1)) * (clap.sunk - clap.onset))
    return everywhere(base, base.sound + _switched(base, draw, at=at))


def drifting_background(base: Base, draw: Draw) -> Fault:
    """The background grows or falls over the take, straight or in waves."""
    swing_db = draw.evenly("swing_db", dev=(8.0, 20.0), exam=(6.0, 30.0))
    turns = draw.one_of("turns", dev=(0.5, 1.0), exam=(0.5, 1.0, 2.0, 4.0))
    phase = np.pi * (2.0 * turns * np.arange(base.dry.size) / base.dry.size + draw.rng.uniform(0.0, 2.0))
    machine = _machine(base, draw)
    return everywhere(base, base.sound + machine * amplitude(0.5 * swing_db * (np.sin(phase) - 1.0)))


def _in_the_decay(base: Base, draw: Draw, *, make: str, level_db: float) -> Fault:
    """One event in the decays of some claps."""
    sound = base.sound
    share = draw.evenly("share_struck", dev=(0.3, 1.0), exam=(0.1, 1.0))
    struck = [bool(draw.rng.random() < share) for _ in base.claps]
    struck[int(draw.rng.integers(len(struck)))] = True
    place = draw.evenly("place", dev=(0.1, 0.7), exam=(0.04, 0.9))
    for clap, hit in zip(base.claps, struck, strict=True):
        if hit:
            wet = convolved(_EVENTS[make](draw), base.responses[clap.spot])
            jitter = draw.rng.uniform(0.8, 1.2)
            at = clap.onset + round((0.03 + place * jitter * base.die_s(clap)) * RATE_HZ)
            mix_in(sound, wet * (clap.peak * float(amplitude(level_db)) / float(np.abs(wet).max())), at=at)
    return Fault(sound=sound, struck=tuple(struck))


def _event_level(draw: Draw) -> float:
    return draw.evenly("under_clap_db", dev=(-35.0, -6.0), exam=(-45.0, 0.0))


_EVENTS = {
    "hammer": lambda draw: board_pulse(rng=draw.rng, sample_rate_hz=RATE_HZ),
    "clap": lambda draw: clap_pulse(rng=draw.rng, sample_rate_hz=RATE_HZ),
    "speech": lambda draw: DISTURBANCES["speech"].make(rng=draw.rng, sample_rate_hz=RATE_HZ),
    "door": lambda draw: DISTURBANCES["door-slam"].make(rng=draw.rng, sample_rate_hz=RATE_HZ),
}


def hammer_in_a_decay(base: Base, draw: Draw) -> Fault:
    """Somebody strikes wood or a nail while a clap dies away."""
    return _in_the_decay(base, draw, make="hammer", level_db=_event_level(draw))


def clap_in_a_decay(base: Base, draw: Draw) -> Fault:
    """A second, softer clap while the first dies away."""
    return _in_the_decay(base, draw, make="clap", level_db=_event_level(draw))


def speech_in_a_decay(base: Base, draw: Draw) -> Fault:
    """Somebody speaks while a clap dies away."""
    return _in_the_decay(base, draw, make="speech", level_db=_event_level(draw))


def door_in_a_decay(base: Base, draw: Draw) -> Fault:
    """A door falls shut while a clap dies away."""
    return _in_the_decay(base, draw, make="door", level_db=_event_level(draw))
