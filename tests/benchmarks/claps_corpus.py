"""How well claps are told from everything else, over takes drawn with seeds that were not used for tuning.

Run ``python -m tests.benchmarks.claps_corpus``. Every figure it prints belongs to
the seeds and the commit it names.

A clap counts as there to be found where some octave from 250 Hz up shows at
least 28 dB of its decay before the background or the next event takes over,
and nothing else begins within 0.4 s; the others may go either way. A
disturbance that is used does harm in an octave where the decay time read from
-5 to -25 dB of its energy decay differs by more than 2 % from the room's. The
decay is computed without chance: the energy of the dry sound, under the
exponential of that octave.
"""

from __future__ import annotations

import argparse
import subprocess
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from roomir.audio.recording import SoundInMemory
from roomir.bands.band import OCTAVES
from roomir.claps.clap import Clap
from roomir.claps.find import find_claps
from roomir.claps.fitness import follow
from roomir.claps.portrait import portray
from roomir.synth.corpus import draw_take
from roomir.synth.distractors import KINDS
from roomir.synth.takes import SynthTake, TrueClap, TrueDistractor

RESULTS = Path(__file__).parent / "results" / "claps.txt"

FIT_DB = 28.0
FIT_S = 0.4
NOTHING_DB = 10.0
HARM = 0.02


@dataclass
class Tally:
    """Counts over many takes."""

    found: int = 0
    missed: list[str] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    wrong_with_harm: int = 0
    weak_used: int = 0
    onset_errors_ms: list[float] = field(default_factory=list)
    kinds: Counter[str] = field(default_factory=Counter)
    used: Counter[str] = field(default_factory=Counter)
    harmful: Counter[str] = field(default_factory=Counter)
    seconds_of_sound: float = 0.0
    seconds_of_work: float = 0.0

    @property
    def f1(self) -> float:
        """Harmonic mean of precision and recall."""
        return 2.0 * self.found / (2.0 * self.found + len(self.missed) + len(self.wrong))

    @property
    def f1_of_fitness(self) -> float:
        """The same where a disturbance that does no harm is fit: a knock is as good as a clap."""
        return 2.0 * self.found / (2.0 * self.found + len(self.missed) + self.wrong_with_harm)


def visible_db(clap: TrueClap, take: SynthTake) -> float:
    """Most that any octave from 250 Hz up shows of a clap's decay. [dB]."""
    free_s = clap.free_until_s - clap.onset_s
    pairs = zip(clap.decay_range_db[2:], take.decay_time_s[2:], strict=True)
    return max(min(range_db, 60.0 * free_s / fall_s) for range_db, fall_s in pairs)


def tally_take(take: SynthTake, *, name: str, tally: Tally) -> None:
    """Compare what is found in a take with the truth."""
    began = time.perf_counter()
    claps = find_claps(take.sound)
    tally.seconds_of_work += time.perf_counter() - began
    tally.seconds_of_sound += take.samples.size / take.sample_rate_hz
    tally.kinds.update(d.kind for d in take.distractors)
    left = [c for c in claps if c.used]
    for true in take.claps:
        near = [c for c in left if -0.006 <= c.onset_s - true.onset_s <= 0.03]
        left = [c for c in left if c not in near]
        visible = visible_db(true, take)
        if visible >= FIT_DB and true.free_until_s - true.onset_s >= FIT_S:
            if near:
                tally.found += 1
                tally.onset_errors_ms.append(1000.0 * (near[0].onset_s - true.onset_s))
            else:
                why = [c.set_aside_because for c in claps if abs(c.onset_s - true.onset_s) < 0.03]
                reasons = "; ".join(f"{w.code}: {w.says}" for w in why if w)
                tally.missed.append(f"{name} {true.onset_s:.3f} s, {visible:.0f} dB: {reasons}")
        elif visible < NOTHING_DB and near:
            tally.weak_used += 1
    for clap in left:
        culprit = _culprit(clap, take)
        kind = culprit.kind if culprit else "nothing"
        harm = harm_of(clap, take=take, culprit=culprit) if culprit else 1.0
        tally.used[kind] += 1
        tally.harmful[kind] += harm > HARM
        tally.wrong_with_harm += harm > HARM
        tally.wrong.append(f"{name} {clap.onset_s:.3f} s, {kind}, moves a band by {100 * harm:.1f} %")


