"""What a detector gets of one clap: the stretch that will be read, and a little of what came before."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from roomir.audio.recording import Recording, Samples
from roomir.claps.clap import Clap
from roomir.claps.listening import listening_length_s, sinks_after_s
from roomir.faults.fault import Fault
from roomir.remarks import Remark

BEFORE_S = 0.3
"""How much of what came before a clap is looked at. [s]"""

AFTER_S = 0.045
"""How much of what follows the end of what is read: a gap may have ended it. [s]"""

_SET_ASIDE_S = 0.5
_FELL_S = 0.02


_EXACT = ("PCM", "FLOAT", "DOUBLE", "FLAC", "ALAC", "ULAW", "ALAW")


def is_lossy(codec: str) -> bool:
    """Whether a codec is none of those that keep every sample, or nearly; an unnamed one is exact."""
    return bool(codec) and not codec.upper().startswith(_EXACT)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Heard:
    """One event with its sound.

    Attributes
    ----------
    take, place : int
        Which recording, and which of its events.
    clap : Clap
        The event.
    samples : Samples, shape (n_frames, n_channels)
        From up to ``BEFORE_S`` before the onset to ``AFTER_S`` after the end of what is read.
    onset, stop : int
        Frame of the onset within ``samples``, and the first one that is not read.
    sunk_s : float
        When the sum of all bands has sunk into the background, after the onset. [s]
    rate_hz : int
        Frames per second. [Hz]
    at_end : bool
        Whether the recording ends where the reading does.
    lossy : bool
        Whether a coder has rounded the sound.
    loudest : float
        Highest magnitude of any event of the take, full scale = 1.
    """

    take: int
    place: int
    clap: Clap
    samples: Samples
    onset: int
    stop: int
    sunk_s: float
    rate_hz: int
    at_end: bool
    lossy: bool
    loudest: float

    @property
    def start(self) -> int:
        """Frame of the recording at which ``samples`` begins."""
        return self.clap.onset - self.onset

    def after_s(self, frame: int) -> float:
        """Time of a frame of ``samples`` after the onset. [s]"""
        return (frame - self.onset) / self.rate_hz


def hear(recording: Recording, claps: Sequence[Clap], *, take: int) -> Iterator[Heard]:
    """Look up the events of a take, one after the other.

    Of those that were set aside only the beginning, for what may have made
    them look like no clap.
    """
    sound = recording.sound
    rate = sound.sample_rate_hz
    loudest = 10.0 ** (max((clap.peak_dbfs for clap in claps), default=0.0) / 20.0)
    for place, clap in enumerate(claps):
        length_s = listening_length_s(sound, clap) if clap.used else _SET_ASIDE_S
        start = max(clap.onset - round(BEFORE_S * rate), 0)
        stop = min(clap.stop, clap.onset + round(length_s * rate))
        yield Heard(
            take=take,
            place=place,
            clap=clap,
            samples=sound.stretch(start=start, stop=stop + round(AFTER_S * rate)),
            onset=clap.onset - start,
            stop=stop - start,
            sunk_s=sinks_after_s(length_s),
            rate_hz=rate,
            at_end=stop >= sound.n_frames,
            lossy=is_lossy(recording.codec),
            loudest=loudest,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """A fault of one event.

    Attributes
    ----------
    fault : Fault
        What was found.
    stop : int or None
        Where in the recording its clean part ends, if it does.
    is_alone : bool
        Whether the other events of the take have nothing of it.
    fell_db : float
        How far the sound had fallen where its clean part ends. [dB]
    """

    fault: Fault
    stop: int | None = None
    is_alone: bool = False
    fell_db: float = 0.0


def end_clean_part(heard: Heard, *, frame: int, remark: Remark, is_loss: bool) -> Finding:
    """Leave out a decay from a frame of its samples on.

    The fault weighs where the decay had not sunk by then. What is lost
    (``is_loss``) leaves what comes before as it was, and the other claps; what
    was turned down may have been so before it showed.
    """
    return Finding(
        fault=Fault(
            remark=remark,
            take=heard.take,
            place=heard.place,
            weighs=heard.clap.used and heard.after_s(frame) < heard.sunk_s,
            is_cut=is_loss,
        ),
        stop=heard.start + max(frame, heard.onset + 1) if heard.clap.used else None,
        is_alone=is_loss,
        fell_db=_fell_db(heard, frame=frame),
    )


def _fell_db(heard: Heard, *, frame: int) -> float:
    """How far the sound has fallen from its first 40 ms to the 20 ms before a frame. [dB]"""
    n = round(_FELL_S * heard.rate_hz)
    if frame - heard.onset < 3 * n:
        return 0.0
    change = np.diff(heard.samples[heard.onset : frame], axis=0)
    early, late = (float(np.square(part, dtype=np.float64).mean()) for part in (change[: 2 * n], change[-n:]))
    return 10.0 * math.log10(max(early, 1e-30) / max(late, 1e-30))
