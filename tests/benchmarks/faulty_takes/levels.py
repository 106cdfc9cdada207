"""Gain that follows the level: automatic gain, levelled claps, limiters, compressors."""

from __future__ import annotations

import numpy as np

from tests.benchmarks.faulty_takes.base import RATE_HZ, Base
from tests.benchmarks.faulty_takes.draw import Draw
from tests.benchmarks.faulty_takes.fault import Fault, everywhere, to_peak
from tests.benchmarks.faulty_takes.kit import Floats, amplitude, db, follow, peak_db, rms_db, under_gain

STEP = 48
"""Frames from one gain to the next: 1 ms."""
FINE_STEP = 12
"""The same for compressors and limiters, whose attack is shorter: 0.25 ms."""


def slow_gain(base: Base, draw: Draw) -> Fault:
    """Automatic gain that recovers within seconds, as dictation recorders have it."""
    return _automatic(
        base,
        draw,
        attack_s=draw.evenly_in_log("attack_s", dev=(0.005, 0.05), exam=(0.002, 0.08)),
        release_s=draw.evenly_in_log("release_s", dev=(0.5, 4.0), exam=(0.4, 8.0)),
    )


def fast_gain(base: Base, draw: Draw) -> Fault:
    """Automatic gain that recovers within a decay, as phones have it for speech."""
    return _automatic(
        base,
        draw,
        attack_s=draw.evenly_in_log("attack_s", dev=(0.001, 0.01), exam=(0.0005, 0.02)),
        release_s=draw.evenly_in_log("release_s", dev=(0.05, 0.4), exam=(0.03, 0.5)),
    )


def _automatic(base: Base, draw: Draw, *, attack_s: float, release_s: float) -> Fault:
    """Gain goes after what would bring the level to a target, within its range."""
    range_db = draw.evenly("range_db", dev=(8.0, 25.0), exam=(6.0, 30.0))
    above_db = draw.evenly("above_target_db", dev=(4.0, 18.0), exam=(3.0, 24.0))
    hold_s = draw.evenly("hold_s", dev=(0.0, 0.2), exam=(0.0, 0.4))
    level_db = rms_db(base.sound, step=STEP, over=round(draw.evenly("over_ms", dev=(4, 12), exam=(2, 20))))
    target_db = float(level_db.max()) - above_db
    wanted = np.clip(target_db - level_db, -above_db, range_db - above_db)
    gain_db = follow(
        wanted,
        step_s=STEP / RATE_HZ,
        fall_s=attack_s,
        rise_s=release_s,
        hold_s=hold_s,
        start_db=float(wanted[0]),
    )
    return everywhere(base, to_peak(under_gain(base.sound, gain_db, step=STEP), base))


def levelled(base: Base, draw: Draw) -> Fault:
    """An app brings every clap to one peak and lets the gain glide from one to the next."""
    share = draw.evenly("share", dev=(0.7, 1.0), exam=(0.5, 1.0))
    boost_db = draw.evenly("boost_db", dev=(6.0, 20.0), exam=(4.0, 26.0))
    early = draw.evenly("glide_from", dev=(0.0, 0.3), exam=(0.0, 0.6))
    loud = base.loudest
    at, gain_db = [0.0], [0.0]
    for clap, after in zip(base.claps, [*base.claps[1:], None], strict=True):
        own_db = share * float(db(loud / clap.peak))
        until = after.onset if after else base.dry.size
        # Between claps there is little sound, and the gain goes up to make the most of it.
        at += [clap.onset - 0.02 * RATE_HZ, clap.onset + early * (clap.sunk - clap.onset)]
        gain_db += [own_db, own_db]
        at.append(0.5 * (clap.onset + until) + 0.25 * (until - clap.onset))
        gain_db.append(own_db + boost_db)
    gain = np.interp(np.arange(base.dry.size), np.maximum.accumulate(at), gain_db)
    return everywhere(base, to_peak(base.sound * amplitude(gain), base))


