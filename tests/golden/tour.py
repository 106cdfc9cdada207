"""README's tour: a command and what it prints, for real."""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
from pathlib import Path

_TOUR = re.compile(r"(<!-- tour: roomir (?P<command>.*?) -->\n```text\n).*?(```\n<!-- end -->)", re.DOTALL)


def with_tour(readme: str, *, checkout: Path) -> str:
    """Fill what the command prints into the text that follows its mark."""

    def fill(match: re.Match[str]) -> str:
        arguments = [
            str(file.relative_to(checkout)) if "*" in word else word
            for word in shlex.split(match["command"])
            for file in (sorted(checkout.glob(word)) if "*" in word else [checkout])
        ]
        done = subprocess.run(
            [sys.executable, "-m", "roomir", *arguments],
            capture_output=True,
            text=True,
            check=True,
            cwd=checkout,
        )
        return f"{match[1]}$ roomir {match['command']}\n\n{done.stdout}{match[3]}"

    return _TOUR.sub(fill, readme)
