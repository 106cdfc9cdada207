"""Tiny takes, as many as wanted and fast to read, and what a batch over them takes. Invented rooms."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import soundfile

from roomir.synth.takes import make_take

RATE_HZ = 8_000
CHECKOUT = Path(__file__).parents[2]


def write_takes(folder: Path, *, n: int, first_seed: int = 0) -> None:
    """Write that many takes of about a second: one clap, T 0.15 s."""
    folder.mkdir(parents=True, exist_ok=True)
    for seed in range(first_seed, first_seed + n):
        take = make_take(
            seed=seed, sample_rate_hz=RATE_HZ, decay_time_s=0.15, n_claps=1, lead_s=0.3, spacing_s=(0.5, 0.6)
        )
        soundfile.write(folder / f"take{seed:04d}.wav", take.samples, RATE_HZ, subtype="PCM_16")


def batch_process(folder: Path, output: Path, *options: str) -> subprocess.Popen[str]:
    """Start `roomir batch` in a process of its own."""
    environment = {**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    environment["PYTHONPATH"] = str(CHECKOUT)
    return subprocess.Popen(
        [sys.executable, "-m", "roomir", "batch", str(folder), "-o", str(output), *options],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=environment,
    )
