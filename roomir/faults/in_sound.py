"""Faults that the recordings themselves show, before any decay is fitted."""

from __future__ import annotations

from collections.abc import Sequence

from roomir.audio.recording import Recording
from roomir.claps.clap import Clap
from roomir.faults.codec import find_voice_coders
from roomir.faults.fault import Fault


def inspect_sounds(
    recordings: Sequence[Recording], found: Sequence[Sequence[Clap]]
) -> tuple[tuple[Fault, ...], list[list[Clap]]]:
    """Look for what the recorder did to the takes.

    Parameters
    ----------
    recordings : sequence of Recording
        The takes.
    found : sequence of sequence of Clap
        The candidates of each, in time order.

    Returns
    -------
    tuple of Fault
        What was found.
    list of list of Clap
        The candidates, with an earlier ``stop`` where only the beginning of a
        decay is clean.
    """
    return tuple(find_voice_coders(recordings)), [list(claps) for claps in found]
