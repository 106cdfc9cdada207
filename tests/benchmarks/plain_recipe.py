"""What many a notebook does with a recorded clap: the yardstick for speed, not for truth.

Full-rate zero-phase Butterworth filters per octave over the whole take, reverse
cumulative sum from each clap on, a straight line over -5 to -25 dB. Noise is
not treated. Run as a script it reads one take and prints its means.
"""

import sys

import numpy as np
import soundfile
from scipy.signal import butter, sosfiltfilt

CENTRES_HZ = (62.5, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0)


def read_plainly(path: str) -> dict[float, float]:
    """Return the mean T20 per octave. [s]"""
    sound, rate = soundfile.read(path)
    power = sound**2
    claps = _find_claps(power, rate)
    ends = [*claps[1:], sound.size]
    out = {}
    for centre_hz in CENTRES_HZ:
        edges = (centre_hz / np.sqrt(2.0), centre_hz * np.sqrt(2.0))
        band = sosfiltfilt(butter(4, edges, btype="bandpass", fs=rate, output="sos"), sound)
        times = []
        for start, end in zip(claps, ends, strict=True):
            left = np.cumsum(band[start:end][::-1] ** 2)[::-1]
            level_db = 10.0 * np.log10(left / left[0])
            part = np.flatnonzero((level_db <= -5.0) & (level_db >= -25.0))
            slope, _ = np.polyfit(part / rate, level_db[part], 1)
            times.append(-60.0 / slope)
        out[centre_hz] = float(np.mean(times))
    return out


def _find_claps(power: np.ndarray, rate: int) -> list[int]:
    loud = np.flatnonzero(power > 0.05 * power.max())
    claps = [int(loud[0])]
    for place in loud:
        if place - claps[-1] > rate:
            claps.append(int(place))
    return claps


if __name__ == "__main__":
    for centre_hz, time_s in read_plainly(sys.argv[1]).items():
        print(f"{centre_hz:g} Hz: {time_s:.3f} s")
