"""``python -m tests.logbook.make_version``: writes the logbook of this version that tests keep opening.

Run it once when the version of the tables goes up, and commit what it writes; nothing is written over.
"""

from __future__ import annotations

import os
import tempfile
from datetime import date
from pathlib import Path

from roomir.logbook import schema
from roomir.logbook.values import About, File, RoomNotes, Size
from tests.logbook.books import open_book, sound

DESCRIPTION = '[room]\nname = "Booth"\nvolume_m3 = 12\n'
"""Kept since version 2; whether it describes a room is nobody's business there."""

FOLDER = Path(__file__).parent / "versions"


def fill(path: Path, files: Path) -> None:
    """Make a logbook in which every column of every table holds something."""

    def made(name: str, content: str | None = None) -> Path:
        file = sound(files, name, content)
        os.utime(file, (1_700_000_000, 1_700_000_000))
        return file

    about = About(
        spot="corner A",
        source_position="by the door",
        microphone_position="1.0, 2.0, 1.2",
        made_with="hands",
        temperature_c=18.5,
        humidity_percent=45.0,
        note="rain on the roof",
    )
    with open_book(path) as book:
        book.log(
            [File(path=made("one.wav"), about=about), made("bad.wav", "bad")],
            room="Dairy",
            stage="bare",
            size=Size(dimensions_m=(9.0, 6.0, 3.2)),
            day=date(2024, 5, 3),
            done="emptied",
            channel=1,
        )
        book.log([made("two.wav")], room="Dairy", stage="panels")
        book.log([made("three.wav")], room="Booth", stage="bare", size=Size(volume_m3=12.0))
        book.annotate_room(book.room("Booth"), RoomNotes(note="in the attic", description=DESCRIPTION))
        book.remove([book.find_take("two.wav")])


def main() -> None:
    """Write it, unless it is there."""
    target = FOLDER / f"version-{schema.SCHEMA_VERSION}"
    if target.exists():
        raise SystemExit(f"{target} is there already, and has to stay as it is")
    FOLDER.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        fill(target, Path(folder))
    for journal in target.glob("*-journal"):
        journal.unlink()


if __name__ == "__main__":
    main()
