"""The modes of a box beside the tones that a room really rings on.

The late decay below the Schroeder frequency is a sum of a few damped tones.
Each shows as a peak of the spectrum, 2.2/T wide (Kuttruff, "Room Acoustics",
chapter 3), and its own decay time is that of the sound around it, fitted as
every other decay over its own background.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomir.audio.recording import Recording
from roomir.bands.filters import fast_length
from roomir.claps.clap import Clap
from roomir.decay.band_fit import BandFit
from roomir.decay.heard import HeardClap
from roomir.decay.likelihood import BlockEnergies, Floats, Ints, fit_decay
from roomir.findings.findings import HeardMode, RoomModes
from roomir.rooms.modes import BoxMode, box_modes, mode_width_hz
from roomir.rooms.statistics import schroeder_frequency_hz, sound_speed_m_per_s

Complexes = NDArray[np.complex128]

LOWEST_HZ, HIGHEST_HZ = 20.0, 250.0
"""Where modes are looked for, unless the Schroeder frequency is lower. [Hz]"""

LATE_S = 0.05
"""Where the late decay begins: direct sound and first reflections are over. [s]"""

NEAR = 0.03
"""How far a peak may lie from its mode: air from 5 to 35 degrees Celsius, and a tape measure."""

SURE = 0.005
"""How far it lies off at best: air at 20 degrees Celsius, give or take three."""

_SHORTEST_S, _LONGEST_S = 0.4, 4.0
_FALL_DB = 45.0
_STEP_HZ = 0.1
_PROMINENT_DB = 4.0
_AROUND_HZ = 12.0
_OVER_NOISE_DB = 10.0
_NOISE_OVER_HZ = 4.0
_LEAST_FALL = 2.3
_LARGEST_SPREAD = 0.2
_LEAST_BLOCKS = 6
_EDGE_S = 0.05
_BAND_HZ = (60.0, 260.0)
_MOST_SHOWN = 24


def find_modes(
    recordings: Sequence[Recording],
    found: Sequence[Sequence[Clap]],
    heard: Sequence[HeardClap],
    fits: Sequence[BandFit | None],
    *,
    dimensions_m: tuple[float, float, float],
) -> RoomModes | None:
    """Set the box's modes beside the peaks of the late decay's spectrum.

    Parameters
    ----------
    recordings, found : sequence
        The takes, and the events of each.
    heard : sequence of HeardClap
        The claps that were used.
    fits : sequence of BandFit or None
        Their fits, band by band.
    dimensions_m : (float, float, float)
        Length, width and height. [m]

    Returns
    -------
    RoomModes or None
        None where no low octave shows a decay.
    """
    times_s = [
        fit.joint.model(0).decay_times_s[0]
        for fit in fits
        if fit is not None and _BAND_HZ[0] < fit.band_filter.band.exact_hz < _BAND_HZ[1]
    ]
    if not times_s:
        return None
    time_s = float(np.median(times_s))
    volume_m3 = math.prod(dimensions_m)
    highest_hz = min(HIGHEST_HZ, schroeder_frequency_hz(volume_m3=volume_m3, decay_time_s=time_s))
    width_hz = mode_width_hz(decay_time_s=time_s)
    if highest_hz <= LOWEST_HZ:
        return None
    speed = sound_speed_m_per_s(temperature_c=20.0)
    modes = box_modes(dimensions_m, sound_speed=speed, highest_hz=highest_hz)
    length_s = float(np.clip(time_s * _FALL_DB / 60.0, _SHORTEST_S, _LONGEST_S))
    sounds = _low_sounds(recordings, found, heard, length_s=length_s, highest_hz=highest_hz * (1.0 + NEAR))
    if sounds is None:
        return None
    hz, power, noise = sounds.spectrum(
        length_s=length_s, lowest_hz=LOWEST_HZ, highest_hz=highest_hz * (1.0 + NEAR)
    )
    level_db = 10.0 * np.log10(np.maximum(power, 1e-300) / power.max())
    peaks = _peaks(hz, level_db, 10.0 * np.log10(np.maximum(noise, 1e-300) / power.max()), width_hz=width_hz)
    tones = []
    for at in peaks:
        own_s = _own_decay_time_s(sounds, float(hz[at]), apart_hz=_apart_hz(hz, peaks, at), length_s=length_s)
        # What does not die away is the background's, and no tone of the room.
        if own_s is not None:
            tones.append(
                HeardMode(
                    frequency_hz=float(hz[at]),
                    decay_time_s=own_s,
                    level_db=float(level_db[at]),
                    modes=_may_be(modes, float(hz[at]), width_hz=width_hz),
                )
            )
    every = max(1, hz.size // 600)
    return RoomModes(
        dimensions_m=dimensions_m,
        highest_hz=highest_hz,
        width_hz=width_hz,
        modes=modes,
        heard=tuple(tones),
        spectrum_hz=tuple(hz[::every].tolist()),
        spectrum_db=tuple(level_db[::every].tolist()),
    )


def _may_be(modes: Sequence[BoxMode], hz: float, *, width_hz: float) -> tuple[BoxMode, ...]:
    """Modes that a peak may be: all within half its width, or else the nearest that is near enough."""
    near = [mode for mode in modes if abs(mode.frequency_hz - hz) <= max(0.5 * width_hz, SURE * hz)]
    if near:
        return tuple(near)
    nearest = min(modes, key=lambda mode: abs(mode.frequency_hz - hz), default=None)
    return () if nearest is None or abs(nearest.frequency_hz - hz) > NEAR * hz else (nearest,)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _LowSounds:
    """Late decays of all claps below some frequency.

    ``analytic`` has shape (n_claps, n), begins `LATE_S` after the onset and holds ``n_valid`` samples
    a clap, zeros behind; ``level`` is the mean power of the decay.
    """

    analytic: Complexes
    n_valid: Ints
    rate_hz: float
    level: Floats

    def spectrum(
        self, *, length_s: float, lowest_hz: float, highest_hz: float
    ) -> tuple[Floats, Floats, Floats]:
        """Frequencies, and mean power of the decay and of what follows it there; claps alike."""
        n_fft = fast_length(math.ceil(self.rate_hz / _STEP_HZ))
        hz: Floats = np.arange(n_fft, dtype=np.float64) * self.rate_hz / n_fft
        shown = (hz >= lowest_hz) & (hz <= highest_hz)
        n = min(round(length_s * self.rate_hz), self.analytic.shape[1])
        fade = np.ones(n)
        fade[n - n // 3 :] = np.sin(0.5 * np.pi * np.linspace(1.0, 0.0, n // 3)) ** 2
        decay = np.abs(np.fft.fft(self.analytic[:, :n] * fade, n_fft)[:, shown]) ** 2 / self.level[:, None]
        # Of the background as much as there is; its power grows with its length.
        noise = np.zeros_like(decay)
        for row, stop in enumerate(self.n_valid):
            rest = self.analytic[row, max(n, int(stop) - n) : stop]
            if rest.size >= n // 4:
                power = np.abs(np.fft.fft(rest, n_fft)[shown]) ** 2
                noise[row] = power / self.level[row] * float((fade**2).sum()) / rest.size
        return hz[shown], decay.mean(axis=0), noise.mean(axis=0)


def _low_sounds(
    recordings: Sequence[Recording],
    found: Sequence[Sequence[Clap]],
    heard: Sequence[HeardClap],
    *,
    length_s: float,
    highest_hz: float,
) -> _LowSounds | None:
    # Tenths of a second hold a round number of frames at any common rate, and transforms of it are fast.
    whole_s = 0.1 * fast_length(math.ceil(20.0 * length_s + 2.0))
    n_out = fast_length(math.ceil(2.0 * highest_hz * whole_s))
    rate_hz = n_out / whole_s
    rows, n_valid = [], []
    for one in heard:
        sound, clap = recordings[one.take].sound, found[one.take][one.place]
        rate = sound.sample_rate_hz
        start = clap.onset + round(LATE_S * rate)
        n = round(whole_s * rate)
        stretch = sound.stretch(start=start, stop=min(start + n, clap.stop)).astype(np.float64)
        if stretch.shape[0] < length_s * rate:
            continue
        padded = np.zeros((n, stretch.shape[1]))
        padded[: stretch.shape[0]] = stretch
        bins = np.fft.rfft(padded, axis=0)
        step_hz = rate / n
        n_low = min(int(highest_hz / step_hz) + 1, bins.shape[0])
        low = np.zeros((n_out, stretch.shape[1]), dtype=np.complex128)
        low[1:n_low] = bins[1:n_low]
        n_kept = int(stretch.shape[0] / rate * rate_hz - _EDGE_S * rate_hz)
        n_valid += [n_kept] * stretch.shape[1]
        rows.append((np.fft.ifft(low, axis=0) * (2.0 * n_out / n)).T)
    if not rows:
        return None
    analytic = np.concatenate(rows)
    n_first = round(length_s * rate_hz)
    level = np.maximum((np.abs(analytic[:, :n_first]) ** 2).mean(axis=1), np.finfo(float).tiny)
    return _LowSounds(
        analytic=analytic, n_valid=np.array(n_valid, dtype=np.intp), rate_hz=rate_hz, level=level
    )


def _peaks(hz: Floats, level_db: Floats, noise_db: Floats, *, width_hz: float) -> list[int]:
    """Maxima that stand out of what is beside them and of the background."""
    step_hz = float(hz[1] - hz[0])
    n_apart = max(2, round(0.5 * width_hz / step_hz))
    n_smooth = max(1, round(_NOISE_OVER_HZ / step_hz))
    noise_db = np.convolve(
        np.pad(noise_db, n_smooth, mode="edge"), np.ones(n_smooth) / n_smooth, mode="same"
    )[n_smooth:-n_smooth]
    out = []
    inner = level_db[1:-1]
    for at in map(int, 1 + np.flatnonzero((inner >= level_db[:-2]) & (inner >= level_db[2:]))):
        beside = level_db[max(at - n_apart, 0) : at + n_apart + 1]
        if (
            level_db[at] >= beside.max()
            and level_db[at] >= noise_db[at] + _OVER_NOISE_DB
            and _prominence_db(level_db, at) >= _PROMINENT_DB
        ):
            out.append(at)
    strongest = sorted(out, key=lambda at: -float(level_db[at]))[:_MOST_SHOWN]
    return sorted(strongest)


def _prominence_db(level_db: Floats, at: int) -> float:
    """How far one has to go down from a peak before it goes up to a higher one. [dB]"""
    lowest = []
    for side in (level_db[at::-1], level_db[at:]):
        higher = np.flatnonzero(side > level_db[at])
        lowest.append(float(side[: int(higher[0]) if higher.size else side.size].min()))
    return float(level_db[at]) - max(lowest)


def _apart_hz(hz: Floats, peaks: Sequence[int], at: int) -> float:
    """Distance of a peak to the next one."""
    return min((abs(float(hz[other] - hz[at])) for other in peaks if other != at), default=_AROUND_HZ)


def _own_decay_time_s(sounds: _LowSounds, hz: float, *, apart_hz: float, length_s: float) -> float | None:
    """Decay time of one tone, its neighbours kept out by averaging over as long as they need to turn."""
    n = sounds.analytic.shape[1]
    n_block = max(2, round(sounds.rate_hz / min(apart_hz, _AROUND_HZ)))
    n_blocks = n // n_block
    turn = np.exp(-2j * np.pi * hz * np.arange(n_blocks * n_block) / sounds.rate_hz)
    steady = (sounds.analytic[:, : turn.size] * turn).reshape(-1, n_blocks, n_block).mean(axis=2)
    energy = np.abs(steady) ** 2 / sounds.level[:, None]
    inside = np.arange(1, n_blocks + 1) * n_block <= sounds.n_valid[:, None]
    n_used = int(inside.any(axis=0).sum())
    if n_used < _LEAST_BLOCKS:
        return None
    # The mean over the claps is fitted, as as many unrelated energies as there are claps.
    rows = inside[:, :n_used].sum(axis=0)
    mean = np.maximum((energy * inside)[:, :n_used].sum(axis=0) / rows, np.finfo(float).tiny * 1e20)
    blocks = BlockEnergies(
        edges_s=np.arange(n_used + 1) * n_block / sounds.rate_hz,
        energy=mean[None, :],
        shape=rows[None, :].astype(float),
    )
    late = max(float(np.quantile(mean, 0.2)), float(mean.max()) * 1e-9)
    fit = fit_decay(
        blocks,
        group=np.zeros(1, dtype=np.intp),
        shared=np.array([[math.log(6.0 * math.log(10.0) / length_s)]]),
        log_level=np.array([math.log(max(float(mean[0]), late))]),
        log_noise=np.array([math.log(late)]),
    )
    model = fit.model(0)
    foot = max(model.noise, model.decaying(float(blocks.edges_s[-1])))
    spread = 1.0 / math.sqrt(max(float(fit.information[0, 0, 0]), 1e-12))
    seen = math.log(model.levels[0] / foot) >= _LEAST_FALL and spread < _LARGEST_SPREAD
    return model.decay_times_s[0] if seen else None
