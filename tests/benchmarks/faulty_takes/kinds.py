"""Every kind of fault by name, and which can be told from the sound in principle."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any
from zlib import crc32

import numpy as np

from roomir.audio.recording import Recording, SoundInMemory
from tests.benchmarks.faulty_takes import (
    apps,
    calls,
    clipping,
    gaps,
    gates,
    levels,
    microphones,
    surroundings,
)
from tests.benchmarks.faulty_takes.base import EXAM_SEED, RATE_HZ, Base, draw_base
from tests.benchmarks.faulty_takes.draw import Draw
from tests.benchmarks.faulty_takes.fault import MakeFault


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One kind of fault.

    Attributes
    ----------
    make : MakeFault
        Puts it on a clean take.
    judged : bool
        Whether it can be told in principle; where it can't, its count is published and not judged.
    """

    make: MakeFault
    judged: bool = True


KINDS: Mapping[str, Kind] = {
    "clipped": Kind(make=clipping.hard),
    "clipped-coded": Kind(make=clipping.coded),
    "clipped-below": Kind(make=clipping.below_full_scale),
    "clipped-one-side": Kind(make=clipping.one_sided),
    "gain-slow": Kind(make=levels.slow_gain),
    "gain-fast": Kind(make=levels.fast_gain),
    "levelled": Kind(make=levels.levelled),
    "limiter": Kind(make=levels.limiter),
    "compressor": Kind(make=levels.compressor),
    "compressor-deep": Kind(make=levels.deep_compressor, judged=False),
    "gate": Kind(make=gates.gate),
    "expander": Kind(make=gates.expander),
    "noise-suppression": Kind(make=gates.noise_suppression),
    "echo-suppression": Kind(make=calls.echo_suppression),
    "voice-call": Kind(make=calls.voice_call),
    "lossy-codec": Kind(make=calls.lossy_codec),
    "low-rate": Kind(make=calls.low_rate),
    "wrong-rate-hum": Kind(make=calls.wrong_rate_with_hum),
    "wrong-rate": Kind(make=calls.wrong_rate, judged=False),
    "dropouts": Kind(make=gaps.dropouts),
    "held": Kind(make=gaps.held),
    "repeated": Kind(make=gaps.repeated),
    "splice": Kind(make=gaps.splice),
    "starts-inside": Kind(make=gaps.starts_inside),
    "stops-inside": Kind(make=gaps.stops_inside),
    "fade": Kind(make=gaps.fade),
    "fade-db": Kind(make=gaps.fade_in_db, judged=False),
    "two-microphones": Kind(make=microphones.differing),
    "two-with-gain": Kind(make=microphones.one_with_gain),
    "wind": Kind(make=surroundings.wind),
    "handling": Kind(make=surroundings.handling),
    "hum": Kind(make=surroundings.hum),
    "machine-between": Kind(make=surroundings.machine_between_claps),
    "machine-in-decay": Kind(make=surroundings.machine_in_a_decay),
    "drifting": Kind(make=surroundings.drifting_background),
    "hammer-in-decay": Kind(make=surroundings.hammer_in_a_decay),
    "clap-in-decay": Kind(make=surroundings.clap_in_a_decay),
    "speech-in-decay": Kind(make=surroundings.speech_in_a_decay),
    "door-in-decay": Kind(make=surroundings.door_in_a_decay),
    "reverb-combs": Kind(make=apps.combs),
    "reverb-even": Kind(make=apps.gaussian_tail, judged=False),
    "reverb-room": Kind(make=apps.another_room, judged=False),
}
"""In the order of the table."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Take:
    """A take as roomir gets it, with its truth.

    Attributes
    ----------
    recording : Recording
        The sound.
    base : Base
        The clean take behind it.
    struck : tuple of bool
        Which claps of the base the fault has reached.
    truth : dict
        The fault's parameters.
    """

    recording: Recording
    base: Base
    struck: tuple[bool, ...]
    truth: dict[str, Any]


@lru_cache(maxsize=2)
def _base(seed: int) -> Base:
    return draw_base(seed=seed)


def clean_take(*, seed: int) -> Take:
    """Draw a clean take."""
    base = _base(seed)
    return Take(
        recording=_recording(base, base.sound, rate_hz=RATE_HZ, name=f"clean {seed}"),
        base=base,
        struck=(False,) * len(base.claps),
        truth={},
    )


def faulty_take(kind: str, *, seed: int) -> Take:
    """Put a fault on the clean take of the same seed."""
    base = _base(seed)
    draw = Draw(rng=np.random.default_rng([seed, crc32(kind.encode())]), exam=seed >= EXAM_SEED)
    fault = KINDS[kind].make(base, draw)
    return Take(
        recording=_recording(base, fault.sound, rate_hz=fault.rate_hz, name=f"{kind} {seed}"),
        base=base,
        struck=fault.struck,
        truth=draw.values,
    )


def _recording(base: Base, sound: np.ndarray, *, rate_hz: int, name: str) -> Recording:
    return Recording(sound=SoundInMemory(samples=base.kept(sound), sample_rate_hz=rate_hz), source_name=name)
