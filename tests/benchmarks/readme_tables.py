"""The counts as tables of the README."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import numpy as np

from tests.benchmarks import counts
from tests.benchmarks.counts import Rows, room_coverage, share, spot_coverage
from tests.benchmarks.store import Results

_ARRANGEMENTS = {
    "one clap": "one clap",
    "one spot": "six claps in one spot",
    "six files": "six spots, six files",
    "one walk": "six spots, one file",
}


def write_into(path: Path, text: str, *, name: str) -> None:
    """Put ``text`` between the markers of that name in a document."""
    begin, end = f"<!-- {name}:begin -->", f"<!-- {name}:end -->"
    before, rest = path.read_text().split(begin)
    _, after = rest.split(end)
    path.write_text(f"{before}{begin}\n{text}\n{end}{after}")


def as_markdown(results: Results) -> str:
    """Everything."""
    takes = sum(cell["n"] for study in results.cells for cell in results.of(study))
    about = (
        f"Commit `{results.commit}`, seed {results.seed}, {takes} readings of known truth: white\n"
        "reverberation over white background, a clap of 2 to 6 ms with equal energy at all frequencies,\n"
        "four to eight early reflections 3 to 12 dB below the direct sound within 25 ms; the claps' places\n"
        "are told. Written by `make bench`."
    )
    parts = [about]
    for study, text in _STUDIES.items():
        cells = results.of(study)
        if cells:
            parts.append(text(counts.flat(cells)))
    return "\n\n".join(parts)


def _table(head: list[str], lines: Iterable[list[str]]) -> str:
    rows = [head, ["---"] * len(head), *lines]
    return "\n".join("| " + " | ".join(row) + " |" for row in rows)


def _hz(hz: float) -> str:
    return f"{hz / 1000:g} kHz" if hz >= 1000 else f"{hz:g} Hz"


def _straight(rows: Rows) -> str:
    rows = [r | {"time_s": r["times_s"][0]} for r in rows]
    heard = counts.with_direct(rows)
    octaves = sorted({r["hz"] for r in heard})
    named = [
        (label(value), those) for by, label in counts.SETTINGS for value, those in counts.groups(heard, by)
    ]
    lines = []
    for name, those in [*named, ("all", heard)]:
        parts = [*([r for r in those if r["hz"] == hz] for hz in octaves), those]
        lines.append([name, *(f"{spot_coverage(part):.1f}" for part in parts)])
    title = "**One clap, one straight decay: `spot_ci95_s` holds the truth in so many percent**"
    facts = "\n".join(f"- {fact}" for fact in _facts(rows, heard))
    return f"{title}\n\n{_table(['', *map(_hz, octaves), 'all'], lines)}\n\n{facts}"


def _facts(rows: Rows, heard: Rows) -> list[str]:
    tight, loose = counts.tight(heard), counts.loose(heard)
    shares = [spot_coverage([r]) for r in counts.counted(heard)]
    low, high = counts.COVERAGE
    within = sum(low <= s <= high for s in shares)
    unbiased = sum(abs(r["mean"]) <= counts.BIAS for r in tight)
    largest = 100.0 * max((abs(r["mean"]) for r in tight), default=0.0)
    narrow = sum(r["rms"] <= counts.SCATTER * r["bound"] for r in tight)
    centred = sum(abs(r["median"]) <= counts.MEDIAN for r in loose)
    coverage = (
        f"In {within} of {len(shares)} cells (octave, decay time, range, direct sound; {heard[0]['n']}"
        f" readings each) the\n  interval holds the truth in {low:g} to {high:g} %; from {min(shares):.1f}"
        f" to {max(shares):.1f} %."
    )
    scatter = (
        f"Where theory allows an error below 10 %: bias at most 1 % in {unbiased} of {len(tight)} cells\n"
        f"  (largest {largest:.1f} %), rms error at most 1.15 times the bound in {narrow}, median"
        f" {counts.over_bound(tight):.2f} times."
    )
    withheld = (
        f"A second slope where there is none: {share(heard, 'two_slopes'):.2f} %. Decay time withheld:"
        f" {100.0 - share(heard, 'given'):.1f} %."
    )
    return [
        coverage,
        scatter,
        f"Elsewhere: median error at most 2.5 % in {centred} of {len(loose)} cells.",
        withheld,
        *(_iso(rows, name) for name in ("t20", "t30")),
    ]


def _iso(rows: Rows, name: str) -> str:
    parts = []
    for direct_db, _ in counts.groups(rows, "direct_db"):
        some = counts.iso_rows(rows, name, direct_db=direct_db)
        good = sum(counts.beyond_limit(r, name) <= 1.0 for r in some)
        bias = counts.pooled_mean(some, f"{name}_error")
        parts.append(f"  {counts.direct_name(direct_db)} {bias:+.1f} % ({good} of {len(some)} cells)")
    return (
        f"Bias of {name.upper()} of one clap against the expected decay, direct sound and all (in brackets:\n"
        "  cells within the limit):\n" + ",\n".join(parts) + "."
    )


def _spots(rows: Rows) -> str:
    lines = []
    for _, those in counts.groups(rows, "name"):
        mid = next(r for r in those if r["hz"] == 500.0)
        time_s = mid["times_s"][0]
        lines.append(
            [
                _ARRANGEMENTS[mid["arrangement"]],
                f"{time_s:g} s, {mid['range_db']:g} dB",
                f"{spot_coverage(those):.1f}",
                f"{room_coverage(those):.1f}",
                f"{np.mean([r['effective'] for r in those]):.1f}",
                f"{np.mean([r['spots'] for r in those]):.2f}",
                f"{mid['half_width'] * time_s:.3f} s",
            ]
        )
    head = [
        "",
        "decay time, range",
        "`spot_ci95_s` holds",
        "`ci95_s` holds",
        "effective claps",
        "spots found",
    ]
    return "**Six claps, all octaves [%]**\n\n" + _table([*head, "half of `ci95_s`, 500 Hz"], lines)


def _bends(rows: Rows) -> str:
    lines = [
        [
            _ARRANGEMENTS[arrangement],
            f"{range_db:g} dB",
            f"{spot_coverage(those):.1f}",
            f"{room_coverage(those):.1f}",
            f"{share(those, 'two_slopes'):.0f}",
            f"{share(those, 'reliable'):.1f}",
            f"{share(those, 'wrong_reliable'):.2f}",
        ]
        for arrangement, all_ranges in counts.groups(rows, "arrangement")
        for range_db, those in sorted(counts.groups(all_ranges, "range_db"))
    ]
    head = ["", "range", "`spot_ci95_s` holds", "`ci95_s` holds", "two slopes seen", "reliable"]
    title = "**Decays with two slopes, all octaves [%]**"
    return f"{title}\n\n" + _table([*head, "reliable, but wrong by more than 10 %"], lines)


def _neighbours(rows: Rows) -> str:
    lines = []
    for ratio, same_ratio in counts.groups(rows, "ratio"):
        for sharp, same_way in counts.groups(same_ratio, "sharp"):
            for side, those in counts.groups(same_way, "side"):
                shifts = [r["t30_shift"] for r in those if r["t30_shift"] is not None]
                lines.append(
                    [
                        f"{side}, {ratio:g} times as long",
                        "at the band edge" if sharp else "from midband to midband",
                        f"{100 * np.mean(shifts):+.1f}" if shifts else "-",
                        f"{share(those, 'reliable'):.0f}",
                        f"{share(those, 'two_slopes'):.0f}",
                    ]
                )
    head = ["the octave", "its decay passes over", "T30 moves by", "reliable", "two slopes"]
    return "**Beside an octave that rings longer, six spots, range 60 dB [%]**\n\n" + _table(head, lines)


def _thirds(rows: Rows) -> str:
    rows = [r | {"time_s": r["times_s"][0]} for r in rows]
    parts = {
        "100 to 250 Hz": (0.0, 300.0),
        "315 Hz to 1 kHz": (300.0, 1100.0),
        "1.25 to 5 kHz": (1100.0, 9e9),
        "all": (0.0, 9e9),
    }
    lines = []
    for arrangement, those in counts.groups(rows, "arrangement"):
        for time_s, same in counts.groups(those, "time_s"):
            inside = [[r for r in same if low <= r["hz"] < high] for low, high in parts.values()]
            hold = room_coverage if arrangement == "six files" else spot_coverage
            lines.append(
                [
                    f"{_ARRANGEMENTS[arrangement]}, T {time_s:g} s",
                    *(f"{hold(part):.1f}" for part in inside),
                    f"{share(same, 'given'):.0f}",
                    f"{share(same, 'reliable'):.0f}",
                ]
            )
    title = (
        "**Third-octaves, one straight decay: the interval holds the truth in so many percent**\n\n"
        "Of one clap `spot_ci95_s`, of six spots `ci95_s`; ranges 35 and 50 dB, direct sound -6 and +6 dB."
    )
    return f"{title}\n\n{_table(['', *parts, 'given', 'reliable'], lines)}"


_STUDIES = {
    "straight": _straight,
    "spots": _spots,
    "bends": _bends,
    "neighbours": _neighbours,
    "thirds": _thirds,
}
