"""How fast a reading is, as ratios to the plain recipe in the same run.

Times of one machine mean nothing on another, and even here only side by side:
each round times one after the other, and the medians of the rounds' ratios count.
"""

import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import soundfile

from roomir.synth.decay import Slope, room_response
from tests.benchmarks import plain_recipe

RATE_HZ = 48_000
N_CLAPS = 12
SPACING_S = 5.0
DURATION_S = 61.0


def write_take(path: Path, *, seed: int = 1) -> None:
    """Write a take of 61 s with 12 claps in three spots: T 0.6 s, background 50 dB down, 16 bit."""
    rng = np.random.default_rng(seed)
    sound = rng.standard_normal(round(DURATION_S * RATE_HZ)) * 10.0 ** (-50.0 / 20.0)
    for i in range(N_CLAPS):
        if i % 4 == 0:
            response = room_response(
                rng=rng,
                sample_rate_hz=RATE_HZ,
                slopes=[Slope(decay_time_s=0.6)],
                duration_s=1.5,
                direct_to_reverberant_db=3.0,
                n_early=5,
            )
        start = round((1.0 + SPACING_S * i) * RATE_HZ)
        sound[start : start + response.size] += response
    soundfile.write(path, sound / np.abs(sound).max() * 0.7, RATE_HZ, subtype="PCM_16")


def _seconds(run: Callable[[], object]) -> float:
    start = time.perf_counter()
    run()
    return time.perf_counter() - start


def warm_ratio(path: Path, *, n_rounds: int) -> float:
    """Everything `read` does over the recipe, both loaded and run before."""
    import roomir

    roomir.read(path)
    plain_recipe.read_plainly(str(path))
    return statistics.median(
        _seconds(lambda: roomir.read(path)) / _seconds(lambda: plain_recipe.read_plainly(str(path)))
        for _ in range(n_rounds)
    )


def cold_ratio(path: Path, *, n_rounds: int) -> float:
    """The whole command as a process over the recipe's script as a process."""
    read = [sys.executable, "-m", "roomir", "read", str(path)]
    recipe = [sys.executable, str(Path(plain_recipe.__file__)), str(path)]

    def run(command: list[str]) -> None:
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)

    run(read)
    run(recipe)
    return statistics.median(
        _seconds(lambda: run(read)) / _seconds(lambda: run(recipe)) for _ in range(n_rounds)
    )


def main(*, n_rounds: int = 9) -> dict[str, float]:
    """Measure and print both ratios."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "take.wav"
        write_take(path)
        ratios = {
            "warm read / recipe": warm_ratio(path, n_rounds=n_rounds),
            "cold command / recipe script": cold_ratio(path, n_rounds=n_rounds),
        }
    for name, ratio in ratios.items():
        print(f"{name}: {ratio:.3f}")
    return ratios


if __name__ == "__main__":
    main()
