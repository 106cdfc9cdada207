"""How records of faulty takes are judged, and the table they make.

An octave counts as moved where the faulty take's decay time differs by more than 5 % both from the
clean reading of the same claps and from the truth; where both lie outside its interval for the
room; and where it is further from the truth than the clean reading was, and outside what the clean
reading left open for the spots it heard. So nothing is put down to a fault that chance did to both.
A decay time where the clean take gave none is held against the truth alone.

A moved octave is caught where a concern of the take or of one of its claps is there, where a
reason of the octave has a fault's code, or where the octave is not reliable.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, field

from roomir.bands.band import OCTAVES
from tests.benchmarks.fault_records import Record, Row

MOVED = math.log(1.05)


@dataclass(kw_only=True)
class Score:
    """Counts over the takes of one kind.

    Attributes
    ----------
    takes, concerned : int
        Takes, and those with any concern.
    moved, caught, named : int
        Octaves moved; those of them caught; those with a concern or a fault's reason.
    trusted, trusted_caught : int
        The same where the clean octave was reliable.
    codes : Counter
        Takes in which a code was named.
    missed : list of str
        A line about each moved octave that was not caught.
    takes_moved, takes_missed : int
        Takes with a moved octave, and with one not caught.
    """

    takes: int = 0
    concerned: int = 0
    moved: int = 0
    caught: int = 0
    named: int = 0
    trusted: int = 0
    trusted_caught: int = 0
    takes_moved: int = 0
    takes_missed: int = 0
    codes: Counter[str] = field(default_factory=Counter)
    missed: list[str] = field(default_factory=list)

    def add(self, faulty: Record, clean: Record, *, codes: frozenset[str]) -> None:
        """Count one take."""
        self.takes += 1
        self.concerned += bool(faulty.named)
        in_bands = {code for row in faulty.rows for code in row.reasons if code in codes}
        self.codes.update(faulty.named | in_bands)
        before = self.moved, self.caught
        for i, row in enumerate(faulty.rows):
            was = clean.rows[i] if clean.rows else None
            if not is_moved(row, was=was, true_s=faulty.true_s[i]):
                continue
            named = bool(faulty.named) or any(code in codes for code in row.reasons)
            caught = named or row.verdict != "reliable"
            trusted = was is not None and was.verdict == "reliable"
            self.moved += 1
            self.named += named
            self.caught += caught
            self.trusted += trusted
            self.trusted_caught += trusted and caught
            if not caught:
                self.missed.append(_line(faulty, i, row, was))
        moved, caught_here = self.moved - before[0], self.caught - before[1]
        self.takes_moved += moved > 0
        self.takes_missed += caught_here < moved


def is_moved(row: Row, *, was: Row | None, true_s: float) -> bool:
    """Whether a fault has moved an octave's decay time, and not chance."""
    if row.time_s is None:
        return False

    def off(other_s: float) -> bool:
        outside = row.room is None or not row.room[0] <= other_s <= row.room[1]
        return outside and abs(math.log(row.time_s / other_s)) > MOVED

    if not off(true_s):
        return False
    if was is None or was.time_s is None:
        return True
    worse = abs(math.log(row.time_s / true_s)) > abs(math.log(was.time_s / true_s))
    left_open = was.spot is not None and was.spot[0] <= row.time_s <= was.spot[1]
    return off(was.time_s) and worse and not left_open


def wilson(hits: int, n: int) -> tuple[float, float]:
    """95 % interval of a share (Wilson, J. Am. Stat. Assoc. 22 (1927) 209)."""
    if n == 0:
        return 0.0, 1.0
    z = 1.959964
    p = hits / n
    middle = (p + z * z / (2 * n)) / (1 + z * z / n)
    half = z / (1 + z * z / n) * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n))
    return max(0.0, middle - half), min(1.0, middle + half)


def _line(faulty: Record, i: int, row: Row, was: Row | None) -> str:
    clean = f"{was.time_s:.3f} {was.verdict}" if was is not None and was.time_s else "none"
    return (
        f"{faulty.kind} {faulty.seed} {OCTAVES[i].nominal_hz:g} Hz: true {faulty.true_s[i]:.3f},"
        f" clean {clean}, faulty {row.time_s:.3f}; {faulty.truth}"
    )


def share(hits: int, n: int) -> str:
    """Write a share with its interval in percent."""
    if n == 0:
        return "-"
    low, high = wilson(hits, n)
    return f"{100 * hits / n:.1f} ({100 * low:.1f} to {100 * high:.1f})"


def table(scores: dict[str, Score], *, judged: dict[str, bool]) -> list[str]:
    """Lay out rows of kinds, with columns for what was moved, caught and named."""
    head = (
        f"{'kind':<18}{'takes':>6}{'moved':>7}{'caught':>8}  {'% (95 % interval)':<24}"
        f"{'named':>6}{'  were reliable: moved, caught':<32}takes with a code"
    )
    lines = [head]
    for mark in (True, False):
        if not mark:
            lines.append("published, not judged:")
        rows = [(kind, score) for kind, score in scores.items() if judged[kind] is mark]
        lines += [_table_row(kind, score) for kind, score in rows]
        if mark:
            total = Score()
            for _, score in rows:
                for name in ("takes", "moved", "caught", "named", "trusted", "trusted_caught"):
                    setattr(total, name, getattr(total, name) + getattr(score, name))
            lines.append(_table_row("all judged", total))
    return lines


def confusion(scores: dict[str, Score], *, clean: Counter[str]) -> list[str]:
    """Rows kinds, columns codes: takes in which a code was named."""
    codes = sorted(set(clean).union(*(score.codes for score in scores.values())))
    if not codes:
        return ["no code was named anywhere"]
    lines = [f"{i + 1:>3} {code}" for i, code in enumerate(codes)]
    lines.append(f"{'':<18}" + "".join(f"{i + 1:>4}" for i in range(len(codes))))
    for kind, counts in [("clean", clean), *((kind, score.codes) for kind, score in scores.items())]:
        lines.append(f"{kind:<18}" + "".join(f"{counts[code] or '.':>4}" for code in codes))
    return lines


def _table_row(kind: str, score: Score) -> str:
    named = ", ".join(f"{code} {n}" for code, n in score.codes.most_common(4))
    trusted = f"{score.trusted}, {score.trusted_caught}" if score.trusted else "-"
    return (
        f"{kind:<18}{score.takes:>6}{score.moved:>7}{score.caught:>8}  "
        f"{share(score.caught, score.moved):<24}{score.named:>6}  {trusted:<30}{named}"
    ).rstrip()
