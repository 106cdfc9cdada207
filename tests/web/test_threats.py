"""The list of threats in DEVELOPERS.md and the tests that hold it."""

from __future__ import annotations

import re
from pathlib import Path


def test_every_entry_of_the_list_of_threats_names_tests_that_there_are(checkout: Path):
    section = (checkout / "DEVELOPERS.md").read_text("utf-8").split("## The web page: who might do what")[1]
    rows = [line for line in section.split("\n## ")[0].splitlines() if line.startswith("|")][2:]
    there = {
        name
        for file in (checkout / "tests" / "web").glob("test_*.py")
        for name in re.findall(r"^def (test_\w+)", file.read_text("utf-8"), re.MULTILINE)
    }

    assert len(rows) > 15
    for row in rows:
        named = re.findall(r"`(test_\w+)`", row.split("|")[3])
        assert named, row
        assert set(named) <= there, row
