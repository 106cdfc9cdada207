"""The exam of faults as README shows it."""

from __future__ import annotations

from pathlib import Path

from tests.benchmarks.fault_score import Score, share

BEGIN, END = "<!-- faults:begin -->", "<!-- faults:end -->"


def as_markdown(scores: dict[str, Score], *, judged: dict[str, bool], head: str, accused: str) -> str:
    """Lay out the counts for README."""
    lines = [
        head,
        "",
        f"Clean takes with a concern, though there is nothing wrong with them: {accused}.",
        "",
        "| fault | takes | octaves moved | of them caught, % (95 % interval) | what it was called |",
        "| --- | --- | --- | --- | --- |",
    ]
    for mark in (True, False):
        rows = [(kind, score) for kind, score in scores.items() if judged[kind] is mark]
        lines += [_line(kind, score) for kind, score in rows]
        if mark:
            moved, caught = (sum(getattr(s, name) for _, s in rows) for name in ("moved", "caught"))
            takes = sum(score.takes for _, score in rows)
            lines.append(f"| **all of these** | {takes} | {moved} | **{share(caught, moved)}** | |")
            lines.append("| *cannot be told in principle, counted only:* | | | | |")
    return "\n".join(lines)


def write_into(readme: Path, text: str) -> None:
    """Replace what stands between the marks."""
    before, rest = readme.read_text().split(BEGIN)
    _, after = rest.split(END)
    readme.write_text(f"{before}{BEGIN}\n{text}\n{END}{after}")


def _line(kind: str, score: Score) -> str:
    called = ", ".join(f"`{code}` {n}" for code, n in score.codes.most_common(3))
    cells = (kind.replace("-", " "), score.takes, score.moved, share(score.caught, score.moved), called)
    return "| " + " | ".join(str(cell) for cell in cells) + " |"
