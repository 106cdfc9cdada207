"""Takes kept on disk, so that one set of sounds can be read by one state of the detectors after another."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from roomir.audio.recording import Recording, SoundInMemory
from tests.benchmarks.fault_records import CLEAN, ROOT
from tests.benchmarks.faulty_takes.kinds import clean_take, faulty_take


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sound:
    """A take, and what is true of it: decay times per octave, parameters, and which claps are struck."""

    recording: Recording
    true_s: tuple[float, ...]
    truth: dict[str, Any]


def make(kind: str, seed: int) -> Sound:
    """Make a take."""
    take = clean_take(seed=seed) if kind == CLEAN else faulty_take(kind, seed=seed)
    struck = "".join("x" if hit else "." for hit in take.struck)
    return Sound(
        recording=take.recording, true_s=take.base.decay_time_s, truth=take.truth | {"struck": struck}
    )


class Sounds:
    """A folder of takes, one set for each state of what makes them; about 1.3 MB a take."""

    def __init__(self, folder: Path | None) -> None:
        self._folder = None if folder is None else folder / _code()

    def get(self, kind: str, seed: int) -> Sound:
        """Return a take, from the folder if it lies there."""
        if self._folder is None:
            return make(kind, seed)
        path = self._folder / f"{kind}-{seed}.npz"
        if not path.exists():
            sound = make(kind, seed)
            self._keep(sound, path)
            return sound
        with np.load(path) as kept:
            about = json.loads(str(kept["about"]))
            samples = kept["samples"].astype(np.float32) / np.float32(32768.0)
        memory = SoundInMemory(samples=samples, sample_rate_hz=about["rate_hz"])
        return Sound(
            recording=Recording(sound=memory, source_name=f"{kind} {seed}"),
            true_s=tuple(about["true_s"]),
            truth=about["truth"],
        )

    def _keep(self, sound: Sound, path: Path) -> None:
        heard = sound.recording.sound
        # Every take was stored in 16 bits when it was made, so nothing is lost here.
        samples = np.round(32768.0 * heard.stretch(start=0, stop=heard.n_frames)).astype(np.int16)
        about = {"rate_hz": heard.sample_rate_hz, "true_s": sound.true_s, "truth": sound.truth}
        path.parent.mkdir(parents=True, exist_ok=True)
        part = path.with_name(f".{path.stem}.part.npz")
        np.savez(part, samples=samples, about=np.array(json.dumps(about)))
        part.replace(path)


def _code() -> str:
    files = sorted((ROOT / "tests/benchmarks/faulty_takes").glob("*.py"))
    files += sorted((ROOT / "roomir/synth").glob("*.py"))
    return hashlib.sha256(b"".join(path.read_bytes() for path in files)).hexdigest()[:16]
