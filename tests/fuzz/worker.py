"""One process that reads one hostile file after another and says how each went.

Numbers of cases come in on standard input, one a line; one line of JSON goes out for each. Whatever roomir or
a decoder prints by itself is caught and counted as trouble.

Starting a decoder takes longer than decoding a short file. The decoder's own code therefore runs in a fork of
this process, with its libraries loaded, under the same limits; every so often the real thing is started.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import resource
import select
import signal
import subprocess
import sys
import tempfile
import time
import traceback
import warnings
from pathlib import Path
from types import SimpleNamespace
from typing import Any, BinaryIO

import av  # noqa: F401 - loaded once, for every fork
import soundfile  # noqa: F401 - the same

from roomir import api
from roomir.audio import _decode, foreign
from roomir.reading.reading import Reading
from roomir.report.document import to_json
from roomir.report.table import to_csv
from roomir.report.text import render
from roomir.report.view import view
from tests.contract import check_document
from tests.fuzz.hostile import Hostility

MEMORY_BYTES = 1 << 30
"""What this process may take on top of what it has after starting. [bytes]"""

MOST_CPU_S = 10.0
"""Work that one file may cost, decoder included. [s]"""

LONGEST_S = 100.0
"""No file here holds a decay that could be taken for a longer one. [s]"""

REAL_DECODER_EVERY = 50
"""So often a decoder is started from nothing, as in use."""

_OWN_START = subprocess.Popen


class ForkedDecoder:
    """Stands in for the process that the decoder is started in; knows what ``Decoding`` asks of it."""

    peak_mb = 0.0

    def __init__(self, command: list[str], *, stdin: BinaryIO, stdout: BinaryIO, **_: Any) -> None:
        reader, writer = os.pipe()
        self.returncode: int | None = None
        self.pid = os.fork()
        if self.pid == 0:
            _be_decoder(command[-1], stdin=stdin.fileno(), stdout=stdout.fileno(), stderr=writer)
        os.close(writer)
        self.stderr = os.fdopen(reader, "rb")

    def communicate(self, timeout: float) -> tuple[None, bytes]:
        give_up_at, said = time.monotonic() + timeout, b""
        while select.select([self.stderr], [], [], max(0.0, give_up_at - time.monotonic()))[0]:
            piece = os.read(self.stderr.fileno(), 65536)
            if not piece:
                self.wait()
                return None, said
            said += piece
        raise subprocess.TimeoutExpired("decoder", timeout)

    def poll(self) -> int | None:
        return self.returncode

    def kill(self) -> None:
        os.kill(self.pid, signal.SIGKILL)

    def wait(self) -> int:
        if self.returncode is None:
            _, status, used = os.wait4(self.pid, 0)
            self.returncode = os.waitstatus_to_exitcode(status)
            ForkedDecoder.peak_mb = max(ForkedDecoder.peak_mb, used.ru_maxrss / 1024)
        return self.returncode


def _be_decoder(request: str, *, stdin: int, stdout: int, stderr: int) -> None:
    try:
        for target, source in enumerate((stdin, stdout, stderr)):
            os.dup2(source, target)
        sys.argv[1:] = [request]
        _decode.main()
    finally:
        os._exit(99)


class Reader:
    """Reads cases, with a folder and a limit of its own."""

    def __init__(self, *, seed: int, folder: Path) -> None:
        self._hostility = Hostility(seed=seed)
        self._path = folder / "take.wav"
        self._chatter = tempfile.TemporaryFile()  # noqa: SIM115 - as long as the process
        for stream in (1, 2):
            os.dup2(self._chatter.fileno(), stream)
        api.read(self._path)  # whatever is loaded late is loaded now
        in_use = _status_kb("VmSize") << 10
        resource.setrlimit(resource.RLIMIT_AS, (in_use + MEMORY_BYTES,) * 2)
        # A fork begins with all that this process has.
        foreign.MAX_MEMORY_BYTES += in_use

    def read(self, number: int) -> dict[str, Any]:
        """Read one case and judge what came out."""
        case = self._hostility.case(number)
        self._path.write_bytes(case.data)
        real = number % REAL_DECODER_EVERY == 0
        popen = _OWN_START if real else ForkedDecoder
        foreign.subprocess = SimpleNamespace(  # type: ignore[attr-defined]
            Popen=popen, PIPE=subprocess.PIPE, TimeoutExpired=subprocess.TimeoutExpired
        )
        ForkedDecoder.peak_mb = 0.0
        _forget_peak()
        n_open, began, worked_s = _n_open(), time.monotonic(), _worked_s()
        trouble, outcome = "", ""
        try:
            reading = api.read(self._path)
            seconds = time.monotonic() - began
            outcome, trouble = judge(reading, path=str(self._path))
        except Exception:
            seconds = time.monotonic() - began
            trouble = traceback.format_exc()
        if self._chatter.seek(0, os.SEEK_END):
            self._chatter.seek(0)
            trouble = trouble or f"something was printed: {self._chatter.read(500)!r}"
            self._chatter.seek(0)
            self._chatter.truncate()
        cpu_s = _worked_s() - worked_s
        if cpu_s > MOST_CPU_S or outcome == "decoder-hangs":
            trouble = trouble or f"{cpu_s:.1f} s of work, {seconds:.1f} s on the clock"
        if _n_open() != n_open:
            trouble = trouble or "a file was left open"
        return {
            "number": number,
            "kind": case.kind,
            "outcome": outcome or "trouble",
            "trouble": trouble,
            "seconds": seconds,
            "cpu_s": cpu_s,
            "peak_mb": _status_kb("VmHWM") / 1024,
            "decoder_peak_mb": ForkedDecoder.peak_mb,
        }


def judge(reading: Reading, *, path: str) -> tuple[str, str]:
    """What came out of one file in a word, and what is wrong with that."""
    text = render(view(reading), full=True, colour=False) + to_csv(reading)
    check_document(json.loads(to_json(reading)))
    if re.search(r"\b(nan|inf)\b", text):
        return "", "a number that is none is shown"
    if not reading.takes and not reading.failures:
        return "", "neither a take nor a failure"
    for failure in reading.failures:
        if not failure.says.startswith(f"{path}: ") or failure.says.count(path) != 1:
            return "", f"a line that does not name the file once: {failure.says}"
        if "\n" in failure.says + failure.remedy or not failure.remedy:
            return "", f"not one line with a remedy: {failure.says!r} {failure.remedy!r}"
        if not re.fullmatch(r"[a-z]+(-[a-z]+)*", failure.code):
            return "", f"not a code: {failure.code}"
        return failure.code, ""
    timed = [band.figures.decay_time_s for band in reading.bands if band.figures.decay_time_s is not None]
    if any(not 0.0 < time_s < LONGEST_S for time_s in timed):
        return "", f"decay times that no room has: {timed}"
    return "a decay time" if timed else "claps, but no decay time", ""


def _worked_s() -> float:
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(one.ru_utime + one.ru_stime for one in used)


def _n_open() -> int:
    return len(os.listdir("/proc/self/fd"))  # noqa: PTH208 - names only


def _status_kb(name: str) -> int:
    for line in Path("/proc/self/status").read_text().splitlines():
        if line.startswith(f"{name}:"):
            return int(line.split()[1])
    return 0


def _forget_peak() -> None:
    with contextlib.suppress(OSError):
        Path("/proc/self/clear_refs").write_text("5")  # the peak of resident memory begins anew (man 5 proc)


def main() -> None:
    """Read cases until there are no more numbers."""
    warnings.simplefilter("error")  # a warning on somebody's screen is trouble too
    out = os.fdopen(os.dup(1), "w", encoding="utf-8")
    with tempfile.TemporaryDirectory(prefix="fuzz-") as folder:
        reader = Reader(seed=int(sys.argv[1]), folder=Path(folder))
        print("ready", file=out, flush=True)
        for line in sys.stdin:
            print(json.dumps(reader.read(int(line))), file=out, flush=True)


if __name__ == "__main__":
    main()
