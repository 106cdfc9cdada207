"""Clipping: where it happens (converter, analogue input, before a codec) and how hard its edge is."""

from __future__ import annotations

import numpy as np

from tests.benchmarks.faulty_takes.base import RATE_HZ, Base
from tests.benchmarks.faulty_takes.draw import Draw
from tests.benchmarks.faulty_takes.fault import Fault
from tests.benchmarks.faulty_takes.kit import Floats, amplitude, through_codec


def _driven(base: Base, draw: Draw) -> tuple[Floats, tuple[bool, ...]]:
    """The sound with the loudest clap some dB above 1, and which claps lie above 1."""
    over_db = draw.evenly("over_db", dev=(3.0, 20.0), exam=(2.0, 26.0))
    gain = float(amplitude(over_db)) / base.loudest
    return base.sound * gain, tuple(clap.peak * gain > 1.0 for clap in base.claps)


def hard(base: Base, draw: Draw) -> Fault:
    """The converter's range is exceeded."""
    sound, struck = _driven(base, draw)
    return Fault(sound=np.clip(sound, -1.0, 1.0), struck=struck)


def coded(base: Base, draw: Draw) -> Fault:
    """Clipped, then coded: the flat tops come back wavy and beyond their level."""
    sound, struck = _driven(base, draw)
    codec, container = draw.one_of("codec", dev=_CODECS[:2], exam=_CODECS)
    kbps = draw.evenly("kbps", dev=(48.0, 128.0), exam=(32.0, 160.0))
    # Encoders leave a little room, and decoders clip what still goes beyond.
    level = float(amplitude(-draw.evenly("room_db", dev=(0.0, 1.0), exam=(0.0, 2.0))))
    decoded = through_codec(
        level * np.clip(sound, -1.0, 1.0), rate_hz=RATE_HZ, codec=codec, container=container, kbps=kbps
    )
    return Fault(sound=decoded, struck=struck)


_CODECS = (("aac", "mp4"), ("libmp3lame", "mp3"), ("libopus", "ogg"))


def below_full_scale(base: Base, draw: Draw) -> Fault:
    """The analogue input gives in first, hard or soft, and the level is set behind it."""
    sound, struck = _driven(base, draw)
    if draw.happens("soft", chance=0.5):
        order = draw.evenly("order", dev=(1.5, 6.0), exam=(1.0, 8.0))
        bent = sound / (1.0 + np.abs(sound) ** (2.0 * order)) ** (0.5 / order)
    else:
        bent = np.clip(sound, -1.0, 1.0)
    top = float(amplitude(-draw.evenly("below_db", dev=(2.0, 20.0), exam=(1.0, 30.0))))
    return Fault(sound=top * bent, struck=struck)


def one_sided(base: Base, draw: Draw) -> Fault:
    """One half of the wave gives in earlier: a capsule's bias or a supply at its end."""
    sound, struck = _driven(base, draw)
    other_db = draw.evenly("other_db", dev=(4.0, 15.0), exam=(2.0, 26.0))
    top = float(amplitude(-draw.evenly("below_db", dev=(0.0, 12.0), exam=(0.0, 20.0))))
    clipped = np.clip(sound, -1.0, float(amplitude(other_db))) * draw.one_of(
        "side", dev=(-1, 1), exam=(-1, 1)
    )
    return Fault(sound=top * clipped / max(1.0, float(np.abs(clipped).max())), struck=struck)
