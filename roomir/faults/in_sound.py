"""Faults that the recordings themselves show, before any decay is fitted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from roomir.audio.recording import Recording
from roomir.bands.band import Band
from roomir.claps.clap import Clap
from roomir.faults.changes import find_changes
from roomir.faults.channels import (
    channel_delay_s,
    channel_drift_db,
    find_late_channels,
    find_unlike_channels,
)
from roomir.faults.clicks import find_clicks
from roomir.faults.clipping import find_clipping
from roomir.faults.codec import find_voice_coders
from roomir.faults.drops import find_drops
from roomir.faults.edge import MIRRORS_OF, EarlySpectrum, early_spectrum, find_edge
from roomir.faults.ends import find_fades
from roomir.faults.fault import Fault
from roomir.faults.gaps import find_dropouts
from roomir.faults.heard import Finding, hear
from roomir.faults.octaves import run_octaves
from roomir.faults.rate import find_wrong_rate
from roomir.faults.repeats import find_repeats
from roomir.faults.rounding import find_rounding
from roomir.faults.stops import find_start, find_stop

LEAST_CLEAN_S = 0.08
"""Of a shorter decay too little is seen to be read. [s]"""

LEAST_OTHERS = 2
"""So many claps that nothing has struck stand for those that something has."""

LEFT_DB = 45.0
"""Fall of the whole sound before a cut from which the bands, some of which are fainter, have 35. [dB]"""

_CUT_BY_AN_EVENT = "second-event-in-decay"

_OF_ONE_CLAP = (find_clipping, find_dropouts, find_repeats, find_drops, find_clicks, find_stop)


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
        drifts_db: list[NDArray[np.float64]] = []
        delays_s: list[NDArray[np.float64]] = []
        findings = find_fades(recording.sound, claps, take=take)
        faded = {finding.fault.place for finding in findings}
        for whole in hear(recording, claps, take=take):
            rounded, heard = find_rounding(whole)
            if any(finding.fault.weighs for finding in rounded):
                # What has so few steps has flat tops and goes down to nothing by itself.
                findings = [one for one in findings if one.fault.place != heard.place]
            findings += rounded
            if heard.clap.used:
                spectra.append(early_spectrum(heard, with_mirrors=len(spectra) < MIRRORS_OF))
                runs = run_octaves(heard)
                if heard.place not in faded:
                    findings += find_changes(heard, runs, bands=bands)
                if (drift_db := channel_drift_db(runs)) is not None:
                    drifts_db.append(drift_db)
                if (delay_s := channel_delay_s(heard)) is not None:
                    delays_s.append(delay_s)
            for detect in _OF_ONE_CLAP:
                findings += detect(heard)
        for finding in findings:
            faults.append(finding.fault)
            if finding.fault.place is not None:
                kept[finding.fault.place] = _ended(kept[finding.fault.place], finding)
        kept = _without_struck(kept, findings)
        faults += find_unlike_channels(drifts_db, take=take)
        faults += find_late_channels(delays_s, take=take)
        faults += find_start(recording.sound, claps, take=take)
        faults += find_wrong_rate(recording.sound, take=take)
        faults += find_edge(spectra, take=take, rate_hz=recording.sound.sample_rate_hz, bands=bands)
        out.append(kept)
    return tuple(faults), out


def _without_struck(claps: Sequence[Clap], findings: Sequence[Finding]) -> list[Clap]:
    """Set the claps aside of which too little is left, where the others of the take suffice for a reading.

    They do where nothing has struck them and they are no fewer.
    """
    struck = {
        one.fault.place: one.fault.remark
        for one in reversed(findings)
        if one.fault.weighs and one.is_alone and one.fell_db < LEFT_DB
    }
    suffering = {one.fault.place for one in findings if one.fault.weighs}
    n_others = sum(clap.used for place, clap in enumerate(claps) if place not in suffering)
    n_struck = sum(clap.used for place, clap in enumerate(claps) if place in struck)
    if n_others < max(LEAST_OTHERS, n_struck):
        return list(claps)
    return [
        replace(clap, set_aside_because=struck[place]) if clap.used and place in struck else clap
        for place, clap in enumerate(claps)
    ]


def _ended(clap: Clap, finding: Finding) -> Clap:
    """End a clap where its clean part does, and set it aside where that is too short to be read.

    Sound that comes back after a gap, or again, passes for another event; then the gap is the reason.
    """
    aside = clap.set_aside_because
    if aside is not None and aside.code == _CUT_BY_AN_EVENT and finding.fault.is_cut:
        return replace(clap, set_aside_because=finding.fault.remark)
    if finding.stop is None or finding.stop >= clap.stop:
        return clap
    if finding.stop - clap.onset < LEAST_CLEAN_S * clap.sample_rate_hz:
        return replace(clap, set_aside_because=clap.set_aside_because or finding.fault.remark)
    return replace(clap, stop=finding.stop)
