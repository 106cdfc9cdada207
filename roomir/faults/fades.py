"""Fades: a take that an app lets begin or end in a straight line, across a decay.

Towards the end of a straight fade the energy runs out as the third power of the time that is left:
halving that time takes seven parts of eight. Neither a background nor a decay does so at every scale.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from roomir.audio.recording import Sound
from roomir.claps.clap import Clap
from roomir.decay.band_fit import BandFit
from roomir.decay.heard import HeardClap
from roomir.decay.likelihood import Floats
from roomir.decay.model import LN_60_DB
from roomir.faults.fault import Fault
from roomir.remarks import Remark

SHORTEST_S = 0.06
"""Apps soften a cut for some hundredths of a second; that is no matter. [s]"""

_LONGEST_S = 6.0
_FIRST_S = 0.016
_LEAST_RATIO = 4.0
_LEAST_HEARD = 2
_READ_DB = 45.0


def find_fades(
    sound: Sound,
    claps: Sequence[Clap],
    heard: Sequence[tuple[int, HeardClap]],
    fits: Sequence[BandFit | None],
    *,
    take: int,
) -> list[Fault]:
    """Find fades of one take that reach into a decay that was read.

    Parameters
    ----------
    sound : Sound
        The take.
    claps : sequence of Clap
        Its events.
    heard : sequence of (int, HeardClap)
        Rows and claps of this take.
    fits : sequence of BandFit or None
        The bands.
    take : int
        Which recording.
    """
    out = []
    fade_in_s = _fade_s(_ends(sound, at_start=True), rate=sound.sample_rate_hz)
    fade_out_s = _fade_s(_ends(sound, at_start=False), rate=sound.sample_rate_hz)
    end_s = sound.n_frames / sound.sample_rate_hz
    for row, clap in heard:
        onset_s = claps[clap.place].onset_s
        if onset_s < fade_in_s:
            out.append(Fault(remark=_remark(into=True, fade_s=fade_in_s), take=take, place=clap.place))
        elif fade_out_s and end_s - fade_out_s < onset_s + _read_until_s(fits, row):
            out.append(Fault(remark=_remark(into=False, fade_s=fade_out_s), take=take, place=clap.place))
    return out


def _ends(sound: Sound, *, at_start: bool) -> Floats:
    """Differences of neighbouring frames near one end, counted from that end inwards.

    Rumble that happens to cross zero there would run out like a fade; of differences it has none.
    """
    n = min(sound.n_frames, round(_LONGEST_S * sound.sample_rate_hz))
    start = 0 if at_start else sound.n_frames - n
    frames: Floats = np.diff(sound.stretch(start=start, stop=start + n).sum(axis=1))
    return frames if at_start else frames[::-1]


def _fade_s(frames: Floats, *, rate: int) -> float:
    """How long the fade is that runs out where the frames begin; 0 where there is none.

    Its last part may have sunk below the last bit: silence at the very end is no argument against it.
    """
    found_s, heard, n = 0.0, 0, 2 * round(0.5 * _FIRST_S * rate)
    half = _energy(frames[: n // 2])
    while n <= frames.size:
        more = _energy(frames[n // 2 : n])
        if half > 0.0:
            if more < _LEAST_RATIO * half:
                break
            heard += 1
        found_s, half, n = n / rate, half + more, 2 * n
    return found_s if found_s >= SHORTEST_S and heard >= _LEAST_HEARD else 0.0


def _energy(frames: Floats) -> float:
    return float(frames @ frames)


def _read_until_s(fits: Sequence[BandFit | None], row: int) -> float:
    """How long after its onset a clap's decay matters to some band. [s]."""
    longest = 0.0
    for fit in fits:
        if fit is None or row not in fit.rows:
            continue
        own = int(np.flatnonzero(fit.rows == row)[0])
        model = fit.model(own)
        fallen_s = fit.start_s + _READ_DB / 60.0 * LN_60_DB / model.rates[-1]
        longest = max(longest, min(model.crosspoint_s(fit.traces[own].end_s), fallen_s))
    return longest


def _remark(*, into: bool, fade_s: float) -> Remark:
    if into:
        says = f"the take is faded in over {fade_s:.2f} s or more, across this decay: it reads too long"
    else:
        says = f"the take is faded out over its last {fade_s:.2f} s, across this decay: it reads too short"
    return Remark(code="faded", says=says, remedy="use the recording as it was, before any editing")