def limiter(base: Base, draw: Draw) -> Fault:
    """A limiter that looks ahead: the gain is down before the peak arrives."""
    under_db = draw.evenly("under_peak_db", dev=(6.0, 20.0), exam=(4.0, 26.0))
    ahead = draw.evenly_in_log("look_ahead_s", dev=(0.001, 0.006), exam=(0.0005, 0.012))
    release_s = draw.evenly_in_log("release_s", dev=(0.04, 0.6), exam=(0.02, 1.2))
    hold_s = draw.evenly("hold_s", dev=(0.0, 0.03), exam=(0.0, 0.06))
    level_db = peak_db(base.sound, step=FINE_STEP)
    wanted = np.minimum(0.0, float(level_db.max()) - under_db - level_db)
    steps = max(1, round(ahead * RATE_HZ / FINE_STEP))
    seen = np.lib.stride_tricks.sliding_window_view(np.pad(wanted, (0, steps)), steps + 1).min(axis=1)
    gain_db = follow(
        seen, step_s=FINE_STEP / RATE_HZ, fall_s=ahead / 3.0, rise_s=release_s, hold_s=hold_s, start_db=0.0
    )
    return everywhere(base, to_peak(under_gain(base.sound, gain_db, step=FINE_STEP), base))


def compressor(base: Base, draw: Draw) -> Fault:
    """A compressor whose threshold lies within the decay."""
    return _compressor(
        base,
        draw,
        ratio=draw.one_of("ratio", dev=(1.5, 2.0, 3.0, 4.0, 8.0), exam=(1.5, 1.8, 2.5, 4.0, 6.0, 10.0, 20.0)),
        under_db=draw.evenly("threshold_under_peak_db", dev=(12.0, 30.0), exam=(8.0, 35.0)),
    )


def deep_compressor(base: Base, draw: Draw) -> Fault:
    """A compressor whose threshold lies below the background: every level is pressed together alike."""
    return _compressor(
        base,
        draw,
        ratio=draw.one_of("ratio", dev=(2.0, 4.0), exam=(1.5, 2.0, 3.0, 6.0)),
        under_db=draw.evenly("threshold_under_peak_db", dev=(60.0, 80.0), exam=(60.0, 90.0)),
    )


def _compressor(base: Base, draw: Draw, *, ratio: float, under_db: float) -> Fault:
    knee_db = draw.one_of("knee_db", dev=(0.0, 6.0, 12.0), exam=(0.0, 3.0, 10.0, 18.0))
    attack_s = draw.evenly_in_log("attack_s", dev=(0.0005, 0.03), exam=(0.0002, 0.05))
    release_s = draw.evenly_in_log("release_s", dev=(0.03, 0.6), exam=(0.02, 1.2))
    backward = draw.happens("feed_back", chance=0.35)
    by_peak = draw.happens("by_peak", chance=0.5)
    level_db = peak_db(base.sound, step=FINE_STEP) if by_peak else rms_db(base.sound, step=FINE_STEP, over=8)
    over_db = level_db - (float(level_db.max()) - under_db)
    if backward:
        gain_db = _fed_back(over_db, ratio=ratio, attack_s=attack_s, release_s=release_s)
    else:
        wanted = -(1.0 - 1.0 / ratio) * _past_knee(over_db, knee_db=knee_db)
        gain_db = follow(
            wanted, step_s=FINE_STEP / RATE_HZ, fall_s=attack_s, rise_s=release_s, start_db=float(wanted[0])
        )
    return everywhere(base, to_peak(under_gain(base.sound, gain_db, step=FINE_STEP), base))


def _past_knee(over_db: Floats, *, knee_db: float) -> Floats:
    """How far a level lies above a threshold whose corner is rounded. [dB]."""
    if knee_db == 0.0:
        return np.maximum(over_db, 0.0)
    inside = np.clip(over_db + 0.5 * knee_db, 0.0, knee_db)
    return np.asarray(inside**2 / (2.0 * knee_db) + np.maximum(over_db - 0.5 * knee_db, 0.0))


def _fed_back(over_db: Floats, *, ratio: float, attack_s: float, release_s: float) -> Floats:
    """Gain computed from the compressor's own output, one step late."""
    step_s = FINE_STEP / RATE_HZ
    # The loop is as fast as its gain is high; the times hold for the closed loop.
    down, up = ((1.0 - np.exp(-step_s / t)) / ratio for t in (attack_s, release_s))
    gain, out = 0.0, np.empty_like(over_db)
    for i, over in enumerate(over_db.tolist()):
        wanted = -(ratio - 1.0) * max(over + gain, 0.0)
        gain += (down if wanted < gain else up) * (wanted - gain)
        out[i] = gain
    return out