def harm_of(clap: Clap, *, take: SynthTake, culprit: TrueDistractor) -> float:
    """Largest relative error of a decay time that a disturbance brings where its decay can be read."""
    rate = take.sample_rate_hz
    portrait = portray(take.sound, onset=clap.onset, before_s=0.3, stop=clap.stop)
    readable = follow(portrait, n_free=portrait.n_steps - portrait.i_onset).range_db >= 25.0
    lead = int(0.4 * rate)
    at = clap.onset - int(culprit.start_s * rate)
    dry = np.concatenate([np.zeros(lead), culprit.dry, np.zeros(rate)])[
        : lead + max(at + clap.stop - clap.onset, 1)
    ]
    course = portray(
        SoundInMemory(samples=dry, sample_rate_hz=rate), onset=lead + max(at, 0), before_s=0.4, stop=dry.size
    )
    worst = 0.0
    for i_band, band in enumerate(course.bands):
        if band.nominal_hz < 250.0 or not readable[i_band]:
            continue
        fall_s = take.decay_time_s[OCTAVES.index(band)]
        energy = course.energy[i_band]
        if KINDS[culprit.kind].in_the_room:
            time_s = np.arange(round(1.5 * fall_s / course.step_s) + energy.size) * course.step_s
            energy = np.convolve(energy, 10.0 ** (-6.0 * time_s / fall_s))[: time_s.size]
        worst = max(worst, abs(_decay_time_s(energy[course.i_onset :], step_s=course.step_s) / fall_s - 1.0))
    return worst


def _decay_time_s(energy: np.ndarray, *, step_s: float) -> float:
    """Decay time from -5 to -25 dB of the backward-integrated energy (ISO 3382-1:2009, 5.3). [s]."""
    level_db = 10.0 * np.log10(np.cumsum(energy[::-1])[::-1] / energy.sum() + 1e-30)
    inside = (level_db <= -5.0) & (level_db >= -25.0)
    if inside.sum() < 2:
        return 0.0
    slope, _ = np.polyfit(np.flatnonzero(inside) * step_s, level_db[inside], 1)
    return -60.0 / slope


def _culprit(clap: Clap, take: SynthTake) -> TrueDistractor | None:
    for distractor in take.distractors:
        if distractor.start_s - 0.02 <= clap.onset_s <= distractor.stop_s + 0.3:
            return distractor
    return None


def run(*, first: int, takes: int) -> Tally:
    """Go through ``takes`` takes from seed ``first`` on."""
    tally = Tally()
    for seed in range(first, first + takes):
        tally_take(draw_take(seed=seed), name=f"seed {seed}", tally=tally)
    return tally


def report(tally: Tally) -> str:
    """Put a tally into words."""
    errors = np.abs(tally.onset_errors_ms)
    within = f"{100.0 * np.mean(errors <= 1.0):.1f} %, 95th percentile {np.quantile(errors, 0.95):.2f} ms"
    lines = [
        f"{tally.found} claps found, {len(tally.missed)} missed, {tally.weak_used} faint ones used",
        f"{len(tally.wrong)} disturbances used, {tally.wrong_with_harm} with harm",
        f"F1 {tally.f1_of_fitness:.4f}, counting as wrong what does harm; {tally.f1:.4f}, counting all",
        f"onset within 1 ms: {within}",
        f"{1000.0 * 60.0 * tally.seconds_of_work / tally.seconds_of_sound:.0f} ms per minute of sound",
        "kind, made, used, used with harm:",
        *(f"  {k}, {n}, {tally.used[k]}, {tally.harmful[k]}" for k, n in sorted(tally.kinds.items())),
    ]
    return "\n".join(lines)


def main() -> None:
    """Run from the command line, and keep what is said beside this file."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--first", type=int, default=500_000, help="first seed")
    parser.add_argument("--takes", type=int, default=400, help="number of takes")
    parser.add_argument("--keep", type=Path, default=RESULTS, help="file to write")
    options = parser.parse_args()
    commit = subprocess.run(
        ["git", "rev-parse", "--short", "HEAD"], capture_output=True, text=True, check=False
    )
    tally = run(first=options.first, takes=options.takes)
    head = f"seeds {options.first} to {options.first + options.takes - 1}, commit {commit.stdout.strip()}"
    told = "\n".join(
        [head, report(tally), "", "missed:", *tally.missed, "", "disturbances used:", *tally.wrong]
    )
    print(told)
    options.keep.parent.mkdir(parents=True, exist_ok=True)
    options.keep.write_text(told + "\n")


if __name__ == "__main__":
    main()
