"""One clap as the decay analysis hears it: where it came from, and its energy band by band."""

from __future__ import annotations

from dataclasses import dataclass

from roomir.decay.energy import EnergyTrace


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HeardClap:
    """One used clap with its energy in every band.

    Attributes
    ----------
    take, place : int
        Which recording, and which of its events.
    traces : tuple (n_bands) of EnergyTrace or None
        None where the recording cannot carry the band.
    """

    take: int
    place: int
    traces: tuple[EnergyTrace | None, ...]
