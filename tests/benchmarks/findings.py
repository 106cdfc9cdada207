"""How well flutter, echoes and two slopes are found, and how often where there are none.

Run ``python -m tests.benchmarks.findings``. Every figure belongs to the seeds and the commit it names; none
of the seeds was used to set a threshold. Rooms are `tests.findings.sounds` at 16 kHz (octaves 125 Hz to
4 kHz): white reverberation, direct sound, up to 20 early reflections within 30 ms, a clap of some
milliseconds, one to three spots, 40 to 60 dB from the loudest frame to the background.

A flutter has a spacing of 10 to 50 ms, of which at least six fit into the first 35 dB of the decay, a decay
time of 0.8 to 1.25 times the room's, and, where the decay is read, the stated energy over the reverberation
at time zero. Clean rooms are diffuse decays, a third of them with a second slope; and boxes of image
sources with all surfaces about equally absorbing whose images fade into noise from 30 to 80 ms. Boxes
without that noise are counted apart: a bare box does have a row of echoes along its length.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from roomir.findings.findings import RoomFindings
from roomir.rooms.statistics import eyring_decay_time_s
from roomir.synth.box import BoxRoom, DiffuseTail, box_response
from roomir.synth.decay import Slope
from tests.benchmarks.store import commit_name
from tests.findings.sounds import RATE_HZ, findings_of, response, with_flutter

RESULTS = Path(__file__).parent / "results" / "findings.txt"
FIRST_SEED = 8_100_000
SURFACES = ("west", "east", "south", "north", "floor", "ceiling")
C = 343.2


@dataclass(frozen=True, kw_only=True)
class Case:
    """One room with a flutter, and what was found in it."""

    spacing_s: float
    found: RoomFindings

    @property
    def right(self) -> bool:
        """Whether the spacing is right to 3 %."""
        flutter = self.found.flutter
        return flutter is not None and abs(flutter.spacing_s / self.spacing_s - 1.0) <= 0.03


def flutter_case(seed: int, *, decay_time_s: float, strength_db: float) -> Case:
    rng = np.random.default_rng([seed, round(1000 * decay_time_s), round(strength_db) + 100])
    spacing_s = rng.uniform(0.010, min(0.050, 35.0 / 60.0 * decay_time_s / 6.0))
    own_s = decay_time_s * np.exp(rng.uniform(np.log(0.8), np.log(1.25)))
    rooms = []
    for _ in range(int(rng.integers(1, 4))):
        diffuse = response(
            rng,
            decay_time_s=decay_time_s,
            direct_db=rng.uniform(-6.0, 6.0),
            n_early=int(rng.integers(0, 20)),
        )
        rooms.append(
            with_flutter(diffuse, rng, spacing_s=spacing_s, strength_db=strength_db, decay_time_s=own_s)
        )
    found = findings_of(rooms, rng, background_db=-rng.uniform(40.0, 60.0))
    return Case(spacing_s=float(spacing_s), found=found)


def diffuse_room(seed: int) -> RoomFindings:
    rng = np.random.default_rng([seed, 1])
    decay_time_s = float(np.exp(rng.uniform(np.log(0.2), np.log(2.0))))
    bent = rng.random() < 1.0 / 3.0
    second = Slope(decay_time_s=decay_time_s * rng.uniform(1.5, 2.5), level_db=rng.uniform(-25.0, -8.0))
    rooms = [
        response(
            rng,
            decay_time_s=decay_time_s,
            second=second if bent else None,
            direct_db=rng.uniform(-6.0, 6.0),
            n_early=int(rng.integers(0, 20)),
        )
        for _ in range(int(rng.integers(1, 4)))
    ]
    return findings_of(rooms, rng, background_db=-rng.uniform(35.0, 60.0), claps=int(rng.integers(1, 3)))


def box_room(seed: int, *, fades_into_noise: bool) -> RoomFindings:
    rng = np.random.default_rng([seed, 2])
    size_m = np.array([rng.uniform(2.6, 7.0), rng.uniform(2.2, 5.0), rng.uniform(2.2, 3.2)])
    alphas = np.clip(rng.uniform(0.12, 0.4) * rng.uniform(0.75, 1.33, 6), 0.05, 0.9)
    room = BoxRoom(
        length_m=size_m[0],
        width_m=size_m[1],
        height_m=size_m[2],
        **{name: (float(alpha),) * 8 for name, alpha in zip(SURFACES, alphas, strict=True)},
    )
    decay_time_s = eyring_decay_time_s(
        volume_m3=room.volume_m3,
        surface_m2=room.surface_m2,
        mean_absorption=float(room.mean_absorption[4]),
        sound_speed=C,
    )
    tail = DiffuseTail(from_s=0.03, full_s=0.08, decay_time_s=(decay_time_s,) * 8)
    rooms = []
    for _ in range(int(rng.integers(1, 3))):
        source_m, ear_m = (size_m * rng.uniform(0.12, 0.88, 3) for _ in range(2))
        heard = box_response(
            room,
            source_m=tuple(source_m),
            microphone_m=tuple(ear_m + 0.02),
            sample_rate_hz=RATE_HZ,
            duration_s=min(1.1 * decay_time_s + 0.1, 1.2 if fades_into_noise else 0.7),
            sound_speed_m_per_s=C,
            rng=rng,
            tail=tail if fades_into_noise else None,
        )
        rooms.append(heard[max(int(np.argmax(np.abs(heard) > 0.2 * np.abs(heard).max())) - 4, 0) :])
    return findings_of(rooms, rng, background_db=-rng.uniform(35.0, 55.0))


def echo_case(seed: int, *, level_db: float) -> tuple[float, RoomFindings]:
    rng = np.random.default_rng([seed, 3])
    delay_s = float(rng.uniform(0.06, 0.16))
    room = response(rng, decay_time_s=rng.uniform(0.3, 0.9), direct_db=rng.uniform(0.0, 6.0))
    room[round(delay_s * RATE_HZ)] += abs(room[0]) * 10.0 ** (level_db / 20.0)
    return delay_s, findings_of([room], rng, background_db=-55.0, claps=int(rng.integers(1, 4)))


def slopes_case(seed: int, *, ratio: float, level_db: float) -> tuple[tuple[float, float], RoomFindings]:
    rng = np.random.default_rng([seed, 4, round(10 * ratio)])
    first_s = float(rng.uniform(0.3, 0.8))
    second = Slope(decay_time_s=ratio * first_s, level_db=level_db)
    rooms = [response(rng, decay_time_s=first_s, second=second, direct_db=-3.0) for _ in range(3)]
    return (first_s, ratio * first_s), findings_of(rooms, rng, background_db=-85.0)


def flutter_lines(seeds: range) -> Iterator[str]:
    yield "found, spacing right to 3 % of those found, and shown at 1, 2 and 4 kHz [% of takes];"
    yield "median strength that was read [dB]"
    for decay_time_s in (0.3, 0.5, 1.0, 2.0):
        for strength_db in (-9.0, -6.0, -3.0, 0.0, 6.0):
            cases = [flutter_case(seed, decay_time_s=decay_time_s, strength_db=strength_db) for seed in seeds]
            yield f"T {decay_time_s:g} s, {strength_db:+g} dB: {_flutter_line(cases)}"


def clean_lines(make: Callable[[int], RoomFindings], seeds: range) -> Iterator[str]:
    found = [make(seed) for seed in seeds]
    yield f"a flutter in {sum(one.flutter is not None for one in found)} of {len(seeds)} takes"
    yield f"a late echo in {sum(bool(one.echoes) for one in found)} of {len(seeds)} takes"


def echo_lines(seeds: range) -> Iterator[str]:
    yield "found to 1 ms, takes with another beside it, error of its level"
    for level_db in (-8.0, -12.0, -16.0):
        yield f"{level_db:+g} dB re the direct sound: {_echo_line(seeds, level_db=level_db)}"


def slopes_lines(seeds: range) -> Iterator[str]:
    yield "1 to 4 kHz, three spots: found, rms error of the first and of the second time"
    for ratio, level_db in ((2.0, -15.0), (3.0, -20.0), (3.0, -30.0)):
        yield f"second {ratio:g} times as long, {level_db:+g} dB: {_slopes_line(seeds, ratio, level_db)}"


@dataclass(frozen=True, kw_only=True)
class Part:
    """One question: how many takes it is asked of, and what answers it."""

    takes: int
    lines: Callable[[range], Iterator[str]]


PARTS = {
    "flutter": Part(takes=40, lines=flutter_lines),
    "clean, diffuse decays": Part(takes=600, lines=lambda seeds: clean_lines(diffuse_room, seeds)),
    "clean, boxes that fade into noise": Part(
        takes=200, lines=lambda seeds: clean_lines(lambda seed: box_room(seed, fades_into_noise=True), seeds)
    ),
    "bare boxes, not judged": Part(
        takes=60, lines=lambda seeds: clean_lines(lambda seed: box_room(seed, fades_into_noise=False), seeds)
    ),
    "late echoes": Part(takes=40, lines=echo_lines),
    "two slopes": Part(takes=40, lines=slopes_lines),
}


def _flutter_line(cases: list[Case]) -> str:
    found = [case for case in cases if case.found.flutter is not None]
    right = sum(case.right for case in found)
    shown = []
    for hz in (1000.0, 2000.0, 4000.0):
        n = sum(
            any(band.found and band.nominal_hz == hz for band in case.found.flutter.bands)
            for case in found
            if case.right
        )
        shown.append(f"{100.0 * n / len(cases):.0f}")
    strengths = [case.found.flutter.strength_db for case in found]
    strength = f"{np.median(strengths):+.1f}" if strengths else "-"
    return (
        f"{100.0 * len(found) / len(cases):.0f}, {100.0 * right / max(len(found), 1):.0f}; "
        f"{'/'.join(shown)}; {strength}"
    )


def _echo_line(seeds: range, *, level_db: float) -> str:
    errors, others = [], 0
    for seed in seeds:
        delay_s, found = echo_case(seed, level_db=level_db)
        near = [one for one in found.echoes if abs(one.delay_s - delay_s) < 0.001]
        others += len(found.echoes) > len(near)
        errors += [near[0].level_db - level_db] if near else []
    error = f"{np.mean(errors):+.1f} +- {np.std(errors):.1f} dB" if errors else "-"
    return f"{len(errors)} of {len(seeds)}, {others}, {error}"


def _slopes_line(seeds: range, ratio: float, level_db: float) -> str:
    errors, n = [], 0
    for seed in seeds:
        (first_s, second_s), found = slopes_case(seed, ratio=ratio, level_db=level_db)
        those = [one for one in found.two_slopes if one.nominal_hz >= 1000.0]
        n += len(those)
        errors += [(one.first_s / first_s - 1.0, one.second_s / second_s - 1.0) for one in those]
    rms = 100.0 * np.sqrt(np.mean(np.square(errors), axis=0)) if errors else (np.nan, np.nan)
    return f"{n} of {3 * len(seeds)}, {rms[0]:.0f} %, {rms[1]:.0f} %"


def main(names: Iterable[str] = tuple(PARTS), *, first: int = FIRST_SEED, keep: Path = RESULTS) -> None:
    """Ask some of the questions, and put the answers in place of the earlier ones."""
    for name in names:
        part = PARTS[name]
        head = f"[{name}] seeds {first} to {first + part.takes - 1}, commit {commit_name()}"
        block = "\n".join([head, *(f"  {line}" for line in part.lines(range(first, first + part.takes)))])
        print(block, flush=True)
        kept = keep.read_text().strip().split("\n\n") if keep.exists() else []
        blocks = {one[1 : one.index("]")]: one for one in (*kept, block)}
        keep.parent.mkdir(parents=True, exist_ok=True)
        keep.write_text("\n\n".join(blocks[one] for one in PARTS if one in blocks) + "\n")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("parts", nargs="*", choices=[*PARTS, []], help="all of them if none is named")
    options = parser.parse_args()
    main(options.parts or PARTS)
