"""Clicks inside a decay: a sample or a few that stand out of it, without a room's answer to them."""

from __future__ import annotations

import numpy as np

from roomir.audio.recording import Samples
from roomir.faults.fault import Fault
from roomir.faults.heard import Finding, Heard
from roomir.remarks import Remark

SURE = 10.0
"""Height over what lies around it from which a click is believed. Reverberation is noise, of which a
second comes to 4.5; echoes last longer than a click. [standard deviations]"""

WEIGHS = 4.0
"""Energy of a click over that of 20 ms of the decay around it from which it moves the number."""

_FROM_S = 0.08
_AROUND_S = 0.02
_WIDEST_S = 0.0004
_APART_S = 0.002
_SHARE = 0.2
_MEDIAN_OF_NORMAL = 0.6745


def find_clicks(heard: Heard) -> list[Finding]:
    """Name a clap into whose decay something clicked."""
    if not heard.clap.used:
        return []
    first = heard.onset + round(_FROM_S * heard.rate_hz)
    last = min(heard.stop, heard.onset + round(heard.sunk_s * heard.rate_hz))
    found = [
        (first + frame, energy)
        for channel in heard.samples.T
        for frame, energy in clicks(channel[first:last], rate_hz=heard.rate_hz)
    ]
    if not found:
        return []
    frames = sorted(frame for frame, _ in found)
    weighs = max(energy for _, energy in found) >= WEIGHS
    times = "once" if len(found) == 1 else f"{len(found)} times, first"
    remark = Remark(
        code="clicks",
        says=f"something clicked {times} {1000.0 * heard.after_s(frames[0]):.0f} ms after the clap,"
        + (" louder than the decay" if weighs else " too faintly to move the decay time"),
        remedy="keep hands off the phone while it records, close other apps, and check plug and cable",
    )
    fault = Fault(remark=remark, take=heard.take, place=heard.place, weighs=weighs)
    return [Finding(fault=fault, is_alone=True)]


def clicks(sound: Samples, *, rate_hz: int) -> list[tuple[int, float]]:
    """Find the clicks of one channel: frame, and energy over that of 20 ms around it.

    A click stands ten standard deviations out of the 20 ms around it, taken
    by their median, is over within 0.4 ms, and leaves nothing behind.
    """
    change = np.abs(np.diff(sound))
    n = round(_AROUND_S * rate_hz)
    n_rows = change.size // n
    if n_rows < 2:
        return []
    rows = change[: n_rows * n].reshape(n_rows, n)
    tops = rows.max(axis=1)
    # A median is worth its time only where the mean does not say no.
    out: list[tuple[int, float]] = []
    for i in np.flatnonzero(tops > 0.5 * SURE * rows.mean(axis=1)):
        frame = int(i) * n + int(rows[i].argmax())
        if out and frame - out[-1][0] < round(_APART_S * rate_hz):
            continue
        around = change[max(frame - n // 2, 0) : frame + n // 2]
        spread = float(np.median(around)) / _MEDIAN_OF_NORMAL
        if spread <= 0.0 or change[frame] < SURE * spread:
            continue
        reach = round(_APART_S * rate_hz)
        near = change[max(frame - reach, 0) : frame + reach]
        high = np.flatnonzero(near > _SHARE * change[frame])
        if high[-1] - high[0] > _WIDEST_S * rate_hz:
            continue
        energy = float(np.square(near[high[0] : high[-1] + 1], dtype=np.float64).sum())
        out.append((frame, energy / (n * spread**2)))
    return out
