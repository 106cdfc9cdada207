"""What one take came to, kept line by line so that a long run can be stopped and taken up again."""

from __future__ import annotations

import ast
import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from roomir.reading.reading import BandFigures, Reading

ROOT = Path(__file__).parents[2]
CLEAN = "clean"
_CODE = ("audio/recording.py", "bands", "claps", "decay", "faults", "reading", "synth")


def fault_codes() -> frozenset[str]:
    """Every code that the detectors may give, from their source."""
    found = set()
    for path in (ROOT / "roomir" / "faults").rglob("*.py"):
        if path.name == "other_sounds.py":  # why an event is no clap: no fault of the recording
            continue
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.keyword) and node.arg == "code":
                # Either of two codes may stand there.
                inside = (one.value for one in ast.walk(node.value) if isinstance(one, ast.Constant))
                found |= {value for value in inside if isinstance(value, str)}
    return frozenset(found)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One octave of one reading."""

    time_s: float | None
    room: tuple[float, float] | None
    spot: tuple[float, float] | None
    verdict: str
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """One take.

    Attributes
    ----------
    kind, seed : str, int
        Which take.
    rows : tuple of Row
        By octave; empty where nothing was read.
    take : tuple of str
        Codes of the take's concerns.
    claps : tuple of (bool, tuple of str)
        Per candidate: used, and codes of its concerns.
    true_s : tuple of float
        Decay time of the base per octave. [s]
    truth : dict
        The fault's parameters, with ``struck``.
    """

    kind: str
    seed: int
    rows: tuple[Row, ...]
    take: tuple[str, ...]
    claps: tuple[tuple[bool, tuple[str, ...]], ...]
    true_s: tuple[float, ...]
    truth: dict[str, Any]

    @property
    def named(self) -> frozenset[str]:
        """Codes of all concerns of the take and its claps."""
        return frozenset(self.take).union(*(codes for _, codes in self.claps))


def record(
    reading: Reading,
    *,
    kind: str,
    seed: int,
    true_s: tuple[float, ...],
    truth: dict[str, Any],
    codes: frozenset[str],
) -> Record:
    """Keep of a reading what is judged."""
    heard = reading.takes[0]
    return Record(
        kind=kind,
        seed=seed,
        rows=tuple(_row(band.figures) for band in reading.bands),
        take=tuple(remark.code for remark in heard.concerns),
        claps=tuple(
            (
                clap.used,
                (
                    *(remark.code for remark in clap.concerns),
                    *(
                        (clap.set_aside_because.code,)
                        if clap.set_aside_because is not None and clap.set_aside_because.code in codes
                        else ()
                    ),
                ),
            )
            for clap in heard.claps
        ),
        true_s=true_s,
        truth=truth,
    )


def _row(figures: BandFigures) -> Row:
    return Row(
        time_s=figures.decay_time_s,
        room=figures.ci95_s,
        spot=figures.spot_ci95_s,
        verdict=figures.verdict,
        reasons=tuple(remark.code for remark in figures.reasons),
    )


class Records:
    """A file of records, one line each, that belongs to one state of the code.

    A file of another state is begun afresh.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._kept: dict[tuple[str, int], Record] = {}
        self.code = _code()
        if path.exists():
            lines = path.read_text().splitlines()
            if lines and json.loads(lines[0]).get("code") == self.code:
                for line in lines[1:]:
                    if line.endswith("}"):  # a run that was killed may leave half a line
                        one = _from_json(json.loads(line))
                        self._kept[one.kind, one.seed] = one
                self._write_all()
                return
        self._write_all()

    def get(self, kind: str, seed: int) -> Record | None:
        """Return the record of a take, if there is one."""
        return self._kept.get((kind, seed))

    def add(self, one: Record) -> None:
        """Keep a record."""
        self._kept[one.kind, one.seed] = one
        with self._path.open("a") as file:
            file.write(_to_json(one) + "\n")

    def of(self, kind: str) -> Iterator[Record]:
        """Go through the records of a kind."""
        return (one for (its_kind, _), one in sorted(self._kept.items()) if its_kind == kind)

    def _write_all(self) -> None:
        self._path.parent.mkdir(parents=True, exist_ok=True)
        text = "".join(_to_json(one) + "\n" for one in self._kept.values())
        part = self._path.with_suffix(".part")
        part.write_text(json.dumps({"code": self.code}) + "\n" + text)
        part.replace(self._path)


def _to_json(one: Record) -> str:
    rows = [[_short(r.time_s), _short(r.room), _short(r.spot), r.verdict, list(r.reasons)] for r in one.rows]
    plain = {
        "kind": one.kind, "seed": one.seed, "rows": rows, "take": one.take, "claps": one.claps,
        "true_s": _short(one.true_s), "truth": one.truth,
    }  # fmt: skip
    return json.dumps(plain, separators=(",", ":"))


def _short(value: Any) -> Any:
    if isinstance(value, float):
        return float(f"{value:.5g}")
    return [_short(v) for v in value] if isinstance(value, tuple) else value


def _from_json(plain: dict[str, Any]) -> Record:
    return Record(
        kind=plain["kind"],
        seed=plain["seed"],
        rows=tuple(
            Row(
                time_s=time_s,
                room=None if room is None else tuple(room),
                spot=None if spot is None else tuple(spot),
                verdict=verdict,
                reasons=tuple(reasons),
            )
            for time_s, room, spot, verdict, reasons in plain["rows"]
        ),
        take=tuple(plain["take"]),
        claps=tuple((used, tuple(codes)) for used, codes in plain["claps"]),
        true_s=tuple(plain["true_s"]),
        truth=plain["truth"],
    )


def _code() -> str:
    files: list[Path] = sorted((ROOT / "tests/benchmarks/faulty_takes").glob("*.py"))
    for name in _CODE:
        path = ROOT / "roomir" / name
        files += sorted(path.rglob("*.py")) if path.is_dir() else [path]
    present = [path for path in files if path.exists()]
    return hashlib.sha256(b"".join(path.read_bytes() for path in present)).hexdigest()[:16]
