"""What an opener hands over: a sound, and what the file said about it."""

from __future__ import annotations

from dataclasses import dataclass

from roomir.audio.recording import Sound
from roomir.errors import UnreadableAudioError
from roomir.remarks import Remark

MIN_RATE_HZ = 8_000
"""Lowest sample rate read: what telephone codecs deliver. [Hz]"""

MAX_RATE_HZ = 192_000
"""Highest sample rate read. [Hz]"""

MAX_CHANNELS = 64
"""Most channels read: beyond any recorder, but far below what a damaged header can claim."""

MAX_DURATION_S = 12 * 3600.0
"""Longest sound read; whoever claims more has a damaged header or the wrong file. [s]"""

BLOCK_FRAMES = 1 << 16
"""How much is read at a time wherever a file is gone through. [frames]"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Opened:
    """A sound as an opener found it, before anybody has looked at its samples.

    Attributes
    ----------
    sound : Sound
        The samples.
    container, codec : str
        As the decoder names them.
    dates : tuple of str
        What the file says about when it was made, best first, as written.
    announced_s : float or None
        Length that the file announces, where it does. [s]
    notes : tuple of Remark
        What the opener noticed.
    """

    sound: Sound
    container: str
    codec: str
    dates: tuple[str, ...] = ()
    announced_s: float | None = None
    notes: tuple[Remark, ...] = ()


def check_format(*, name: str, sample_rate_hz: int, n_channels: int, n_frames: int = 0) -> None:
    """Refuse what no recorder makes, before memory is set aside for it.

    Raises
    ------
    UnreadableAudioError
        ``impossible-format`` or ``too-long``.
    """
    if not (MIN_RATE_HZ <= sample_rate_hz <= MAX_RATE_HZ and 1 <= n_channels <= MAX_CHANNELS):
        raise UnreadableAudioError(
            f"{name}: its header claims {n_channels} channels at {sample_rate_hz} samples a second; "
            f"1 to {MAX_CHANNELS} channels at {MIN_RATE_HZ} to {MAX_RATE_HZ} can be read",
            code="impossible-format",
            remedy="if it plays, export it as WAV at 48000 Hz; if not, copy it from the recorder again",
        )
    if n_frames > MAX_DURATION_S * sample_rate_hz:
        raise too_long(name=name, duration_s=n_frames / sample_rate_hz)


def too_long(*, name: str, duration_s: float | None = None) -> UnreadableAudioError:
    """Say that a sound is longer than anything that is read in one piece."""
    length = "is longer" if duration_s is None else f"claims to be {duration_s / 3600:.0f} hours long, longer"
    return UnreadableAudioError(
        f"{name}: the sound {length} than what can be read in one piece",
        code="too-long",
        remedy="cut out the minutes with the claps and save them as WAV",
    )
