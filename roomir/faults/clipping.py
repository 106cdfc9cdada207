"""Clipping: tops cut off, by the converter or by what stands before it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomir.faults.fault import Fault
from roomir.faults.heard import Finding, Heard
from roomir.faults.steps import quantisation_step
from roomir.remarks import Remark

Values = NDArray[np.float32]

HARMLESS_S = 0.02
"""Clipping that is over by then took only direct sound and first reflections, which no decay time
rests on. [s]"""

_TOP = 0.84
_FLANK_STEPS = 4.0
_LEAST_PLATEAU = 3
_FLANK_FROM = 0.2
_LEAST_FLANK = 8
_HELD = 0.4
_SHELF = 2.0**0.5
"""Width of the shelf that crowded tops lie on, 3 dB: a codec adds that much to flat ones."""
_DEEPEST_SHELF = 6.0
_LEAST_TOPS = 10
_DENSER = 1.3
_BEYOND_CHANCE = 3.1
_BEYOND_CHANCE_CODED = 3.5
"""A coder moves each top a little, and of a short decay few are left: 13 of a clean one lay on a shelf
with one below it, 3.0 standard deviations beyond. [standard deviations]"""
_STRAY = 0.15
_OVERSHOOT = 1.12
_LEAST_STEPS = 16.0
"""Fewer steps make flat tops of their own."""

_CEILING_OF_LOUDEST = 0.5
_OVER_BACKGROUND = 1.5
_FULL_SCALE_DB = -0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class CutTops:
    """Tops of one polarity that are cut off.

    Attributes
    ----------
    n_tops : int
        How many.
    last : int
        Frame of the last one.
    ceiling : float
        Where, as a magnitude, full scale = 1.
    """

    n_tops: int
    last: int
    ceiling: float


def find_clipping(heard: Heard) -> list[Finding]:
    """Name a clap whose tops are cut off, and say for how long.

    Nothing is wrong any more once the level has fallen below the ceiling, so
    that the decay time suffers only where this takes longer than direct
    sound and first reflections do.
    """
    found = [
        (cut, sign)
        for channel in heard.samples.T
        if float(np.abs(channel[heard.onset : heard.stop]).max(initial=0.0))
        >= _LEAST_STEPS * quantisation_step(channel)
        for sign in (1.0, -1.0)
        if (
            cut := cut_tops(
                np.asarray(sign * channel[heard.onset : heard.stop]),
                floor=_OVER_BACKGROUND * _background_peak(heard, channel),
                lossy=heard.lossy,
            )
        )
        is not None
        # What is no clap, a voice say, may have tops alike; a ceiling it has not where others rise above.
        and (heard.clap.used or cut.ceiling > _CEILING_OF_LOUDEST * heard.loudest)
    ]
    if not found:
        return []
    last_s = max(cut.last for cut, _ in found) / heard.rate_hz
    ceiling_db = 20.0 * float(np.log10(max(cut.ceiling for cut, _ in found)))
    n_tops = sum(cut.n_tops for cut, _ in found)
    weighs = last_s > HARMLESS_S
    at = "at full scale" if ceiling_db > _FULL_SCALE_DB else f"at {ceiling_db:.1f} dB, below full scale"
    one_sided = " on one side" if len({sign for _, sign in found}) == 1 else ""
    tops = f"{n_tops} of its tops are" if n_tops > 1 else "its top is"
    what = (
        "the early decay is too flat and the time too long"
        if weighs
        else "EDT and clarity are off, the decay time is not"
    )
    remark = Remark(
        code="clipped",
        says=f"the clap is too loud for the recorder: {tops} cut off{one_sided} {at},"
        f" until {_milliseconds(last_s)} ms after its beginning; {what}",
        remedy="turn the recording level down, or stand further from the phone, and clap again",
    )
    fault = Fault(remark=remark, take=heard.take, place=heard.place, weighs=weighs)
    return [Finding(fault=fault, is_alone=True)]


def cut_tops(sound: Values, *, floor: float = 0.0, lossy: bool = False) -> CutTops | None:
    """Find the cut tops of one polarity; None where there are none.

    Parameters
    ----------
    sound : Values, shape (n,)
        One channel from the onset on; its positive side is looked at.
    floor : float, default 0
        Magnitude below which tops do not count: those of a hum crowd too.
    lossy : bool, default False
        Whether a coder rounded it: what it makes of a sound that reaches full
        scale goes beyond full scale.

    Notes
    -----
    Two signs, either of which suffices. A plateau of equal samples at the
    highest level that the sound enters and leaves with steps of several
    quantisation steps: a round top of ``k`` equal samples has steps of at
    most ``4 (k + 1) / k^2`` of them beside it. Or tops that crowd on a shelf
    of 3 dB: what dies away has more tops the lower they are, and a shelf with
    clearly more of them than the next 3 dB below it is a ceiling. That survives
    a codec, an amplifier's rounder knee and a coupling capacitor. Of 1,500 clean
    claps one reached 2.95 standard deviations beyond 1.3 times as many.
    """
    ceiling = float(sound.max(initial=0.0))
    if ceiling <= 0.0:
        return None
    top = np.flatnonzero(sound >= np.float32(_TOP * ceiling))
    plateaus = _plateaus(sound, top, ceiling=ceiling)
    if plateaus.size:
        return CutTops(n_tops=int(plateaus.size), last=int(plateaus[-1]), ceiling=ceiling)
    if lossy and ceiling > _OVERSHOOT:
        over = np.flatnonzero(sound > 1.0)
        return CutTops(n_tops=int(np.count_nonzero(np.diff(over) > 1)) + 1, last=int(over[-1]), ceiling=1.0)
    least = _BEYOND_CHANCE_CODED if lossy else _BEYOND_CHANCE
    return _crowded_tops(sound, ceiling=ceiling, floor=floor, least=least)


def _background_peak(heard: Heard, channel: Values) -> float:
    """Highest magnitude before the clap or at the end of its stretch, whichever is higher."""
    late = channel[heard.onset : heard.stop]
    parts = (channel[: max(heard.onset - heard.rate_hz // 200, 0)], late[-late.size // 5 :])
    return max(float(np.abs(part).max(initial=0.0)) for part in parts)


def _crowded_tops(sound: Values, *, ceiling: float, floor: float, least: float) -> CutTops | None:
    lowest = max(ceiling / _DEEPEST_SHELF, floor)
    if lowest >= ceiling:
        return None
    reach = int(np.flatnonzero(sound >= np.float32(lowest))[-1]) + 1
    positive = sound[:reach] > 0.0
    begins = np.flatnonzero(positive[1:] & ~positive[:-1]) + 1
    if begins.size < _LEAST_TOPS:
        return None
    height = np.maximum.reduceat(sound[:reach], begins)
    ordered = np.sort(height)
    if not (ordered > lowest).any():
        return None
    # Sorted highest last: how many lie on the shelf from each height on, below it, above it.
    edges = ordered[ordered > lowest]
    upto = np.searchsorted(ordered, np.stack([edges / _SHELF, edges, edges * _SHELF]))
    below, on, above = upto[1] - upto[0], upto[2] - upto[1], ordered.size - upto[2]
    beyond = (on - _DENSER * below) / np.sqrt(on + _DENSER**2 * below + 1.0)
    beyond[(on < _LEAST_TOPS) | (above > _STRAY * on + 2)] = 0.0
    best = int(beyond.argmax())
    if beyond[best] < least:
        return None
    last = int(begins[np.flatnonzero(height >= edges[best])[-1]])
    return CutTops(n_tops=int(on[best]), last=last, ceiling=min(float(edges[best]) * _SHELF, ceiling))


def _plateaus(sound: Values, top: NDArray[np.intp], *, ceiling: float) -> NDArray[np.intp]:
    """Last frames of the flat tops at the ceiling."""
    at = top[sound[top] >= np.float32(ceiling * (1.0 - 1e-4))]
    if at.size < _LEAST_PLATEAU:
        return at[:0]
    ends = np.flatnonzero(np.concatenate([np.diff(at) != 1, [True]]))
    first = at[np.concatenate([[0], ends[:-1] + 1])]
    last = at[ends]
    inside = (first > 0) & (last < sound.size - 1) & (last - first + 1 >= _LEAST_PLATEAU)
    first, last = first[inside], last[inside]
    if not first.size or _is_held(sound[: int(last[-1]) + 2], ceiling=ceiling):
        return at[:0]
    enters = sound[first] - sound[first - 1]
    leaves = sound[last] - sound[last + 1]
    step = quantisation_step(sound[: int(last[-1]) + 2])
    return np.asarray(last[0.5 * (enters + leaves) > _FLANK_STEPS * step])


def _is_held(sound: Values, *, ceiling: float) -> bool:
    """Whether a low rate was raised by writing samples again: then every level is flat, not the top."""
    height = np.abs(sound[:-1])
    flank = (height > _FLANK_FROM * ceiling) & (height < _TOP * ceiling)
    return bool(flank.sum() >= _LEAST_FLANK and np.mean(sound[1:][flank] == sound[:-1][flank]) > _HELD)


def _milliseconds(seconds: float) -> str:
    return f"{1000.0 * seconds:.1f}" if seconds < 0.01 else f"{1000.0 * seconds:.0f}"
