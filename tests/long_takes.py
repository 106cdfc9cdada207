"""An hour of sound with a clap now and then, made in seconds, and what reading it takes. Invented room."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
import soundfile

from roomir.synth.takes import make_take

RATE_HZ = 48000
PACKET = 1024
MINUTE = 2813 * PACKET  # whole packets of AAC
MINUTES = 60
DECAY_TIME_S = 0.5
BACKGROUND = 1e-4
MINUTES_WITH_A_CLAP = range(2, MINUTES, 5)


@dataclass(frozen=True)
class Run:
    """One call of ``roomir read`` in a process of its own."""

    status: int
    document: dict[str, Any]
    peak_mb: float
    cpu_s: float


def _minutes() -> tuple[np.ndarray, np.ndarray, float]:
    """A quiet minute, a minute with one clap in it (stereo), and when in its minute that begins."""
    take = make_take(seed=3, sample_rate_hz=RATE_HZ, decay_time_s=DECAY_TIME_S, n_claps=1, background_db=None)
    rng = np.random.default_rng(4)
    quiet = (BACKGROUND * rng.standard_normal(MINUTE)).astype(np.float32)
    with_clap = quiet.copy()
    with_clap[: len(take.samples)] += take.samples
    return (*(np.stack([one, 0.8 * one], axis=1) for one in (quiet, with_clap)), take.claps[0].onset_s)


def write_hour(path: Path) -> tuple[float, ...]:
    """Write an hour in stereo, as M4A or WAV by its suffix; return when the claps begin. [s]"""
    quiet, with_clap, onset_s = _minutes()
    delay_s = 0.0
    if path.suffix == ".m4a":
        delay_s = _write_m4a(path, quiet, with_clap) / RATE_HZ
    else:
        with soundfile.SoundFile(path, "w", RATE_HZ, 2, "PCM_16") as out:
            for minute in range(MINUTES):
                out.write(with_clap if minute in MINUTES_WITH_A_CLAP else quiet)
    return tuple(minute * MINUTE / RATE_HZ + onset_s + delay_s for minute in MINUTES_WITH_A_CLAP)


def _write_m4a(path: Path, quiet: np.ndarray, with_clap: np.ndarray) -> int:
    """Write the hour packed; return by how much that delays it. [frames]"""
    # Packing takes far longer than the rest: each minute is packed once, and its packets are written often.
    with av.open(str(path), "w", format="ipod") as out:
        stream = out.add_stream("aac", rate=RATE_HZ, layout="stereo", bit_rate=128_000)
        packed: list[bytes] = []
        for at in range(0, 2 * MINUTE, PACKET):
            samples = (quiet, with_clap)[at // MINUTE][at % MINUTE :][:PACKET]
            frame = av.AudioFrame.from_ndarray(
                np.ascontiguousarray(samples.T), format="fltp", layout="stereo"
            )
            frame.sample_rate, frame.pts = RATE_HZ, at
            packed += map(bytes, stream.encode(frame))
        packed += map(bytes, stream.encode(None))
        # The last packets of the coder's delay are left out.
        minutes = (packed[: MINUTE // PACKET], packed[MINUTE // PACKET :][: MINUTE // PACKET])
        time = 0
        for minute in range(MINUTES):
            for data in minutes[minute in MINUTES_WITH_A_CLAP]:
                packet = av.Packet(data)
                packet.stream, packet.time_base = stream, Fraction(1, RATE_HZ)
                packet.pts = packet.dts = time
                packet.duration = PACKET
                packet.is_keyframe = True
                out.mux(packet)
                time += PACKET
    return PACKET


_MEASURE = """
import json, os, subprocess, sys
child = subprocess.Popen(sys.argv[1:], stdout=subprocess.PIPE)
document = child.stdout.read().decode()
_, status, used = os.wait4(child.pid, 0)
json.dump({"status": os.waitstatus_to_exitcode(status), "document": json.loads(document),
           "peak_mb": used.ru_maxrss / 1024, "cpu_s": used.ru_utime + used.ru_stime}, sys.stdout)
"""


def read_apart(path: Path, *, stderr: int | None = None) -> Run:
    """Read a file with the command, started by a small process: a peak of memory is handed down at birth."""
    environment = {**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    environment["PYTHONPATH"] = str(Path(__file__).parents[1])
    command = [sys.executable, "-m", "roomir", "read", str(path), "--json"]
    done = subprocess.run(
        [sys.executable, "-c", _MEASURE, *command],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=stderr,
        env=environment,
        check=True,
    )
    return Run(**json.loads(done.stdout))
