"""An hour costs no more memory than the longest decay in it."""

from collections.abc import Iterator

import numpy as np

from roomir.audio.recording import Recording, Samples
from roomir.bands.band import OCTAVES
from roomir.claps.clap import Clap
from roomir.faults.in_sound import inspect_sounds
from tests.faults.rooms import RATE_HZ, clapped

_HOUR = 3600 * RATE_HZ


class Watched:
    """An hour of silence with one take in its middle, which remembers how much was asked for at once."""

    sample_rate_hz = RATE_HZ
    n_frames = _HOUR
    n_channels = 1

    def __init__(self) -> None:
        self.take = clapped(seed=14).samples
        self.start = _HOUR // 2
        self.asked: list[int] = []

    def stretch(self, *, start: int, stop: int) -> Samples:
        start, stop = max(start, 0), min(stop, _HOUR)
        self.asked.append(stop - start)
        out = np.random.default_rng(start).normal(0.0, 1e-4, (stop - start, 1)).astype(np.float32)
        low, high = max(start, self.start), min(stop, self.start + self.take.size)
        if low < high:
            out[low - start : high - start, 0] += self.take[low - self.start : high - self.start]
        return out

    def blocks(self, *, n_frames: int) -> Iterator[Samples]:
        for start in range(0, _HOUR, n_frames):
            yield self.stretch(start=start, stop=start + n_frames)


def test_an_hour_is_looked_at_in_stretches_of_seconds():
    sound = Watched()
    onset = sound.start + round(clapped(seed=14).claps[0].onset_s * RATE_HZ)
    claps = [Clap(onset=onset, stop=onset + 8 * RATE_HZ, sample_rate_hz=RATE_HZ, peak_dbfs=-6.0)]

    inspect_sounds([Recording(sound=sound, source_name="hour.wav")], [claps], bands=OCTAVES)

    assert max(sound.asked) <= 16 * RATE_HZ
    assert sum(sound.asked) <= 90 * RATE_HZ
