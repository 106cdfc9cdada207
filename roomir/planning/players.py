"""Short sounds for a page: a room as it is, and as proposed."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from roomir.planning.hearing import all_octaves_s, dry_sound, equally_loud
from roomir.report.planning.next_step import Player
from roomir.report.saving import FilePath

if TYPE_CHECKING:  # they need numpy, which `roomir --help` does not
    import numpy as np
    from numpy.typing import NDArray

    from roomir.plan.propose import Proposal

    Floats = NDArray[np.float64]

LONGEST_S = 8.0
"""Longest player: with `RATE_HZ` and 16 bits half a megabyte inside a page. [s]"""

RATE_HZ = 24_000
"""Sampling rate of players: octaves up to 8 kHz need no more. [Hz]"""

DISTANCE_M = 2.0
DIRECTIVITY = 2.0
_FADE_S = 0.3


def players(proposal: Proposal, *, dry: FilePath | None, seed: int = 1) -> tuple[Player, ...]:
    """Let a dry sound be heard in a room now and as proposed, equally loud.

    Parameters
    ----------
    proposal : Proposal
        The room, now and then.
    dry : path or None
        The sound; the voice of the sample data without one. What is longer
        than `LONGEST_S` with its reverberation is faded out there.
    seed : int, default 1
        Of the noise in the responses.

    Returns
    -------
    tuple of Player
        Two, 2 m from a voice, 16 bit and one channel.

    Raises
    ------
    RoomirError
        If the sound cannot be used.
    """
    from roomir.audio.save import wav_bytes
    from roomir.plan.audition import in_room, make_response
    from roomir.rooms.statistics import sound_speed_m_per_s

    sound, rate_hz = dry_sound(dry)
    sound, rate_hz = _small(sound[: round(LONGEST_S * rate_hz)], rate_hz)
    room = proposal.room
    parts = []
    for outcome in (proposal.now, proposal.then):
        response = make_response(
            all_octaves_s(outcome.expected),
            volume_m3=room.volume_m3,
            distance_m=DISTANCE_M,
            directivity=DIRECTIVITY,
            sound_speed=sound_speed_m_per_s(temperature_c=room.temperature_c),
            sample_rate_hz=rate_hz,
            seed=seed,
        )
        parts.append(_faded(in_room(sound, response), rate_hz))
    matched, _ = equally_loud(parts, rate_hz=rate_hz)
    words = ("The room as it is", f"As proposed for {proposal.window.name}")
    return tuple(
        Player(words=one, wav=wav_bytes(part, sample_rate_hz=rate_hz, bits=16))
        for one, part in zip(words, matched, strict=True)
    )


def _small(sound: Floats, rate_hz: int) -> tuple[Floats, int]:
    """Bring a sound down to `RATE_HZ` where it has more."""
    if rate_hz <= RATE_HZ:
        return sound, rate_hz
    import numpy as np
    from scipy.signal import resample_poly

    shared = math.gcd(RATE_HZ, rate_hz)
    return np.asarray(resample_poly(sound, RATE_HZ // shared, rate_hz // shared), dtype=np.float64), RATE_HZ


def _faded(sound: Floats, rate_hz: int) -> Floats:
    """End a sound softly at `LONGEST_S`."""
    import numpy as np

    n = round(LONGEST_S * rate_hz)
    if sound.size <= n:
        return sound
    fade = round(_FADE_S * rate_hz)
    ended = sound[:n].copy()
    ended[-fade:] *= np.cos(np.linspace(0.0, np.pi / 2.0, fade)) ** 2
    return ended
