"""What happens at a take's own ends: fades, and starts and stops inside a decay."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomir.audio.recording import Sound
from roomir.claps.clap import Clap
from roomir.faults.fault import Fault
from roomir.faults.heard import Finding
from roomir.remarks import Remark

Powers = NDArray[np.float64]

_LONGEST_S = 8.0
_GLANCE_S = 0.6
_FIRST_S = 0.015
_PARTS = 2
"""Parts of an octave of the time left."""
_SILENT = 2.5
_LEAST_PARTS = 4
_GAINS_DB = (1.5, 9.0)
"""Least and most that the level of a fade changes in half an octave of the time left: 3 dB where the
amplitude goes in a straight line, 6 dB where it goes like a squared sine."""
_STEADY_GAIN = 2.4
_LEAST_FADE_S = 0.08
_PLATEAU_DB = 1.2


@dataclass(frozen=True, slots=True, kw_only=True)
class Fade:
    """A fade at one end of a take.

    Attributes
    ----------
    length_s : float
        How far into the take it can be followed. [s]
    ends : bool
        Whether a steady level follows behind it; where none does, it may reach further.
    """

    length_s: float
    ends: bool


def find_fades(sound: Sound, claps: Sequence[Clap], *, take: int) -> list[Finding]:
    """Name the claps that a fade at the beginning or the end of a take reaches into.

    Before the fade begins nothing is wrong; the decay is read up to there.
    """
    rate = sound.sample_rate_hz
    out = []
    out_s = follow_fade(sound, backwards=True)
    if out_s is not None:
        begins = sound.n_frames - round(out_s.length_s * rate)
        for place, clap in enumerate(claps):
            if clap.stop <= begins:
                continue
            inside = clap.onset >= begins or not out_s.ends
            out.append(
                Finding(
                    fault=Fault(
                        remark=Remark(
                            code="faded-out",
                            says=f"the take is faded out over its last {out_s.length_s:.1f} s"
                            + (
                                ", and the clap rings in them: its decay is read too short"
                                if inside
                                else "; the decay is read up to there"
                            ),
                            remedy="use the recording as it came from the microphone, without fades",
                        ),
                        take=take,
                        place=place,
                        weighs=inside,
                    ),
                    stop=None if inside else max(begins, clap.onset + 1),
                    is_alone=True,
                )
            )
    in_s = follow_fade(sound, backwards=False)
    if in_s is not None:
        begins = round(in_s.length_s * rate)
        out += [
            Finding(
                fault=Fault(
                    remark=Remark(
                        code="faded-in",
                        says=f"the take is faded in over its first {in_s.length_s:.1f} s, and the clap rings"
                        " in them: its decay is read too long",
                        remedy="use the recording as it came from the microphone, without fades",
                    ),
                    take=take,
                    place=place,
                ),
                is_alone=True,
            )
            for place, clap in enumerate(claps)
            if clap.onset < begins
        ]
    return out


def follow_fade(sound: Sound, *, backwards: bool) -> Fade | None:
    r"""Follow a fade from an end of a sound towards its middle.

    Parameters
    ----------
    sound : Sound
        Only its last seconds, or its first ones, are looked up.
    backwards : bool
        Whether to look at its end.

    Returns
    -------
    Fade or None
        None where the level does not go down to nothing.

    Notes
    -----
    An amplitude that goes to zero in a straight line, or as any power of the
    time :math:`\tau` left, makes the power of a steady background go with
    :math:`\tau^2` or faster: 6 dB or more with every halving of what is left,
    however little is left. A decay, or a background that stops, keeps a
    level up to its very end, so that its last milliseconds do not fall off.
    """
    n_edge = round(2.0 * _FIRST_S * sound.sample_rate_hz)
    edge = sound.stretch(
        start=sound.n_frames - n_edge if backwards else 0, stop=sound.n_frames if backwards else n_edge
    )
    # Most takes end in a background that is steady to its end: a glance tells.
    if edge.any() and _follow(sound, backwards=backwards, reach_s=_GLANCE_S) is None:
        return None
    return _follow(sound, backwards=backwards, reach_s=_LONGEST_S)


def _follow(sound: Sound, *, backwards: bool, reach_s: float) -> Fade | None:
    rate = sound.sample_rate_hz
    n = min(round(reach_s * rate), sound.n_frames)
    start = sound.n_frames - n if backwards else 0
    # The change from frame to frame: rumble says little in the few milliseconds that count.
    change = np.diff(sound.stretch(start=start, stop=start + n), axis=0)
    power = np.einsum("ij,ij->i", change, change)
    if backwards:
        power = power[::-1]
    moving = np.flatnonzero(power)
    if not moving.size:
        return None
    n_silent = int(moving[0])
    # The last steps of a fade round to silence; or silence was put behind it.
    return _fade_of(power, rate=rate, first=_SILENT * n_silent) or (
        _fade_of(power[n_silent:], rate=rate, first=0.0) if n_silent else None
    )


def _fade_of(power: Powers, *, rate: int, first: float) -> Fade | None:
    first = max(first, _FIRST_S * rate)
    n_parts = int(_PARTS * np.log2(max(power.size / first, 1.0)))
    if n_parts < _LEAST_PARTS + 1:
        return None
    edges = (first * 2.0 ** (np.arange(n_parts + 1) / _PARTS)).astype(np.intp)
    sums = np.add.reduceat(power[: edges[-1]], edges[:-1], dtype=np.float64)
    gain_db = np.diff(10.0 * np.log10(np.maximum(sums / np.diff(edges), 1e-30)))
    fades = (gain_db > _GAINS_DB[0]) & (gain_db < _GAINS_DB[1])
    # The last few milliseconds may lie among the steps of quantisation.
    n_steps = int(np.flatnonzero(fades[:_PARTS])[0]) if fades[:_PARTS].any() else 0
    stops = np.flatnonzero(~fades[n_steps:])
    n_fading = n_steps + int(stops[0]) if stops.size else int(fades.size)
    if n_fading - n_steps < _LEAST_PARTS or edges[n_fading] < _LEAST_FADE_S * rate:
        return None
    gains = gain_db[n_steps:n_fading]
    # In a decay each half octave brings 1.4 times as many decibels as the last.
    if float(gains[_LEAST_PARTS - 2 : _LEAST_PARTS].mean()) > _STEADY_GAIN * float(gains[:2].mean()):
        return None
    ends = n_fading < gain_db.size and float(gain_db[n_fading]) < _GAINS_DB[0]
    return Fade(length_s=float(edges[min(n_fading + 1, edges.size - 1)]) / rate, ends=ends)
