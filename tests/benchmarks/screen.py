"""The counts on the screen, worst cells first."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from tests.benchmarks import counts
from tests.benchmarks.counts import Counts, Rows, pooled_bias, room_coverage, share, spot_coverage
from tests.benchmarks.store import Results

_N_WORST = 12


def as_text(results: Results) -> str:
    """Everything."""
    parts = [f"seed {results.seed}, commit {results.commit}"]
    for study, text in _STUDIES.items():
        cells = results.of(study)
        if cells:
            takes = sum(cell["n"] for cell in cells)
            parts.append(f"== {study}: {len(cells)} cells, {takes} takes ==\n" + text(counts.flat(cells)))
    return "\n\n".join(parts)


def _where(row: Counts) -> str:
    return f"{row['hz']:g} Hz, {row['name']}"


def _worst(
    title: str, bad: Rows, *, of: Rows, key: Callable[[Counts], float], says: Callable[[Counts], str]
) -> str:
    """List the worst of the cells that fail, ``key`` largest first."""
    lines = [f"{title}: {len(bad)} of {len(of)} cells"]
    lines += [f"  {says(r)}: {_where(r)}" for r in sorted(bad, key=key, reverse=True)[:_N_WORST]]
    return "\n".join(lines)


def _grid(
    title: str, rows: Rows, *, by: str, label: Callable[[Any], str], figure: Callable[[Rows], str]
) -> str:
    octaves = sorted({r["hz"] for r in rows})

    def line(name: str, those: Rows) -> str:
        cells = [figure([r for r in those if r["hz"] == hz]) for hz in octaves]
        return f"{name:>16}" + "".join(f"{cell:>9}" for cell in [*cells, figure(those)])

    head = " " * 16 + "".join(f"{hz:>9g}" for hz in octaves) + f"{'all':>9}"
    lines = [line(label(value), those) for value, those in counts.groups(rows, by)]
    return "\n".join([title, head, *lines, line("all", rows)])


def _straight(rows: Rows) -> str:
    rows = [r | {"time_s": r["times_s"][0]} for r in rows]
    heard = counts.with_direct(rows)
    pooled = (
        f"with direct sound: spot_ci95_s holds in {spot_coverage(heard):.1f} %,"
        f" ci95_s in {room_coverage(heard):.1f} %; given in {share(heard, 'given'):.1f} %,"
        f" two slopes in {share(heard, 'two_slopes'):.2f} %"
    )
    out = [pooled]
    out += _worst_straight(heard)
    out += [_iso(rows, name) for name in ("t20", "t30")]
    for by, label in counts.SETTINGS:
        those = rows if by == "direct_db" else heard
        out.append(_grid("spot_ci95_s holds [%]", those, by=by, label=label, figure=_coverage))
        out.append(_grid("bias of decay_time_s [%]", those, by=by, label=label, figure=_bias))
    by, label = counts.SETTINGS[1]
    out.append(_grid("reliable/indicative [%]", heard, by=by, label=label, figure=_verdicts))
    out.append(
        _grid(
            "rms error/bound, median of the tight", counts.tight(heard), by=by, label=label, figure=_scatter
        )
    )
    return "\n".join(out)


def _coverage(rows: Rows) -> str:
    return f"{spot_coverage(rows):.1f}"


def _bias(rows: Rows) -> str:
    return f"{pooled_bias(rows):+.2f}"


def _verdicts(rows: Rows) -> str:
    return f"{share(rows, 'reliable'):.0f}/{share(rows, 'indicative'):.0f}"


def _scatter(rows: Rows) -> str:
    return f"{counts.over_bound(rows):.2f}"


def _worst_straight(heard: Rows) -> list[str]:
    counted, tight, loose = counts.counted(heard), counts.tight(heard), counts.loose(heard)
    low, high = counts.COVERAGE
    return [
        _worst(
            f"spot_ci95_s holds in less than {low:g} or more than {high:g} %",
            [r for r in counted if not low <= spot_coverage([r]) <= high],
            of=counted,
            key=lambda r: abs(spot_coverage([r]) - 95.0),
            says=lambda r: f"{spot_coverage([r]):.1f} % of {r['given']}, {_error(r)}",
        ),
        _worst(
            "bound < 10 %, |bias| > 1 %",
            [r for r in tight if abs(r["mean"]) > counts.BIAS],
            of=tight,
            key=lambda r: abs(r["mean"]),
            says=lambda r: f"{_error(r)}, standard error {100 * r['rms'] / r['given'] ** 0.5:.1f} %",
        ),
        _worst(
            "bound < 10 %, rms error > 1.15 bound",
            [r for r in tight if r["rms"] > counts.SCATTER * r["bound"]],
            of=tight,
            key=lambda r: r["rms"] / r["bound"],
            says=lambda r: f"{r['rms'] / r['bound']:.2f}, {_error(r)}",
        ),
        _worst(
            "bound >= 10 %, |median error| > 2.5 %",
            [r for r in loose if abs(r["median"]) > counts.MEDIAN],
            of=loose,
            key=lambda r: abs(r["median"]),
            says=lambda r: f"{100 * r['median']:+.1f} %, given {r['given']}/{r['n']}, {_error(r)}",
        ),
        _worst(
            "second slopes that are not there",
            [r for r in heard if r["two_slopes"]],
            of=heard,
            key=lambda r: share([r], "two_slopes"),
            says=lambda r: f"{share([r], 'two_slopes'):.1f} %",
        ),
    ]


def _error(row: Counts) -> str:
    return f"bias {100 * row['mean']:+.1f} %, bound {100 * row['bound']:.1f} %"


def _iso(rows: Rows, name: str) -> str:
    """T20 or T30 by direct sound, and the cells beyond the limit."""
    error, off = f"{name}_error", f"{name}_off"
    out = []
    for direct_db, _ in counts.groups(rows, "direct_db"):
        some = counts.iso_rows(rows, name, direct_db=direct_db)
        whole, alone = counts.pooled_mean(some, error), counts.pooled_mean(some, off)
        title = (
            f"{name.upper()}, {counts.direct_name(direct_db)}: bias {whole:+.2f} % of the expected decay,"
            f" {alone:+.2f} % of the reverberation alone; beyond the limit"
        )
        bad = [r for r in some if counts.beyond_limit(r, name) > 1.0]
        out.append(
            _worst(
                title,
                bad,
                of=some,
                key=lambda r: counts.beyond_limit(r, name),
                says=lambda r: (
                    f"{100 * r[error]['mean']:+.1f} +- {100 * r[error]['sd'] / r[error]['n'] ** 0.5:.1f} %"
                    f" (limit {100 * counts.iso_limit(r, name):.1f}, given {r[error]['n']}/{r['n']})"
                ),
            )
        )
    return "\n".join(out)


def _spots(rows: Rows) -> str:
    names = ("spot ci", "room ci", "claps", "spots", "scatter", "+- s", "bias", "rms/bound")
    lines = [" " * 31 + "".join(f"{name:>10}" for name in names)]
    for r in (r for r in rows if r["given"]):
        time_s = r["times_s"][0]
        figures = (
            f"{spot_coverage([r]):.1f}",
            f"{room_coverage([r]):.1f}",
            f"{r['effective']:.2f}",
            f"{r['spots']:.2f}",
            f"{share([r], 'scatter'):.0f}",
            f"{r['half_width'] * time_s:.3f}",
            f"{100 * r['mean']:+.2f}",
            f"{r['rms'] / r['bound']:.2f}",
        )
        where = f"{r['arrangement']}, {time_s:g} s, {r['range_db']:g} dB, {r['hz']:g}"
        lines.append(f"{where:>31}" + "".join(f"{figure:>10}" for figure in figures))
    for arrangement, those in counts.groups(rows, "arrangement"):
        lines.append(
            f"{arrangement}: spot_ci95_s holds in {spot_coverage(those):.1f} %,"
            f" ci95_s in {room_coverage(those):.1f} %"
        )
    return "\n".join(lines)


def _bends(rows: Rows) -> str:
    out = []
    for arrangement, all_ranges in counts.groups(rows, "arrangement"):
        for range_db, those in sorted(counts.groups(all_ranges, "range_db")):
            title = (
                f"{arrangement}, range {range_db:g} dB: spot_ci95_s holds in {spot_coverage(those):.1f} %,"
                f" ci95_s in {room_coverage(those):.1f} %; two slopes {share(those, 'two_slopes'):.0f} %;"
                f" reliable {share(those, 'reliable'):.1f} %, reliable but wrong by > 10 %"
                f" {share(those, 'wrong_reliable'):.2f} %; worst"
            )
            much = range_db >= 50.0
            given = [r for r in those if r["given"]]
            out.append(
                _worst(
                    title,
                    [r for r in given if (spot_coverage([r]) < 90.0 if much else r["wrong_reliable"])],
                    of=given,
                    key=lambda r: 100.0 * share([r], "wrong_reliable") - spot_coverage([r]),
                    says=lambda r: (
                        f"{spot_coverage([r]):.0f} % hold, bias {100 * r['mean']:+.1f} %,"
                        f" two slopes {share([r], 'two_slopes'):.0f} %,"
                        f" reliable but wrong {share([r], 'wrong_reliable'):.0f} %"
                    ),
                )
            )
    return "\n".join(out)


def _neighbours(rows: Rows) -> str:
    def percent(value: float | None) -> str:
        return "-" if value is None else f"{100 * value:+.2f} %"

    rows = sorted(rows, key=lambda r: (r["ratio"], -abs(r["t30_shift"] or 0.0)))
    return "\n".join(
        f"T30 {percent(r['t30_shift'])}, T20 {percent(r['t20_shift'])}, decay time {percent(r['shift'])};"
        f" reliable {r['reliable']}/{r['n']} (else {r['reliable_without']}), two slopes {r['two_slopes']}:"
        f" neighbour {r['side']} {_where(r)}"
        for r in rows
    )


def _thirds(rows: Rows) -> str:
    out = []
    for arrangement, all_times in counts.groups(rows, "arrangement"):
        for hz in sorted({r["hz"] for r in all_times}):
            those = [r for r in all_times if r["hz"] == hz]
            out.append(
                f"{arrangement}, {hz:g} Hz: spot_ci95_s holds in {spot_coverage(those):.1f} %,"
                f" ci95_s in {room_coverage(those):.1f} %; given {share(those, 'given'):.0f} %"
            )
    return "\n".join(out)


_STUDIES = {
    "straight": _straight,
    "spots": _spots,
    "bends": _bends,
    "neighbours": _neighbours,
    "thirds": _thirds,
}
