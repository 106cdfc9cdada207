"""The background around claps: how loud it is in each octave, and what it looks like there.

A spectrum tells lines from noise, and how noise falls with frequency. It
does not tell what makes it: the kinds below are what most often looks so.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from roomir.audio.recording import Sound
from roomir.bands.band import OCTAVES, Band

Floats = NDArray[np.float64]

LOOK_S = 0.5
"""Length of one look: long enough to tell 50 from 60 Hz, short enough to fit between claps. [s]"""

CARRIED = 0.48
"""Part of the sampling rate that a recorder passes."""

MAINS_HZ = (50.0, 60.0)
"""Mains frequencies of the world. [Hz]"""

_MOST_LOOKS = 60
_LATER_THAN_MEDIAN = 2.0
_HIGHEST_HUM_HZ = 1000.0
_LINE_BINS = 3
_FLOOR_BINS = 12
_HUM_OVER_FLOOR = 8.0
_TONE_OVER_FLOOR = 20.0
_MAINLY = 0.5
_RUMBLE_HZ = 125.0
_HISS_DB_PER_OCTAVE = -1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class BandNoise:
    """The background in one octave.

    Attributes
    ----------
    band : Band
        The octave.
    level_dbfs : float or None
        Mean square re full scale; ``None`` for digital silence. [dB]
    hum_share, tone_share : float
        Parts of the power in lines at multiples of the mains frequency, and in other lines.
    slope_db_per_octave : float
        How the density of the rest runs from the octave below to the one above. [dB]
    swing_db : float
        Between the quietest and the loudest tenth of the looks. [dB]
    """

    band: Band
    level_dbfs: float | None
    hum_share: float
    tone_share: float
    slope_db_per_octave: float
    swing_db: float

    @property
    def kind(self) -> str:
        """What it looks like.

        ``"silence"`` (digital), ``"hum"`` (lines at multiples of the mains
        frequency), ``"tone"`` (other lines), ``"rumble"`` (noise up to the
        octave at 125 Hz), ``"hiss"`` (density flat or rising: what a
        recorder's own electronics make) or ``"rush"`` (density falling: moving
        air, machines, traffic).
        """
        if self.level_dbfs is None:
            return "silence"
        if self.hum_share >= _MAINLY:
            return "hum"
        if self.tone_share >= _MAINLY:
            return "tone"
        if self.band.nominal_hz <= _RUMBLE_HZ:
            return "rumble"
        return "hiss" if self.slope_db_per_octave > _HISS_DB_PER_OCTAVE else "rush"

    @property
    def without_hum_db(self) -> float:
        """By how much the background would fall with the mains hum gone. [dB]"""
        return -10.0 * math.log10(max(1.0 - self.hum_share, 1e-3))


@dataclass(frozen=True, slots=True, kw_only=True)
class Background:
    """The background of one take, or of several.

    Attributes
    ----------
    heard_s : float
        How much of it was listened to. [s]
    mains_hz : float or None
        50 or 60 where hum was found. [Hz]
    tones_hz : tuple of float
        Other lines, the strongest first; three at most. [Hz]
    bands : tuple of BandNoise
        Octaves that the recording carries, low to high.
    """

    heard_s: float
    mains_hz: float | None
    tones_hz: tuple[float, ...]
    bands: tuple[BandNoise, ...]


def quiet_stretches(
    sound: Sound, *, onsets_s: Sequence[float], settle_s: float
) -> tuple[tuple[int, int], ...]:
    """Find what lies between events, once each has had time to die away.

    Parameters
    ----------
    sound : Sound
        The take.
    onsets_s : sequence of float
        When events begin, used or not, in time order. [s]
    settle_s : float
        How long each is given. [s]

    Returns
    -------
    tuple of (int, int)
        First frame and the first one left out, each at least one look long.
    """
    rate = sound.sample_rate_hz
    ends = [*(max(0, round((onset_s - 0.02) * rate)) for onset_s in onsets_s), sound.n_frames]
    starts = [0, *(round((onset_s + settle_s) * rate) for onset_s in onsets_s)]
    least = round(LOOK_S * rate)
    return tuple((start, end) for start, end in zip(starts, ends, strict=True) if end - start >= least)


def hear_background(sound: Sound, *, stretches: Sequence[tuple[int, int]]) -> Background | None:
    """Look at the spectrum of the background.

    Parameters
    ----------
    sound : Sound
        The take; only the stretches are looked up.
    stretches : sequence of (int, int)
        Frames without events, as from :func:`quiet_stretches`.

    Returns
    -------
    Background or None
        ``None`` where no stretch holds a look.

    Notes
    -----
    Looks of half a second, Hann window, powers of the channels averaged. A
    look more than 3 dB over the median of all is taken for an event and left
    out of the spectrum; its level still counts in ``swing_db``.
    """
    from scipy.signal import periodogram

    rate = sound.sample_rate_hz
    n = round(LOOK_S * rate)
    spectra = []
    for start in _looks(stretches, n=n):
        look = sound.stretch(start=start, stop=start + n)
        frequency_hz, density = periodogram(look, fs=rate, window="hann", axis=0)
        spectra.append(density.mean(axis=1))
    if not spectra:
        return None
    densities: Floats = np.array(spectra, dtype=np.float64)
    total = densities.sum(axis=1)
    density = densities[total <= _LATER_THAN_MEDIAN * np.median(total)].mean(axis=0)
    carried = [band for band in OCTAVES if band.high_hz <= CARRIED * rate]
    lines = _lines(density)
    mains_hz, hum = _hum(density, lines, frequency_hz=frequency_hz)
    tone, tones_hz = _tones(density, lines, frequency_hz=frequency_hz, mains_hz=mains_hz)
    step_hz = float(frequency_hz[1])
    bands, rest_db = [], []
    for band in carried:
        inside = (frequency_hz >= band.low_hz) & (frequency_hz < band.high_hz)
        power = float(density[inside].sum()) * step_hz
        per_look = densities[:, inside].sum(axis=1)
        hum_share, tone_share = (
            float(part[inside].sum()) * step_hz / power if power > 0.0 else 0.0 for part in (hum, tone)
        )
        rest = power * max(1.0 - hum_share - tone_share, 1e-3) / band.width_hz
        rest_db.append(10.0 * math.log10(max(rest, 1e-30)))
        bands.append(
            BandNoise(
                band=band,
                level_dbfs=10.0 * math.log10(power) if power > 0.0 else None,
                hum_share=hum_share,
                tone_share=tone_share,
                slope_db_per_octave=0.0,
                swing_db=_swing_db(per_look),
            )
        )
    slopes = np.gradient(rest_db) if len(rest_db) > 1 else np.zeros(len(rest_db))
    return Background(
        heard_s=len(spectra) * LOOK_S,
        mains_hz=mains_hz,
        tones_hz=tones_hz,
        bands=tuple(
            replace(band, slope_db_per_octave=float(slope)) for band, slope in zip(bands, slopes, strict=True)
        ),
    )


def joint_background(takes: Iterable[Background]) -> Background | None:
    """Average the backgrounds of several takes by power; ``None`` where there is none."""
    heard = list(takes)
    if not heard:
        return None
    bands = []
    for band in OCTAVES:
        members = [one for take in heard for one in take.bands if one.band == band]
        if members:
            bands.append(_mean_noise(members))
    mains = [take.mains_hz for take in heard if take.mains_hz is not None]
    tones = dict.fromkeys(tone for take in heard for tone in take.tones_hz)
    return Background(
        heard_s=sum(take.heard_s for take in heard),
        mains_hz=max(set(mains), key=mains.count) if mains else None,
        tones_hz=tuple(tones)[:3],
        bands=tuple(bands),
    )


def _mean_noise(members: Sequence[BandNoise]) -> BandNoise:
    power = np.array([0.0 if m.level_dbfs is None else 10.0 ** (m.level_dbfs / 10.0) for m in members])
    total = float(power.sum())
    weight = power / total if total > 0.0 else np.full(power.size, 1.0 / power.size)
    return BandNoise(
        band=members[0].band,
        level_dbfs=10.0 * math.log10(total / power.size) if total > 0.0 else None,
        hum_share=float(weight @ [m.hum_share for m in members]),
        tone_share=float(weight @ [m.tone_share for m in members]),
        slope_db_per_octave=float(weight @ [m.slope_db_per_octave for m in members]),
        swing_db=float(np.median([m.swing_db for m in members])),
    )


def _looks(stretches: Sequence[tuple[int, int]], *, n: int) -> Iterator[int]:
    """First frames of looks, half overlapping, thinned out evenly where there are very many."""
    starts = [at for start, stop in stretches for at in range(start, stop - n + 1, n // 2)]
    for i in range(min(len(starts), _MOST_LOOKS)):
        yield starts[i * len(starts) // min(len(starts), _MOST_LOOKS)]


def _lines(density: Floats) -> Floats:
    """What each bin stands over the median of its surroundings, as a ratio; 0 where nothing is there."""
    from scipy.ndimage import median_filter

    floor = np.maximum(median_filter(density, size=2 * _FLOOR_BINS + 1, mode="nearest"), 1e-30)
    return np.asarray(density / floor)


def _line_power(density: Floats, ratio: Floats, *, peaks: Iterable[int]) -> Floats:
    """Density that lines add to their surroundings, in the bins around each peak."""
    out = np.zeros_like(density)
    for peak in peaks:
        around = slice(max(peak - _LINE_BINS, 0), peak + _LINE_BINS + 1)
        here = ratio[around]
        out[around] = density[around] * np.maximum(1.0 - 1.0 / np.maximum(here, 1e-30), 0.0)
    return out


def _hum(density: Floats, ratio: Floats, *, frequency_hz: Floats) -> tuple[float | None, Floats]:
    """Mains frequency whose multiples hold more power in lines, and that power; two lines at least."""
    step_hz = float(frequency_hz[1])
    highest_hz = min(_HIGHEST_HUM_HZ, float(frequency_hz[-1]) - 10.0 * step_hz)
    best: tuple[float | None, Floats] = (None, np.zeros_like(density))
    for mains_hz in MAINS_HZ:
        multiples = np.arange(1, int(highest_hz / mains_hz) + 1) * mains_hz
        bins = np.rint(multiples / step_hz).astype(int)
        # The mains wander by some tenths of a hertz, and its multiples by as much more.
        peaks = [int(at - 1 + np.argmax(density[at - 1 : at + 2])) for at in bins]
        found = [peak for peak in peaks if ratio[peak] >= _HUM_OVER_FLOOR]
        power = _line_power(density, ratio, peaks=found)
        if len(found) >= 2 and power.sum() > best[1].sum():
            best = (mains_hz, power)
    return best


def _tones(
    density: Floats, ratio: Floats, *, frequency_hz: Floats, mains_hz: float | None
) -> tuple[Floats, tuple[float, ...]]:
    """Lines that are no hum: their power, and the frequencies of the strongest three. [Hz]"""
    lowest = np.searchsorted(frequency_hz, OCTAVES[0].low_hz)
    inner = density[1:-1]
    peaks = 1 + np.flatnonzero(
        (inner > density[:-2]) & (inner >= density[2:]) & (ratio[1:-1] >= _TONE_OVER_FLOOR)
    )
    peaks = peaks[peaks >= lowest]
    if mains_hz is not None:
        off_hz = np.abs(frequency_hz[peaks] - mains_hz * np.rint(frequency_hz[peaks] / mains_hz))
        peaks = peaks[(off_hz > 6.0) | (frequency_hz[peaks] > _HIGHEST_HUM_HZ)]
    strongest = sorted(peaks.tolist(), key=lambda peak: -density[peak])[:3]
    return (
        _line_power(density, ratio, peaks=peaks.tolist()),
        tuple(float(frequency_hz[peak]) for peak in strongest),
    )


def _swing_db(powers: Floats) -> float:
    low, high = np.quantile(np.maximum(powers, 1e-30), [0.1, 0.9])
    return float(10.0 * np.log10(high / low))
