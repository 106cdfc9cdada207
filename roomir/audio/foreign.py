"""Packed sound, decoded in a process of its own that can be stopped.

Phone films and packed sound pass through large decoders that meet damaged
files from anywhere. A decoder that crashes, hangs or wants all the memory
costs one file there, and nothing else; whatever it prints goes nowhere.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from types import TracebackType
from typing import Any, BinaryIO

from roomir.audio.layout import UNKNOWN, Layout
from roomir.audio.long_sound import MAX_BYTES_IN_MEMORY, RawSound
from roomir.audio.native import cut_short_remark
from roomir.audio.opened import (
    MAX_CHANNELS,
    MAX_DURATION_S,
    MAX_RATE_HZ,
    MIN_RATE_HZ,
    Opened,
    check_format,
    too_long,
)
from roomir.audio.recording import SoundInMemory
from roomir.audio.watched import TellPart
from roomir.errors import AudioError, NothingRecordedError, UnreadableAudioError
from roomir.remarks import Remark

MAX_RAW_BYTES = 8 << 30
"""Most disk space that unpacked sound may take: an hour of stereo at 192 kHz fits. [bytes]"""

MAX_MEMORY_BYTES = 1 << 30
"""Address space of a decoder; 0.14 GB is what an ordinary file needs. [bytes]"""

BASE_TIMEOUT_S = 30.0
"""Time a decoder has for the smallest file; a cold start on a slow disk takes a few seconds. [s]"""

TIMEOUT_S_PER_MB = 1.0
"""Time it has on top for each megabyte; the slowest codec tried needs 0.3 s. [s]"""

_LOOK_S = 0.25
"""How often it is looked how far a decoder is. [s]"""

# -P: the folder a builder stands in may hold a module of a decoder's name.
_COMMAND = [sys.executable, "-P", "-W", "ignore", str(Path(__file__).with_name("_decode.py"))]


class Decoding:
    """A decoder at work on one file.

    Parameters
    ----------
    file : binary file
        What to decode. The decoder moves its position; leave it alone meanwhile.
    layout : Layout
        What the file looks like from outside.
    name : str
        What to call it in a message.
    why_not_here : str
        What the decoder in this process had against it, if it was asked.
    """

    def __init__(self, file: BinaryIO, layout: Layout, *, name: str, why_not_here: str = "") -> None:
        self._name = name
        self._file = file
        self._layout = layout
        self._why_not_here = why_not_here
        self._timeout_s = BASE_TIMEOUT_S + TIMEOUT_S_PER_MB * layout.n_bytes / 1e6
        request = {
            "decoders": layout.kind.decoders,
            "demuxers": layout.kind.demuxers,
            "min_rate_hz": MIN_RATE_HZ,
            "max_rate_hz": MAX_RATE_HZ,
            "max_channels": MAX_CHANNELS,
            "max_duration_s": MAX_DURATION_S,
            "max_raw_bytes": MAX_RAW_BYTES,
            "max_memory_bytes": MAX_MEMORY_BYTES,
            "max_cpu_s": int(self._timeout_s) + 1,
        }
        self._raw: BinaryIO | None = tempfile.TemporaryFile()  # noqa: SIM115 - handed on to the sound
        try:
            file.seek(0)
            os.lseek(file.fileno(), 0, os.SEEK_SET)
            self._process = subprocess.Popen(  # noqa: S603 - our own script under our own interpreter
                [*_COMMAND, json.dumps(request)],
                stdin=file,
                stdout=self._raw,
                stderr=subprocess.PIPE,
                env={**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"},
            )
        except OSError as error:
            self._raw.close()
            raise self._failure({"why": "cannot-start", "detail": error.strerror or str(error)}) from error

    def __enter__(self) -> Decoding:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._process.poll() is None:
            self._process.kill()
        self._process.wait()
        if self._process.stderr is not None:
            self._process.stderr.close()
        if self._raw is not None:
            self._raw.close()

    def result(self, *, tell: TellPart | None = None) -> Opened:
        """Wait for the decoder and return what it found.

        Parameters
        ----------
        tell : callable, optional
            Told how far into the file the decoder is, from 0 to 1.

        Raises
        ------
        UnreadableAudioError or NothingRecordedError
            With the reason; ``decoder-hangs`` and ``decoder-crashed`` among them.
        """
        report = self._report(tell)
        if not report.get("ok"):
            raise self._failure(report)
        rate, channels, n_frames = (int(report[key]) for key in ("sample_rate_hz", "n_channels", "n_frames"))
        check_format(name=self._name, sample_rate_hz=rate, n_channels=channels, n_frames=n_frames)
        assert self._raw is not None
        raw = RawSound(self._raw, sample_rate_hz=rate, n_channels=channels, n_frames=n_frames)
        self._raw = None
        short = n_frames * channels * 4 <= MAX_BYTES_IN_MEMORY
        kind = self._layout.kind
        return Opened(
            sound=SoundInMemory(samples=raw.stretch(start=0, stop=n_frames), sample_rate_hz=rate)
            if short
            else raw,
            container=kind.label if report["decoder"] == "av" and kind.label else report["container"],
            codec=report["codec"],
            dates=(*report["dates"], *self._layout.dates),
            notes=_notes(report, self._layout),
        )

    def _report(self, tell: TellPart | None) -> dict[str, Any]:
        give_up_at = time.monotonic() + self._timeout_s
        while True:
            left_s = max(0.0, give_up_at - time.monotonic())
            try:
                _, said = self._process.communicate(timeout=left_s if tell is None else min(left_s, _LOOK_S))
                break
            except subprocess.TimeoutExpired:
                if left_s == 0.0:
                    return {"why": "decoder-hangs", "detail": f"{self._timeout_s:.0f} s"}
            if tell is not None:
                # The decoder reads through the same open file: where that stands is how far it is.
                position = os.lseek(self._file.fileno(), 0, os.SEEK_CUR)
                tell(min(1.0, position / max(1, self._layout.n_bytes)))
        try:
            report = json.loads(said)
        except ValueError:
            report = None
        if not isinstance(report, dict) or self._process.returncode != 0:
            return {"why": "decoder-crashed", "detail": f"exit status {self._process.returncode}"}
        return report

    def _failure(self, report: dict[str, Any]) -> AudioError:
        why, detail = report.get("why", "damaged"), str(report.get("detail", ""))
        if why == "impossible-format":
            try:
                check_format(
                    name=self._name,
                    sample_rate_hz=int(report["sample_rate_hz"]),
                    n_channels=int(report["n_channels"]),
                )
            except UnreadableAudioError as error:
                return error
        if why == "too-long":
            return too_long(name=self._name, duration_s=report.get("duration_s"))
        if self._why_not_here and why in ("no-samples", "unknown-codec"):
            # The decoder in this process knows such files well: its word goes before a guess.
            why, detail = "damaged", self._why_not_here
        if why in ("damaged", "no-samples") or (self._layout.index_missing and why in _FOR_WANT_OF_AN_INDEX):
            return self._damaged(why, detail or self._why_not_here)
        says, remedy = _SENTENCES.get(why, _SENTENCES["decoder-crashed"])
        return UnreadableAudioError(
            f"{self._name}: {says.format(detail=detail)}",
            code=why if why in _SENTENCES else "damaged",
            remedy=remedy,
        )

    def _damaged(self, why: str, detail: str) -> AudioError:
        kind = self._layout.kind
        if kind is UNKNOWN:
            return UnreadableAudioError(
                f"{self._name}: this is not a sound file, whatever its name says",
                code="not-sound",
                remedy="pick the recording itself, for example a WAV, M4A, MOV, MP4, FLAC, MP3 or OGG file",
            )
        if self._layout.index_missing:
            return UnreadableAudioError(
                f"{self._name}: the recording was never finished, its index is missing",
                code="unfinished",
                remedy="copy it from the phone again; if it is cut short there as well, record again",
            )
        if why == "no-samples":
            return NothingRecordedError(
                f"{self._name}: the file has a header but no sound behind it",
                code="no-samples",
                remedy="record again, and stop the recorder before taking the file off it",
            )
        because = f" ({detail.strip().rstrip('.')})" if detail else ""
        return UnreadableAudioError(
            f"{self._name}: it begins like a {kind.label} file, but the sound in it can't be read{because}",
            code="damaged",
            remedy="copy it from the recorder again; if it plays there, export it as WAV",
        )


_FOR_WANT_OF_AN_INDEX = ("no-audio-track", "unknown-codec")

_SENTENCES = {
    "no-audio-track": (
        "there is no sound in this film",
        "record it again with the microphone on, or use the audio recorder",
    ),
    "unknown-codec": (
        "its sound is packed in a way that can't be read here ({detail})",
        "export it as WAV or FLAC on the device that recorded it",
    ),
    "decoder-hangs": (
        "the decoder was stopped, it had not finished after {detail}",
        "the file is probably damaged: copy it from the recorder again, or export it as WAV",
    ),
    "decoder-crashed": (
        "the decoder broke down on this file ({detail})",
        "the file is probably damaged: copy it from the recorder again, or export it as WAV",
    ),
    "no-memory": (
        "the decoder wanted more memory than a recording needs",
        "the file is probably damaged: copy it from the recorder again, or export it as WAV",
    ),
    "disk-full": (
        "there is no room on the disk to unpack it",
        "free some space, or point TMPDIR to a folder on a disk that has some",
    ),
    "cannot-start": (
        "the decoder can't be started ({detail})",
        "install roomir again, or save the sound as WAV",
    ),
}


def _notes(report: dict[str, Any], layout: Layout) -> tuple[Remark, ...]:
    notes = []
    duration_s = report["n_frames"] / report["sample_rate_hz"]
    if report["n_tracks"] > 1:
        notes.append(
            Remark(
                code="more-tracks",
                says=f"the file holds {report['n_tracks']} sound tracks; number {report['track']} was read",
                remedy="if another one is meant, export it as a file of its own",
            )
        )
    if report["n_damaged"] or report["filled_s"]:
        notes.append(
            Remark(
                code="damaged-parts",
                says=f"parts of the sound are damaged or missing: {report['n_damaged']} pieces could not be "
                f"unpacked, and {report['filled_s']:.2f} s in all are silent instead",
                remedy="copy the file from the recorder again; claps near the damage are not to be trusted",
            )
        )
    announced_s = report["announced_s"]
    if layout.never_closed:
        notes.append(
            Remark(
                code="never-closed",
                says="the recorder never wrote how long the sound is; all that follows the header was read",
                remedy="stop the recorder before taking the file off it",
            )
        )
    elif announced_s is not None and duration_s < announced_s - max(0.1, 0.005 * announced_s):
        notes.append(cut_short_remark(duration_s=duration_s, announced_s=announced_s))
    elif layout.part_present < 1.0:
        notes.append(cut_short_remark(duration_s=duration_s, announced_s=duration_s / layout.part_present))
    if report["changed"]:
        notes.append(
            Remark(
                code="format-changes",
                says=f"the sound changes its format after {duration_s:.1f} s; what comes before was read",
                remedy="export the rest as a file of its own",
            )
        )
    return tuple(notes)
