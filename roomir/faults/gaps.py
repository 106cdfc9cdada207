"""Dropouts: moments at which the recorder lost the sound and wrote zeros, or held a sample, instead."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomir.audio.recording import Samples
from roomir.faults.heard import Finding, Heard, end_clean_part
from roomir.faults.steps import quantisation_step
from roomir.remarks import Remark

Frames = NDArray[np.intp]

_SHORTEST_S = 0.0008
_LEAST_FRAMES = 12
_BESIDE_S = 0.01
_BEYOND_CHANCE = 25.0
_LIVELIEST = 0.05
_STEP_S = 0.002
_SINGLY_S = 0.02
_N_BESIDE = 5
_DROP = 10.0**-2.5
_ALIKE = 30.0
_LEAST_STEPS = 8.0
_COARSE_STEPS = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """A stretch without sound amid sound: first frame, and first frame after it."""

    first: int
    stop: int


def find_dropouts(heard: Heard) -> list[Finding]:
    """Name the moments at which the sound of a clap is missing."""
    gaps = _joined(
        gap
        for channel in heard.samples.T
        for gap in find_gaps(channel, rate_hz=heard.rate_hz, onset=heard.onset)
        if heard.onset < gap.stop and gap.first < heard.stop
    )
    if not gaps:
        return []
    longest_ms = 1000.0 * max(gap.stop - gap.first for gap in gaps) / heard.rate_hz
    after_ms = 1000.0 * max(heard.after_s(gaps[0].first), 0.0)
    several = f"{len(gaps)} times, first" if len(gaps) > 1 else "for a moment"
    remark = Remark(
        code="dropout",
        says=f"the recorder lost the sound {several} {after_ms:.0f} ms after the clap,"
        f" for {longest_ms:.3g} ms at the longest; only what comes before it can be read",
        remedy="close other apps, switch wireless headsets off, and record again",
    )
    return [end_clean_part(heard, frame=gaps[0].first, remark=remark, is_loss=True)]


def _joined(gaps: Iterable[Gap]) -> list[Gap]:
    """Put gaps that touch together, in time order."""
    out: list[Gap] = []
    for gap in sorted(gaps, key=lambda gap: gap.first):
        if out and gap.first <= out[-1].stop:
            out[-1] = Gap(first=out[-1].first, stop=max(gap.stop, out[-1].stop))
        else:
            out.append(gap)
    return out


def find_gaps(sound: Samples, *, rate_hz: int, onset: int | None = None) -> list[Gap]:
    """Find where one channel stands still or breaks off amid sound.

    Parameters
    ----------
    sound : Samples, shape (n,)
        One channel.
    rate_hz : int
        Frames per second. [Hz]
    onset : int, optional
        Frame at which a clap begins.

    Notes
    -----
    A run of equal samples is a gap where chance cannot have made it: with the
    share ``p`` of equal neighbours in the 10 ms before and after, the larger
    of both, a run of ``k`` has a chance of ``p^k``, and less than e^-25 is
    asked for. A faint sound in coarse steps, whose samples often are equal and
    go over fewer than eight of them, and digital silence before or behind a
    sound are none. What a codec or
    another rate has rounded shows as 2 ms of sound 25 dB below the median of
    the 10 ms on either side, both about as loud: noise does not pause so. Direct
    sound and the first reflections of a bare room come singly and may.
    """
    step = quantisation_step(sound)
    singly = range(0) if onset is None else range(onset, onset + round(_SINGLY_S * rate_hz))
    return [
        *_standing_still(sound, rate_hz=rate_hz, step=step),
        *(gap for gap in _breaking_off(sound, rate_hz=rate_hz, step=step) if gap.first not in singly),
    ]


def _standing_still(sound: Samples, *, rate_hz: int, step: float) -> list[Gap]:
    moves = np.flatnonzero(sound[1:] != sound[:-1])
    least = max(round(_SHORTEST_S * rate_hz), _LEAST_FRAMES)
    runs = np.flatnonzero(np.diff(moves) > least)
    beside = round(_BESIDE_S * rate_hz)
    highest = float(np.abs(sound).max(initial=0.0))
    coarse = _LEAST_STEPS * step
    gaps = []
    for i in runs:
        first, stop = int(moves[i]) + 1, int(moves[i + 1]) + 1
        if first < beside or stop + beside > sound.size or abs(float(sound[first])) > 0.7 * highest:
            continue
        n_before = i + 1 - np.searchsorted(moves, first - beside)
        n_after = np.searchsorted(moves, stop + beside) - i - 1
        if min(np.ptp(sound[first - beside : first]), np.ptp(sound[stop : stop + beside])) < coarse:
            continue
        still = max(1.0 - min(n_before, n_after) / beside, _LIVELIEST)
        if (stop - first) * -np.log(min(still, 1.0)) > _BEYOND_CHANCE:
            gaps.append(Gap(first=first, stop=stop))
    return gaps


def _breaking_off(sound: Samples, *, rate_hz: int, step: float) -> list[Gap]:
    n_step = max(round(_STEP_S * rate_hz), 1)
    change = np.diff(sound)
    n_steps = change.size // n_step
    if n_steps < 2 * _N_BESIDE + 2:
        return []
    rows = change[: n_steps * n_step].reshape(n_steps, n_step)
    energy = np.einsum("ij,ij->i", rows, rows)
    # Where a sound moves by a step or two, chance leaves many of 2 ms without any.
    coarse = _COARSE_STEPS**2 * n_step * step**2
    beside = np.lib.stride_tricks.sliding_window_view(energy, _N_BESIDE)
    inner = np.arange(_N_BESIDE, n_steps - _N_BESIDE)
    # Most steps are louder than the faintest beside them: only the others are worth a median.
    lowest = np.minimum(energy[inner - 1], energy[inner + 1])
    before_low = np.minimum(energy[inner - 2], energy[inner + 2])
    worth = inner[energy[inner] < _DROP * np.maximum(np.maximum(lowest, before_low), 1e-30)]
    gaps = []
    for i in worth:
        before = float(np.median(beside[i - _N_BESIDE]))
        after = float(np.median(beside[i + 1]))
        fainter, louder = min(before, after), max(before, after)
        if energy[i] < _DROP * fainter and coarse < fainter and louder < _ALIKE * fainter:
            gaps.append(Gap(first=int(i) * n_step, stop=(int(i) + 1) * n_step))
    return gaps
