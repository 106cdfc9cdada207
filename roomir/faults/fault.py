"""A fault of the recording: what was found, where it strikes, and whether the number suffers."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from roomir.remarks import Remark

CLEAN_SUFFICES_DB = 35.0
"""Of a decay that is read this far nothing is missed: T20 needs no more (ISO 3382-1:2009, A.2.2). [dB]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One fault of one take.

    Attributes
    ----------
    remark : Remark
        What was found, what it does to the number, how to get rid of it.
    take : int
        Which recording.
    place : int or None
        Which of its events; None for the whole take.
    columns : tuple of int or None
        The bands that it strikes, as places in the band set; None for all.
    weighs : bool
        Whether the decay times of these bands suffer; False where what is
        left of the decay suffices.
    is_cut : bool
        Whether the sound is missing from here on and was well before: what is left of a decay may suffice.
    is_note : bool
        Whether it belongs to the notes of the take: nothing to put right for this reading.
    suspected : bool
        Whether the evidence is too weak to accuse a take or a clap of it: the bands lose full
        trust, and no more is said.
    """

    remark: Remark
    take: int
    place: int | None = None
    columns: tuple[int, ...] | None = None
    weighs: bool = True
    is_cut: bool = False
    is_note: bool = False
    suspected: bool = False

    def strikes(self, *, take: int, place: int, column: int, range_db: float | None = None) -> bool:
        """Whether one event of one take suffers in one band, of whose decay so much is read [dB]."""
        return (
            self.weighs
            and not (self.is_cut and range_db is not None and range_db >= CLEAN_SUFFICES_DB)
            and take == self.take
            and self.place in (None, place)
            and (self.columns is None or column in self.columns)
        )


def concerns_of(faults: Iterable[Fault]) -> tuple[Remark, ...]:
    """Return the remarks on a take or a clap: of faults that are more than suspected or noted."""
    return remarks_of(fault for fault in faults if not (fault.suspected or fault.is_note))


def remarks_of(faults: Iterable[Fault]) -> tuple[Remark, ...]:
    """Return the remarks, one a code: the first of each."""
    first: dict[str, Remark] = {}
    for fault in faults:
        first.setdefault(fault.remark.code, fault.remark)
    return tuple(first.values())
