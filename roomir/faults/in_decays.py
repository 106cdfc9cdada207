"""Faults that show in the fitted decays: what follows the level, or the time after a clap."""

from __future__ import annotations

from collections.abc import Sequence

from roomir.audio.recording import Recording
from roomir.claps.clap import Clap
from roomir.decay.band_fit import BandFit
from roomir.decay.heard import HeardClap
from roomir.faults.added import decay_stretches, find_added
from roomir.faults.backgrounds import follow_background, quiet_stretches
from roomir.faults.bends import find_bends, score_bands
from roomir.faults.faded import find_faded_end
from roomir.faults.fault import Fault
from roomir.faults.gain_words import apart_from_gains, name_gains
from roomir.faults.hidden import find_hidden
from roomir.faults.other_sounds import find_other_sounds
from roomir.faults.scores import make_ready
from roomir.faults.suspected import suspect_bends
from roomir.remarks import Remark


def inspect_decays(
    recordings: Sequence[Recording],
    found: Sequence[Sequence[Clap]],
    heard: Sequence[HeardClap],
    fits: Sequence[BandFit | None],
) -> tuple[tuple[Fault, ...], dict[tuple[int, int], Remark]]:
    """Look for what the recorder did to the decays.

    Parameters
    ----------
    recordings : sequence of Recording
        The takes.
    found : sequence of sequence of Clap
        The candidates of each, in time order.
    heard : sequence of HeardClap
        The claps that are used, over all takes.
    fits : sequence (n_bands) of BandFit or None
        Their decays.

    Returns
    -------
    tuple of Fault
        What was found; of several signs of one fault the most fitting, once.
    dict
        Why an event that was read is no clap, by take and place.
    """
    if not heard:
        return (), {}
    bands = [None if fit is None else make_ready(fit) for fit in fits]
    scores = score_bands(bands, n_claps=len(heard))
    hidden = find_hidden(bands, n_claps=len(heard))
    faults: list[Fault] = []
    no_claps: dict[tuple[int, int], Remark] = {}
    for take, (recording, claps) in enumerate(zip(recordings, found, strict=True)):
        rows = [row for row, clap in enumerate(heard) if clap.take == take]
        if not rows:
            continue
        own = [(row, heard[row]) for row in rows]
        peaks_dbfs = {row: claps[clap.place].peak_dbfs for row, clap in own}
        others = find_other_sounds(scores, bands, peaks_dbfs=peaks_dbfs)
        no_claps |= {(take, heard[row].place): because for row, because in others.items()}
        quiet_s = quiet_stretches(claps, own, fits, end_s=recording.duration_s)
        faults += find_added(recording.sound, quiet_s, decay_stretches(claps, own, fits), take=take)
        faults += find_faded_end(recording.sound, claps, own, fits, take=take)
        courses = follow_background(recording.sound, claps, own, fits)
        bends = find_bends(scores, bands, rows=rows)
        places = {row: clap.place for row, clap in own}
        named = name_gains(
            bends, courses, apart_from_gains(hidden, bends, rows=rows), take=take, places=places
        )
        faults += named
        accused = {fault.place for fault in named}
        left = [row for row in rows if places[row] not in accused]
        if left and None not in accused:
            faults += suspect_bends(scores, bands, rows=left, take=take)
    return tuple(faults), no_claps
