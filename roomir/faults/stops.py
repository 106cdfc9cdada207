"""Takes that begin or end while something dies away."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from roomir.audio.recording import Samples, Sound
from roomir.claps.clap import Clap
from roomir.faults.fault import Fault
from roomir.faults.heard import Finding, Heard
from roomir.remarks import Remark

_FRAME_S = 0.03
_CLEAR_S = 0.02
_LEAST_BEFORE = 3
_LEAST_AFTER = 5
_OVER = 10.0
"""So many times the power of the background is a decay that has not sunk."""
_FALLS = 1.5
_LOOK_S = 3.0


def find_stop(heard: Heard) -> list[Finding]:
    """Name a clap that is still dying away where the recording ends.

    It is read as far as it goes; how far that is decides on trust.
    """
    if not heard.at_end or not heard.clap.used:
        return []
    clear = heard.onset - round(_CLEAR_S * heard.rate_hz)
    before = _powers(heard.samples[: max(clear, 0)], rate_hz=heard.rate_hz)
    after = _powers(heard.samples[heard.onset : heard.stop][::-1], rate_hz=heard.rate_hz)
    if before.size < _LEAST_BEFORE or after.size < _LEAST_AFTER or not before.all():
        return []
    over = float(after[0]) / float(np.median(before))
    if over < _OVER or float(after[2:5].mean()) < _FALLS * float(after[:2].mean()):
        return []
    remark = Remark(
        code="stops-inside-decay",
        says=f"the recording ends while the clap still stands {10.0 * np.log10(over):.0f} dB over the"
        " background: its decay is read as far as it goes",
        remedy="let the recorder run for five seconds after the last clap",
    )
    return [Finding(fault=Fault(remark=remark, take=heard.take, place=heard.place, weighs=False))]


def find_start(sound: Sound, claps: Sequence[Clap], *, take: int) -> list[Fault]:
    """Note that a take begins while something dies away: it is not read, and nothing else suffers."""
    rate = sound.sample_rate_hz
    first = min((clap.onset for clap in claps if clap.used), default=sound.n_frames) - round(_CLEAR_S * rate)
    power = _powers(sound.stretch(start=0, stop=max(min(first, round(_LOOK_S * rate)), 0)), rate_hz=rate)
    if power.size < _LEAST_AFTER + 4 or not power.all():
        return []
    background = float(np.median(power[-(power.size // 3) :]))
    early, later = float(power[:3].mean()), float(power[3:6].mean())
    if power[0] < _OVER * background or early < _FALLS * later or power[0] < power[:3].mean():
        return []
    remark = Remark(
        code="starts-inside-decay",
        says="the recording begins while a sound dies away; that sound is not read",
        remedy="start the recorder five seconds before the first clap",
    )
    return [Fault(remark=remark, take=take, weighs=False, is_note=True)]


def _powers(samples: Samples, *, rate_hz: int) -> NDArray[np.float64]:
    """Power of the changes from frame to frame, in pieces of 30 ms from the first one on."""
    change = np.diff(samples, axis=0)
    n = round(_FRAME_S * rate_hz)
    rows = change[: change.shape[0] // n * n].reshape(-1, n * change.shape[1])
    return np.asarray(np.einsum("ij,ij->i", rows, rows, dtype=np.float64))
