"""A clap: one impulsive event in a recording, fit to be read or set aside with the reason."""

from __future__ import annotations

from dataclasses import dataclass

from roomir.remarks import Remark


@dataclass(frozen=True, slots=True, kw_only=True)
class Clap:
    """One candidate event.

    Attributes
    ----------
    onset : int
        First frame within 20 dB of the event's peak (ISO 3382-1:2009, 5.3: the
        start of the response). [frames]
    stop : int
        First frame that no longer belongs to this event's free decay: the next
        event begins, or the recording ends. [frames]
    sample_rate_hz : int
        Frames per second. [Hz]
    peak_dbfs : float
        Highest magnitude of the event re full scale, over all channels. [dB]
    set_aside_because : Remark or None
        Why it is not used; ``None`` for a clap that is.
    listening_s : float or None
        How long to listen after the onset, once that was worked out. [s]
    """

    onset: int
    stop: int
    sample_rate_hz: int
    peak_dbfs: float
    set_aside_because: Remark | None = None
    listening_s: float | None = None

    @property
    def used(self) -> bool:
        """Whether the decay is read."""
        return self.set_aside_because is None

    @property
    def onset_s(self) -> float:
        """Time of the onset from the start of the recording. [s]"""
        return self.onset / self.sample_rate_hz

    @property
    def stop_s(self) -> float:
        """Time at which the free decay ends. [s]"""
        return self.stop / self.sample_rate_hz
