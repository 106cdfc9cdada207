"""A wrong rate in the header, given away by mains hum that lies where no mains does."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from roomir.audio.recording import Samples, Sound
from roomir.faults.fault import Fault
from roomir.remarks import Remark

Powers = NDArray[np.float64]
Lines = list[tuple[float, float]]

RATES_HZ = (8000, 11025, 12000, 16000, 22050, 24000, 32000, 44100, 48000, 88200, 96000)
"""At which recorders work. [Hz]"""

MAINS_HZ = (50.0, 60.0)

DOUBTFUL_RATE_HZ = 64000
"""From here on a rate is more often a wrong label than what a phone or a recorder was set to. [Hz]"""

_WINDOW_S = 2.5
_N_WINDOWS = 8
_LEAST_WINDOW_S = 0.8
_TOP_HZ = 420.0
_DECIMATED_HZ = 2000.0
_LOWEST_HZ = 12.0
_OVER_AROUND_DB = 9.0
_AROUND_HZ = 9.0
_MEAN_SAYS_DB = 5.0
_SLACK = 0.0012
_SLACK_BINS = 0.35
_LEAST_LINES = 3
_LEAST_COMB = 5
_CONFUSED_HZ = (44100, 48000)
_CLEAR_DB = 12.0
_LOUD = 4.0
_LOUD_S = 0.02
_SHARE = 0.6
_PADDING = 2


def find_wrong_rate(sound: Sound, *, take: int) -> list[Fault]:
    """Name a take whose hum says that it was recorded at another rate than its header has."""
    label_hz = sound.sample_rate_hz
    lines = hum_lines(sound)
    true_hz = rate_from_hum(lines, rate_hz=label_hz)
    if true_hz is None and label_hz >= DOUBTFUL_RATE_HZ and (hum := doubled_hum(lines)) is not None:
        return [
            Fault(
                remark=Remark(
                    code="wrong-rate",
                    says=f"the hum has a tone at {hum:.0f} Hz, and none at half of it or between its"
                    " multiples: either a transformer hums, or this is a take of"
                    f" {label_hz // 2} samples a second labelled {label_hz}, and all times are half of what"
                    " they are",
                    remedy="record at 44100 or 48000 samples a second, where nothing is in doubt",
                ),
                take=take,
            )
        ]
    if true_hz is None:
        return []
    longer = 100.0 * (true_hz / label_hz - 1.0)
    return [
        Fault(
            remark=Remark(
                code="wrong-rate",
                says=f"mains hum lies where it would in a take of {true_hz} samples a second that is"
                f" labelled {label_hz}: if so, all times are {abs(longer):.0f} % too"
                f" {'long' if longer > 0 else 'short'}, and the bands are not those they seem",
                remedy="save the take at the rate it was recorded at, or record again with another app",
            ),
            take=take,
        )
    ]


def hum_lines(sound: Sound) -> Lines:
    """Steady tones below 420 Hz: frequency [Hz] and level over what lies around it [dB].

    Up to eight windows of 2.5 s, spread over the take. What is louder than
    the rest of them is turned down to it, and the lower quartile over the
    windows is taken: claps and whatever else comes and goes are passed over.
    At a doubtful rate twice as many hertz are looked at, for what would be
    420 Hz at half of it.
    """
    rate = sound.sample_rate_hz
    octave = 2.0 if rate >= DOUBTFUL_RATE_HZ else 1.0
    n_mean = max(int(rate / (octave * _DECIMATED_HZ)), 1)
    n = min(round(_WINDOW_S * rate), sound.n_frames) // n_mean * n_mean
    if n < _LEAST_WINDOW_S * rate:
        return []
    n_windows = min(max(sound.n_frames // n, 1), _N_WINDOWS)
    starts = np.linspace(0, sound.n_frames - n, n_windows).astype(np.intp)
    # Means of a few samples: what they let through from above is weak and no line.
    rows = np.array(
        [_mono(sound.stretch(start=int(s), stop=int(s) + n)).reshape(-1, n_mean).mean(axis=1) for s in starts]
    )
    rows = _without_loud(rows, n_loud=max(round(_LOUD_S * rate / n_mean), 1)) * np.hanning(rows.shape[1])
    n_fft = _PADDING << (rows.shape[1] - 1).bit_length()
    step_hz = rate / n_mean / n_fft
    spectrum = np.fft.rfft(rows, n_fft, axis=1)[:, : int((octave * _TOP_HZ + _AROUND_HZ) / step_hz)]
    power = np.square(spectrum.real) + np.square(spectrum.imag)
    return _peaks(np.sort(power, axis=0)[n_windows // 4], step_hz=step_hz)


def _without_loud(rows: Powers, *, n_loud: int) -> Powers:
    """Turn down to the median what is 6 dB louder for 20 ms; hum itself does not go up and down so."""
    edges = np.arange(0, rows.shape[1], n_loud)
    sizes = np.diff(np.append(edges, rows.shape[1]))
    power = np.add.reduceat(np.square(rows), edges, axis=1) / sizes
    usual = float(np.median(power))
    gain = np.where(power > _LOUD * usual, np.sqrt(usual / np.maximum(power, 1e-30)), 1.0)
    return np.asarray(rows * np.repeat(gain, sizes, axis=1))


def _mono(samples: Samples) -> Samples:
    return samples[:, 0] if samples.shape[1] == 1 else samples.sum(axis=1)


def _peaks(power: Powers, *, step_hz: float) -> Lines:
    level_db = 10.0 * np.log10(np.maximum(power, 1e-30))
    n_around = round(_AROUND_HZ / step_hz)
    total = np.concatenate([[0.0], np.cumsum(level_db)])
    out = []
    first = max(int(_LOWEST_HZ / step_hz), n_around // 2)
    inner = level_db[first : level_db.size - n_around]
    tops = first + np.flatnonzero(
        (inner > level_db[first - 1 : first - 1 + inner.size])
        & (inner >= level_db[first + 1 : first + 1 + inner.size])
    )
    for i in tops.tolist():
        low = max(int(i) - n_around, 0)
        # The median is worth its time only where the mean does not say no.
        if level_db[i] - (total[i + n_around + 1] - total[low]) / (i + n_around + 1 - low) < _MEAN_SAYS_DB:
            continue
        over_db = float(level_db[i] - np.median(level_db[low : i + n_around + 1]))
        if over_db < _OVER_AROUND_DB or level_db[i] < level_db[low : i + n_around + 1].max() - 1e-9:
            continue
        left, top, right = level_db[i - 1 : i + 2]
        bend = left - 2.0 * top + right
        shift = 0.5 * (left - right) / bend if bend < 0.0 else 0.0
        out.append((float((i + shift) * step_hz), over_db))
    return out


def rate_from_hum(lines: Lines, *, rate_hz: int) -> int | None:
    """Find the rate at which hum would lie on multiples of the mains frequency.

    Parameters
    ----------
    lines : list of (float, float)
        Frequency [Hz] and level over the background [dB] of each steady tone.
    rate_hz : int
        Rate in the header. [Hz]

    Returns
    -------
    int or None
        None where the lines fit the header's rate, or no other. [Hz]

    Notes
    -----
    At least three lines have to fit another rate and not the header's, two
    of them among the first five multiples (or just these two, with three more
    that fit both), and they have to make up most of what the header's rate
    leaves unexplained. The first two multiples, both clear, suffice where the
    rates are those that are taken for one another most, 44100 and 48000, and
    where the rate in the header is in doubt by itself. Twice the rate in the header
    puts 50 Hz on 100, where a transformer hums as well: that is not told, and
    from 64000 on said to be in doubt.
    """
    strange = [line for line in lines if not any(_fits(line[0], mains_hz) for mains_hz in MAINS_HZ)]
    if len(strange) < 2:
        return None
    total_db = sum(_weight_db(over_db) for _, over_db in strange)
    best: tuple[float, int] | None = None
    for true_hz in RATES_HZ:
        scale = rate_hz / true_hz
        if true_hz == rate_hz or scale == round(scale):
            continue
        for mains_hz in MAINS_HZ:
            there = [line for line in strange if _fits(line[0], mains_hz * scale)]
            low = {round(line[0] / (mains_hz * scale)) for line in there} & {1, 2, 3, 4, 5}
            share = sum(_weight_db(over_db) for _, over_db in there) / total_db
            comb = [line for line in lines if _fits(line[0], mains_hz * scale)]
            enough = len(there) >= _LEAST_LINES or (len(there) == 2 and len(comb) >= _LEAST_COMB)
            if rate_hz >= DOUBTFUL_RATE_HZ or {rate_hz, true_hz} == set(_CONFUSED_HZ):
                clear = [round(f / (mains_hz * scale)) for f, over_db in there if over_db > _CLEAR_DB]
                enough |= {1, 2} <= set(clear)
            if enough and len(low) >= 2 and share > _SHARE:
                # A third of a comb lies on the comb too: of like shares the coarser comb.
                score = share + 1e-3 * math.log(scale)
                best = max(best, (score, true_hz)) if best else (score, true_hz)
    return best[1] if best else None


def _weight_db(over_db: float) -> float:
    """What a tone counts for: chance makes some that only just are there."""
    return max(over_db - _OVER_AROUND_DB, 0.1)


def doubled_hum(lines: Lines) -> float | None:
    """Twice the mains frequency where all hum lies on its multiples; None elsewhere. [Hz].

    One clear tone at it is enough, and none at the mains frequency or at any other odd multiple.
    """
    for mains_hz in MAINS_HZ:
        there = {round(f / mains_hz) for f, over_db in lines if over_db > _CLEAR_DB and _fits(f, mains_hz)}
        if 2 in there and all(multiple % 2 == 0 for multiple in there):
            return 2.0 * mains_hz
    return None


def _fits(frequency_hz: float, fundamental_hz: float) -> bool:
    multiple = round(frequency_hz / fundamental_hz)
    away_hz = abs(frequency_hz - multiple * fundamental_hz)
    return multiple >= 1 and away_hz < _SLACK * frequency_hz + _SLACK_BINS * _line_width_hz()


def _line_width_hz() -> float:
    return 0.5 / _WINDOW_S
