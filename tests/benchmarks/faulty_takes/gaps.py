"""Sound that is missing, twice there, cut, or faded."""

from __future__ import annotations

import numpy as np

from tests.benchmarks.faulty_takes.base import RATE_HZ, Base, BaseClap
from tests.benchmarks.faulty_takes.draw import Draw
from tests.benchmarks.faulty_takes.fault import Fault
from tests.benchmarks.faulty_takes.kit import amplitude


def _chosen(base: Base, draw: Draw) -> list[int]:
    """Which claps are struck: at least one."""
    share = draw.evenly("share_struck", dev=(0.3, 1.0), exam=(0.1, 1.0))
    chosen = [i for i in range(len(base.claps)) if draw.rng.random() < share]
    return chosen or [int(draw.rng.integers(len(base.claps)))]


def _struck(base: Base, chosen: list[int]) -> tuple[bool, ...]:
    return tuple(i in chosen for i in range(len(base.claps)))


def _somewhere(base: Base, clap: BaseClap, draw: Draw) -> int:
    """A frame within the decay, past the clap itself."""
    share = draw.rng.uniform(0.05, 0.7)
    return clap.onset + round((0.02 + share * base.die_s(clap)) * RATE_HZ)


def _length(draw: Draw) -> int:
    return round(draw.evenly_in_log("length_s", dev=(0.008, 0.08), exam=(0.004, 0.15)) * RATE_HZ)


def dropouts(base: Base, draw: Draw) -> Fault:
    """Buffers lost and filled with zeros, one to four in a decay."""
    sound, chosen, length = base.sound, _chosen(base, draw), _length(draw)
    for i in chosen:
        for _ in range(int(draw.rng.integers(1, 5))):
            at = _somewhere(base, base.claps[i], draw)
            sound[at : at + length] = 0.0
    return Fault(sound=sound, struck=_struck(base, chosen))


def held(base: Base, draw: Draw) -> Fault:
    """Buffers lost, the last sample held."""
    sound, chosen, length = base.sound, _chosen(base, draw), _length(draw)
    for i in chosen:
        for _ in range(int(draw.rng.integers(1, 5))):
            at = _somewhere(base, base.claps[i], draw)
            sound[at : at + length] = sound[at - 1]
    return Fault(sound=sound, struck=_struck(base, chosen))


def repeated(base: Base, draw: Draw) -> Fault:
    """A buffer played twice or more in place of what followed it."""
    sound, chosen, length = base.sound, _chosen(base, draw), _length(draw)
    times = draw.one_of("times", dev=(1, 2), exam=(1, 2, 3))
    for i in chosen:
        at = max(_somewhere(base, base.claps[i], draw), base.claps[i].onset + length)
        block = sound[at - length : at].copy()
        for k in range(times):
            room = sound[at + k * length : at + (k + 1) * length]
            room[:] = block[: room.size]
    return Fault(sound=sound, struck=_struck(base, chosen))


def splice(base: Base, draw: Draw) -> Fault:
    """A piece cut out of the decay, with or without a short crossfade."""
    sound, chosen = base.sound, _chosen(base, draw)
    length_s = draw.evenly_in_log("cut_s", dev=(0.03, 0.25), exam=(0.015, 0.4))
    cross = round(draw.one_of("crossfade_s", dev=(0.0, 0.003), exam=(0.0, 0.002, 0.01)) * RATE_HZ)
    for i in reversed(chosen):
        clap = base.claps[i]
        at = _somewhere(base, clap, draw)
        cut = round(min(length_s, 0.4 * base.die_s(clap)) * RATE_HZ)
        joined = sound[at + cut :].copy()
        if cross:
            ramp = np.linspace(0.0, 1.0, cross)
            joined[:cross] = ramp * joined[:cross] + (1.0 - ramp) * sound[at : at + cross]
        sound = np.concatenate([sound[:at], joined])
    return Fault(sound=sound, struck=_struck(base, chosen))


def starts_inside(base: Base, draw: Draw) -> Fault:
    """The take begins while a clap is dying away; one in two of these claps is the only one left but one."""
    share = draw.evenly("share", dev=(0.02, 0.4), exam=(0.005, 0.6))
    which = int(draw.rng.integers(max(1, len(base.claps) - 1)))
    clap = base.claps[which]
    at = clap.onset + round((0.003 + share * base.die_s(clap)) * RATE_HZ)
    struck = tuple(i <= which for i in range(len(base.claps)))
    return Fault(sound=base.sound[at:], struck=struck)


def stops_inside(base: Base, draw: Draw) -> Fault:
    """The take ends before a clap has died away."""
    share = draw.evenly("share", dev=(0.15, 0.7), exam=(0.1, 0.9))
    which = int(draw.rng.integers(len(base.claps)))
    clap = base.claps[which]
    at = clap.onset + round((0.02 + share * base.die_s(clap)) * RATE_HZ)
    struck = tuple(i >= which for i in range(len(base.claps)))
    return Fault(sound=base.sound[:at], struck=struck)


def fade(base: Base, draw: Draw) -> Fault:
    """The end of the take, or its beginning, faded in a straight line, across a decay."""
    n = base.dry.size
    gain = np.ones(n)
    if draw.happens("in", chance=0.3):
        stop = base.claps[0].onset + round(
            draw.evenly("of_decay", dev=(0.2, 1.0), exam=(0.1, 1.3))
            * (base.claps[0].sunk - base.claps[0].onset)
        )
        gain[:stop] = np.linspace(0.0, 1.0, stop)
        struck = tuple(clap.onset < stop for clap in base.claps)
    else:
        which = int(draw.rng.integers(len(base.claps)))
        clap = base.claps[which]
        start = clap.onset + round(
            draw.evenly("from", dev=(-0.3, 0.4), exam=(-1.0, 0.6)) * (clap.sunk - clap.onset)
        )
        start = max(0, start)
        stop = clap.onset + round(
            draw.evenly("of_decay", dev=(0.5, 1.2), exam=(0.4, 1.6)) * (clap.sunk - clap.onset)
        )
        stop = min(max(stop, start + RATE_HZ // 20), n)
        gain[start:stop] = np.linspace(1.0, 0.0, stop - start)
        gain = gain[:stop]
        struck = tuple(c.sunk > start for c in base.claps)
    return Fault(sound=base.sound[: gain.size] * gain, struck=struck)


def fade_in_db(base: Base, draw: Draw) -> Fault:
    """Each clap faded straight in dB from its onset on, as an editor's exponential fade does."""
    rate_db_per_s = draw.evenly_in_log("db_per_s", dev=(5.0, 40.0), exam=(3.0, 60.0))
    gain_db = np.zeros(base.dry.size)
    for clap, after in zip(base.claps, [*base.claps[1:], None], strict=True):
        stop = after.onset - RATE_HZ // 10 if after else base.dry.size
        gain_db[clap.onset : stop] = -rate_db_per_s * np.arange(stop - clap.onset) / RATE_HZ
    return Fault(sound=base.sound * amplitude(gain_db), struck=(True,) * len(base.claps))
