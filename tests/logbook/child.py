"""``python -m tests.logbook.child``: a process that logs tiny takes and says what is confirmed."""

from __future__ import annotations

import argparse
import os
import signal
import subprocess
import sys
from pathlib import Path

from tests.logbook.books import open_book, sound

ROOT = Path(__file__).resolve().parent.parent.parent


def main() -> None:
    """Log takes; with ``--purge`` erase every third one again."""
    parser = argparse.ArgumentParser()
    parser.add_argument("book", type=Path)
    parser.add_argument("--name", default="take", help="how the takes' names begin")
    parser.add_argument("--count", type=int, default=10**6)
    parser.add_argument("--kib", type=int, default=4, help="size of a take")
    parser.add_argument("--stop-at", default="", help="step at which the process kills itself")
    parser.add_argument("--purge", action="store_true")
    options = parser.parse_args()

    def at(step: str) -> None:
        if step == options.stop_at:
            os.kill(os.getpid(), signal.SIGKILL)

    folder = options.book.parent / f"to log {options.name}"
    with open_book(options.book, at=at) as book:
        for i in range(options.count):
            name = f"{options.name}-{i}.wav"
            file = sound(folder, name, f"{name} ".encode().ljust(1024 * options.kib, b"."))
            (logged,) = book.log([file], room="Room", stage="Stage").takes
            assert logged.take is not None, logged
            say("kept", logged.take.sha256)
            if options.purge and i % 3 == 2:
                say("purging", logged.take.sha256)
                book.remove([logged.take])
                book.purge()
                say("purged", logged.take.sha256)


def say(what: str, sha256: str) -> None:
    """Tell whoever listens, at once and in one piece."""
    os.write(sys.stdout.fileno(), f"{what} {sha256}\n".encode())


def start(book: Path, *options: str, **popen: object) -> subprocess.Popen[bytes]:
    """Start such a process."""
    command = [sys.executable, "-m", "tests.logbook.child", str(book), *options]
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    # Unbuffered, so that what was read in part is not lost to `communicate`.
    return subprocess.Popen(  # type: ignore[call-overload, no-any-return]
        command, bufsize=0, stdout=subprocess.PIPE, cwd=ROOT, env=env, **{"stderr": subprocess.PIPE, **popen}
    )


def said(out: bytes) -> list[tuple[str, str]]:
    """What such a process has said, without a line it was cut off in."""
    return [tuple(line.decode().split()) for line in out.splitlines(keepends=True) if line.endswith(b"\n")]  # type: ignore[misc]


if __name__ == "__main__":
    main()
