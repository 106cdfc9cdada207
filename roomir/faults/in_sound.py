"""Faults that the recordings themselves show, before any decay is fitted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from roomir.audio.recording import Recording
from roomir.bands.band import Band
from roomir.claps.clap import Clap
from roomir.faults.clipping import find_clipping
from roomir.faults.codec import find_voice_coders
from roomir.faults.edge import MIRRORS_OF, EarlySpectrum, early_spectrum, find_edge
from roomir.faults.ends import find_fades
from roomir.faults.fault import Fault
from roomir.faults.gaps import find_dropouts
from roomir.faults.heard import hear
from roomir.faults.rate import find_wrong_rate
from roomir.faults.repeats import find_repeats

_OF_ONE_CLAP = (find_clipping, find_dropouts, find_repeats)


def inspect_sounds(
    recordings: Sequence[Recording], found: Sequence[Sequence[Clap]], *, bands: Sequence[Band]
) -> tuple[tuple[Fault, ...], list[list[Clap]]]:
    """Look for what the recorder did to the takes.

    Parameters
    ----------
    recordings : sequence of Recording
        The takes.
    found : sequence of sequence of Clap
        The candidates of each, in time order.
    bands : sequence of Band
        The bands that will be read.

    Returns
    -------
    tuple of Fault
        What was found.
    list of list of Clap
        The candidates, with an earlier ``stop`` where only the beginning of a
        decay is clean.
    """
    faults = find_voice_coders(recordings)
    out = []
    for take, (recording, claps) in enumerate(zip(recordings, found, strict=True)):
        kept = list(claps)
        spectra: list[EarlySpectrum] = []
        findings = find_fades(recording.sound, claps, take=take)
        for heard in hear(recording, claps, take=take):
            if heard.clap.used:
                spectra.append(early_spectrum(heard, with_mirrors=len(spectra) < MIRRORS_OF))
            for detect in _OF_ONE_CLAP:
                findings += detect(heard)
        for finding in findings:
            faults.append(finding.fault)
            if finding.fault.place is not None:
                kept[finding.fault.place] = _ended(kept[finding.fault.place], stop=finding.stop)
        faults += find_wrong_rate(recording.sound, take=take)
        faults += find_edge(spectra, take=take, rate_hz=recording.sound.sample_rate_hz, bands=bands)
        out.append(kept)
    return tuple(faults), out


def _ended(clap: Clap, *, stop: int | None) -> Clap:
    return clap if stop is None or stop >= clap.stop else replace(clap, stop=stop)
