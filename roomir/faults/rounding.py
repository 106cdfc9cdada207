"""Sound finer than the steps in which it was written down, with no hiss in it that would carry it through."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from roomir.faults.fault import Fault
from roomir.faults.heard import Finding, Heard
from roomir.faults.steps import quantisation_step
from roomir.remarks import Remark

SUFFICES_DB = 30.0
"""Fall from the early decay to the steps from which rounding costs nothing but the end. [dB]"""

FINEST = 2.0**-24
"""Finer steps are those of floating point, which become finer with the sound."""

COARSE = 2.0**-14
"""Steps of full scale that are coarser than 16 bits make."""

COARSE_SUFFICES_DB = 40.0
"""The same where more bits would have been had for the asking. [dB]"""

_FRAME_S = 0.01
_SMOOTH = 3
_EARLY_S = (0.01, 0.05)
_LEAST_POWER = 1.0 / 3.0
"""Power of rounded noise of half a step, in squares of a step: a quarter, and a twelfth for the rounding."""
_STAYS = 0.8
_STEEPEST = 10.0
_LEAST_FRAMES = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Rounding:
    """Where a decay sinks below the steps: frame of the samples, step, and how far it had fallen [dB]."""

    frame: int
    step: float
    fall_db: float


def find_rounding(heard: Heard) -> tuple[list[Finding], Heard]:
    """Name a clap whose decay ends in rounding, and leave out what is rounding.

    It is a fault where less than 30 dB are left, 40 where the steps are coarse;
    else a note: nothing but the end of the decay is lost, and where that
    matters the verdict says so.

    Returns
    -------
    (list of Finding, Heard)
        What was found, and the event up to there.
    """
    rounding = decay_into_steps(heard)
    if rounding is None or not heard.clap.used:
        return [], heard
    after_ms = 1000.0 * heard.after_s(rounding.frame) + 0.5
    coarse = rounding.step > COARSE
    weighs = rounding.fall_db < (COARSE_SUFFICES_DB if coarse else SUFFICES_DB)
    remark = Remark(
        code="rounded-away",
        says=f"{after_ms:.0f} ms after the clap the sound is finer than the steps it is written in"
        f"{_bits(rounding.step)}, and without any hiss: later there is rounding and no decay;"
        " only what comes before it is read",
        remedy="save the take with 16 bits or more, and keep the phone's noise reduction off"
        if coarse
        else "raise the recording level, clap nearer to the phone, or record with 24 bits",
    )
    finding = Finding(
        fault=Fault(remark=remark, take=heard.take, place=heard.place, weighs=weighs, is_note=not weighs),
        stop=heard.start + rounding.frame,
    )
    return [finding], replace(heard, stop=min(heard.stop, rounding.frame))


def decay_into_steps(heard: Heard) -> Rounding | None:
    """Find where a decay sinks below half a step of its samples and stays there.

    Notes
    -----
    Rounding adds a twelfth of a step squared, whatever the sound, as long as
    that has half a step root mean square or more (Widrow and Kollar,
    Quantization Noise, chapter 5: from memory). Fainter sound comes out too
    faint, band by band, and then not at all: its decay reads too short.
    """
    n = round(_FRAME_S * heard.rate_hz)
    found: Rounding | None = None
    for channel in heard.samples.T:
        step = quantisation_step(channel)
        sound = channel[heard.onset : heard.stop]
        n_frames = sound.size // n
        if step < FINEST or n_frames < _LEAST_FRAMES + _SMOOTH:
            continue
        rows = sound[: n_frames * n].reshape(n_frames, n).astype(np.float64)
        # Steps need not lie about zero.
        rows -= float(np.median(rows[-max(n_frames // 4, 1) :]))
        power = np.einsum("ij,ij->i", rows, rows) / (n * step**2)
        smooth = np.convolve(power, np.full(_SMOOTH, 1.0 / _SMOOTH), mode="valid")
        below = smooth < _LEAST_POWER
        first = int(below.argmax())
        if not below[first] or below.size - first < _LEAST_FRAMES or below[first:].mean() < _STAYS:
            continue
        # A gap or a gate breaks off; a decay arrives at the last step by and by.
        sunk = first + int((power[first : first + _SMOOTH] < _LEAST_POWER).argmax())
        if sunk > 0 and power[sunk - 1] > _STEEPEST * _LEAST_POWER:
            continue
        early = power[round(_EARLY_S[0] / _FRAME_S) : max(round(_EARLY_S[1] / _FRAME_S), 1)]
        fall_db = 10.0 * math.log10(max(float(early.mean()), 1e-12) / _LEAST_POWER)
        frame = heard.onset + max(first, 1) * n
        if found is None or frame < found.frame:
            found = Rounding(frame=frame, step=step, fall_db=fall_db)
    return found


def _bits(step: float) -> str:
    bits = 1.0 - math.log2(step)
    return f" ({bits:.0f} bits)" if abs(bits - round(bits)) < 0.01 else ""
