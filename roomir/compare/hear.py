"""Before and after in one sound: the same passage twice, at the same loudness.

Both are brought to the same loudness by Rec. ITU-R BS.1770, so that the ear
judges the room and not the distance to the phone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomir.audio.recording import Recording
from roomir.compare.chords import find_same_chords
from roomir.compare.passages import Passage, SamePassage, find_same_clap, recording_of
from roomir.errors import RoomirError
from roomir.reading.reading import Reading

Floats = NDArray[np.float64]

GAP_S = 0.6
"""Silence between before and after. [s]"""

_FADE_S = 0.02
_PEAK = 0.89
"""One decibel below full scale."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Audition:
    """Before and after in one sound.

    Attributes
    ----------
    samples : array, shape (n,)
        Before, silence, after; full scale = 1.
    sample_rate_hz : int
        Frames per second. [Hz]
    passage : SamePassage
        Where it is from.
    gains_db : (float, float)
        What both sides were raised by. [dB]
    loudness_lufs : float
        Loudness of both passages after that (Rec. ITU-R BS.1770). [LUFS]
    """

    samples: Floats
    sample_rate_hz: int
    passage: SamePassage
    gains_db: tuple[float, float]
    loudness_lufs: float


def make_audition(passage: SamePassage, *, before: Recording, after: Recording) -> Audition:
    """Cut a passage out of both recordings and bring them to the same loudness.

    Parameters
    ----------
    passage : SamePassage
        Where it is.
    before, after : Recording
        The recordings that it is in.

    Returns
    -------
    Audition
        At the higher one of both sampling rates.

    Raises
    ------
    RoomirError
        ``nothing-to-hear`` where one side is silent.
    """
    rate = max(one.sound.sample_rate_hz for one in (before, after))
    sides = [
        _cut(where, recording, rate_hz=rate)
        for where, recording in ((passage.before, before), (passage.after, after))
    ]
    loudness = [_loudness_lufs(side, rate_hz=rate) for side in sides]
    if not all(map(math.isfinite, loudness)):
        raise nothing_to_hear("one of the passages is too faint for a loudness")
    target = min(loudness)
    gains_db = [target - one for one in loudness]
    matched = [side * 10.0 ** (gain_db / 20.0) for side, gain_db in zip(sides, gains_db, strict=True)]
    # As loud as fits, and the same for both: what is matched stays matched.
    common_db = 20.0 * math.log10(_PEAK / max(float(np.abs(side).max()) for side in matched))
    silence = np.zeros(round(GAP_S * rate))
    samples = np.concatenate([matched[0], silence, matched[1]]) * 10.0 ** (common_db / 20.0)
    return Audition(
        samples=samples,
        sample_rate_hz=rate,
        passage=passage,
        gains_db=(gains_db[0] + common_db, gains_db[1] + common_db),
        loudness_lufs=target + common_db,
    )


def nothing_to_hear(says: str) -> RoomirError:
    """Refuse to write a sound."""
    return RoomirError(
        f"there is nothing to be heard before and after: {says}",
        code="nothing-to-hear",
        remedy="clap the same way in both states, or play the same chords, and let each sound die away",
    )


def _cut(where: Passage, recording: Recording, *, rate_hz: int) -> Floats:
    from scipy.signal import resample_poly

    own = recording.sound.sample_rate_hz
    start = round(where.start_s * own)
    stretch = recording.sound.stretch(start=start, stop=start + round(where.length_s * own)).astype(
        np.float64
    )
    # Microphones apart would comb if they were added up: the louder one speaks for both.
    loudest = int(np.argmax((stretch**2).sum(axis=0)))
    sound = stretch[:, loudest]
    if own != rate_hz:
        shared = math.gcd(own, rate_hz)
        sound = resample_poly(sound, rate_hz // shared, own // shared)
    fade = 0.5 - 0.5 * np.cos(np.linspace(0.0, np.pi, round(_FADE_S * rate_hz)))
    sound[: fade.size] *= fade
    sound[-fade.size :] *= fade[::-1]
    return np.asarray(sound)


def _loudness_lufs(sound: Floats, *, rate_hz: int) -> float:
    from pyloudnorm import Meter

    return float(Meter(rate_hz).integrated_loudness(sound))


def audition(
    before: Reading, after: Reading, *, recordings: tuple[Sequence[Recording], Sequence[Recording]]
) -> Audition:
    """Make the sound of a room before and after.

    Parameters
    ----------
    before, after : Reading
        Both sides as they were read.
    recordings : (sequence of Recording, sequence of Recording)
        Every recording of both sides, those without a clap included.

    Returns
    -------
    Audition
        Of the two claps most alike; else of chords that were played in both states.

    Raises
    ------
    RoomirError
        ``nothing-to-hear``.
    """
    clap = find_same_clap(before, after)
    if clap is not None:
        here = recording_of(before.takes[clap.before.take], recordings[0])
        there = recording_of(after.takes[clap.after.take], recordings[1])
        if here is not None and there is not None:
            return make_audition(clap, before=here, after=there)
    chords = find_same_chords(*recordings)
    if chords is not None:
        return make_audition(
            chords, before=recordings[0][chords.before.take], after=recordings[1][chords.after.take]
        )
    raise nothing_to_hear("no two claps are alike, and no chords were played in both states")
