"""Unpack one sound file; run as a script in a process of its own.

Standard input is the file, standard output receives interleaved float32,
standard error a report of one line of JSON. The request is a JSON argument.

Nothing of roomir and no numpy is imported: starting is most of the time that
a short take costs. Whatever the libraries below print goes nowhere.
"""

from __future__ import annotations

import contextlib
import errno
import json
import os
import sys
from typing import Any, BinaryIO

BLOCK_FRAMES = 1 << 16

LONGEST_FILLED_GAP_S = 10.0
"""A jump in the time stamps beyond this is nonsense, not missing sound. [s]"""

SHORTEST_GAP_S = 0.05
"""Time stamps of phones jitter by some milliseconds; two lost packets are more than this. [s]"""

MOST_PADDING_FRAMES = 4096
"""What an encoder appends to fill its last packets, at most."""

MOST_TRACKS_TRIED = 8
"""No recorder writes more tracks of sound that can't be read before one that can."""

DEMUXERS_THAT_GUESS = frozenset({"aac", "loas", "amr"})
"""Files of bare packets announce no length; what these give as one is worked out from a first bit rate."""

# Decoders of sound only: the pictures of a film are nobody's business here. Most codecs have
# several decoders; the container's demuxer picks.
AUDIO_DECODERS = (
    "aac aac_fixed aac_latm ac3 ac3_fixed adpcm_ima_qt adpcm_ima_wav adpcm_ms alac amrnb amrwb eac3 flac "
    "gsm gsm_ms libopencore_amrnb libopencore_amrwb libopus mp1 mp1float mp2 mp2float mp3 mp3float opus "
    "pcm_alaw pcm_f32be pcm_f32le pcm_f64be pcm_f64le pcm_lpcm pcm_mulaw pcm_s16be pcm_s16le pcm_s24be "
    "pcm_s24le pcm_s32be pcm_s32le pcm_s8 pcm_u8 qdm2 vorbis wavpack wmalossless wmapro wmav1 wmav2"
).replace(" ", ",")

SOUNDFILE_CONTAINERS = frozenset(
    {"WAV", "WAVEX", "RF64", "W64", "AIFF", "CAF", "AU", "FLAC", "OGG", "MP3", "NIST", "VOC", "IRCAM", "PAF"}
)


class CannotDecodeError(Exception):
    """The decoder gets nothing out of the file."""

    def __init__(self, why: str, **details: Any) -> None:  # noqa: ANN401 - straight into the report
        super().__init__(why)
        self.report = {"why": why, **details}


class Output:
    """Where the samples go, with a count and a limit."""

    def __init__(self, descriptor: int, *, max_bytes: int) -> None:
        self._descriptor = descriptor
        self._max_bytes = max_bytes
        self.n_bytes = 0

    def write(self, data: memoryview) -> None:
        """Append bytes."""
        self.n_bytes += len(data)
        if self.n_bytes > self._max_bytes:
            raise CannotDecodeError("too-long")
        while data:
            data = data[os.write(self._descriptor, data) :]

    def fill(self, n_bytes: int) -> None:
        """Append zeros."""
        zeros = memoryview(bytes(min(n_bytes, 1 << 20)))
        while n_bytes > 0:
            self.write(zeros[:n_bytes])
            n_bytes -= len(zeros)

    def keep(self, n_bytes: int) -> None:
        """Drop all but the first bytes."""
        os.ftruncate(self._descriptor, n_bytes)
        os.lseek(self._descriptor, n_bytes, os.SEEK_SET)
        self.n_bytes = n_bytes


def check(request: dict[str, Any], *, sample_rate_hz: int, n_channels: int) -> None:
    """Refuse a format that the caller would refuse."""
    if not (
        request["min_rate_hz"] <= sample_rate_hz <= request["max_rate_hz"]
        and 1 <= n_channels <= request["max_channels"]
    ):
        raise CannotDecodeError("impossible-format", sample_rate_hz=sample_rate_hz, n_channels=n_channels)


def decode_with_soundfile(request: dict[str, Any], source: BinaryIO, output: Output) -> dict[str, Any]:
    """Unpack with libsndfile."""
    import soundfile

    try:
        with soundfile.SoundFile(source.fileno(), closefd=False) as handle:
            rate, channels = handle.samplerate, handle.channels
            if handle.format not in SOUNDFILE_CONTAINERS:
                raise CannotDecodeError("damaged", detail=f"read as {handle.format}")
            check(request, sample_rate_hz=rate, n_channels=channels)
            if handle.frames > request["max_duration_s"] * rate:
                # Either nonsense or "not known"; the other decoder doesn't need to know.
                raise CannotDecodeError("too-long", duration_s=handle.frames / rate)
            while len(block := memoryview(handle.buffer_read(BLOCK_FRAMES, dtype="float32"))):
                output.write(block.cast("B"))
            if output.n_bytes == 0:
                raise CannotDecodeError("no-samples")
            return {
                "container": handle.format,
                "codec": handle.subtype,
                "sample_rate_hz": rate,
                "n_channels": channels,
                "announced_s": handle.frames / rate,
                "dates": [handle.date],
                "n_tracks": 1,
                "track": 1,
                "n_damaged": 0,
                "filled_s": 0.0,
                "changed": False,
            }
    except soundfile.LibsndfileError as error:
        raise CannotDecodeError("damaged", detail=error.error_string) from error
    except AssertionError as error:  # how soundfile takes a decoder that returns less than it announced
        raise CannotDecodeError("damaged") from error


def decode_with_av(request: dict[str, Any], source: BinaryIO, output: Output) -> dict[str, Any]:
    """Unpack the first sound track that decodes with FFmpeg's libraries."""
    import av

    track, n_tracks, reasons = 0, 1, []
    while track < min(n_tracks, MOST_TRACKS_TRIED):
        source.seek(0)
        output.keep(0)
        try:
            container = av.open(
                source,
                metadata_errors="replace",
                options={
                    "format_whitelist": request["demuxers"],
                    "codec_whitelist": AUDIO_DECODERS,
                    "protocol_whitelist": "none",
                },
            )
        except av.error.MemoryError as error:
            raise CannotDecodeError("no-memory") from error
        except av.error.FFmpegError as error:
            raise CannotDecodeError("damaged", detail=error.strerror or "") from error
        with container:
            n_tracks = len(container.streams.audio)
            if n_tracks == 0:
                raise CannotDecodeError("no-audio-track")
            try:
                report = _decode_track(request, container, track, output)
            except CannotDecodeError as error:
                if error.report["why"] == "too-long":
                    raise
                reasons.append(error)
            else:
                return {**report, "n_tracks": n_tracks, "track": track + 1}
        track += 1
    raise reasons[0]


def _decode_track(request: dict[str, Any], container: Any, track: int, output: Output) -> dict[str, Any]:  # noqa: ANN401
    import av
    from av.stream import Discard

    stream = container.streams.audio[track]
    for other in container.streams:
        if other is not stream:
            other.discard = Discard.all  # a film's pictures are not even read from the disk
    context = stream.codec_context
    if context is None:
        raise CannotDecodeError("unknown-codec", detail="no decoder for it")
    context.thread_count = 1
    progress = _Progress(request, output)
    packets = container.demux(stream)
    while True:
        try:
            packet = next(packets, None)
        except av.error.FFmpegError:
            break  # the file ends in the middle of something; what came before is good
        if packet is None:
            break
        try:
            frames = packet.decode()
        except av.error.MemoryError as error:
            raise CannotDecodeError("no-memory") from error
        except (av.error.DecoderNotFoundError, av.error.PatchWelcomeError) as error:
            raise CannotDecodeError("unknown-codec", detail=context.name) from error
        except av.error.FFmpegError:
            progress.n_damaged += 1
            continue
        if not all(progress.take(frame) for frame in frames):
            break
    progress.finish()
    if progress.sample_rate_hz == 0:
        raise CannotDecodeError("damaged" if progress.n_damaged else "no-samples")
    rate = progress.sample_rate_hz
    announces = container.format.name not in DEMUXERS_THAT_GUESS
    announced_s = float(stream.duration * stream.time_base) if announces and stream.duration else None
    if announced_s is None and announces and container.duration and len(container.streams) == 1:
        announced_s = container.duration / av.time_base
    if announced_s is not None and announced_s > 0 and stream.duration:
        n_announced = round(announced_s * rate)
        n_frames = output.n_bytes // (4 * progress.n_channels)
        # Decoders hand out the zeros that filled the last packet. They are no silence of the room.
        if 0 < n_frames - n_announced <= MOST_PADDING_FRAMES:
            output.keep(4 * progress.n_channels * n_announced)
    return {
        "container": container.format.name,
        "codec": context.codec.canonical_name.upper(),
        "sample_rate_hz": rate,
        "n_channels": progress.n_channels,
        "announced_s": announced_s,
        "dates": _dates(container, stream),
        "n_damaged": progress.n_damaged,
        "filled_s": progress.filled_s,
        "changed": progress.changed,
    }


def _dates(container: Any, stream: Any) -> list[str]:  # noqa: ANN401
    # By name, one by one: the place a phone writes beside them stays where it is.
    wanted = ("com.apple.quicktime.creationdate", "creation_time", "date")
    return [tags[key] for key in wanted for tags in (container.metadata, stream.metadata) if key in tags]


class _Progress:
    """Frames on their way from a decoder to the output."""

    def __init__(self, request: dict[str, Any], output: Output) -> None:
        import av

        self._request = request
        self._output = output
        # Frames are small; one conversion for many of them takes a fraction of the time.
        self._fifo = av.AudioFifo()
        self._resampler = av.AudioResampler(format="flt")
        self._expected_s: float | None = None
        self._format: tuple[Any, ...] = ()
        self.sample_rate_hz = 0
        self.n_channels = 0
        self.n_damaged = 0
        self.filled_s = 0.0
        self.changed = False

    def take(self, frame: Any) -> bool:  # noqa: ANN401
        """Take one frame; False where the sound turns into another format."""
        n_channels = len(frame.layout.channels)
        this_format = (frame.sample_rate, n_channels, frame.format.name)
        if not self._format:
            check(self._request, sample_rate_hz=frame.sample_rate, n_channels=n_channels)
            self._format = this_format
            self.sample_rate_hz, self.n_channels = frame.sample_rate, n_channels
        elif this_format != self._format:
            self.changed = True
            return False
        self._fill_gap(frame)
        self.n_damaged += bool(frame.is_corrupt)
        frame.pts = None
        self._fifo.write(frame)
        while self._fifo.samples >= BLOCK_FRAMES:
            self._emit(self._fifo.read(BLOCK_FRAMES))
        return True

    def finish(self) -> None:
        """Write what is left."""
        if self._fifo.samples:
            self._emit(self._fifo.read())

    def _fill_gap(self, frame: Any) -> None:  # noqa: ANN401
        """Put silence where packets are missing: closing the gap would shorten a decay unseen."""
        lasts_s = frame.samples / frame.sample_rate
        if frame.pts is None or frame.time_base is None:
            if self._expected_s is not None:
                self._expected_s += lasts_s
            return
        time_s = float(frame.pts * frame.time_base)
        if self._expected_s is not None:
            gap_s = time_s - self._expected_s
            if SHORTEST_GAP_S < gap_s <= LONGEST_FILLED_GAP_S:
                self.finish()
                self._output.fill(round(gap_s * self.sample_rate_hz) * self.n_channels * 4)
                self.filled_s += gap_s
        self._expected_s = time_s + lasts_s

    def _emit(self, frame: Any) -> None:  # noqa: ANN401
        for converted in self._resampler.resample(frame):
            n_bytes = converted.samples * self.n_channels * 4
            self._output.write(memoryview(converted.planes[0])[:n_bytes])


def set_limits(request: dict[str, Any]) -> None:
    """Bound what this process may take, where the system knows such bounds."""
    try:
        import resource
    except ImportError:  # not on Windows
        return
    for what, limit in (
        (resource.RLIMIT_AS, request["max_memory_bytes"]),
        (resource.RLIMIT_CPU, request["max_cpu_s"]),
        (resource.RLIMIT_CORE, 0),
    ):
        with contextlib.suppress(ValueError, OSError):
            resource.setrlimit(what, (limit, limit))


def decode(request: dict[str, Any], source: BinaryIO, output: Output) -> dict[str, Any]:
    """Try the decoders in the order asked for; return the report of the first that works."""
    ways = {"soundfile": decode_with_soundfile, "av": decode_with_av}
    failures = []
    for decoder in request["decoders"]:
        try:
            os.lseek(source.fileno(), 0, os.SEEK_SET)
            output.keep(0)
            report = ways[decoder](request, source, output)
        except CannotDecodeError as error:
            failures.append(error.report)
        except ImportError as error:
            failures.append({"why": "cannot-start", "detail": str(error)})
        except MemoryError:
            failures.append({"why": "no-memory"})
        except OSError as error:
            full = error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
            failures.append({"why": "disk-full"} if full else {"why": "damaged", "detail": str(error)})
        except Exception as error:  # whatever it is, it costs this file only
            failures.append({"why": "decoder-crashed", "detail": f"{type(error).__name__}: {error}"[:200]})
        else:
            frame_bytes = 4 * report["n_channels"]
            return {**report, "ok": True, "decoder": decoder, "n_frames": output.n_bytes // frame_bytes}
    telling = [report for report in failures if report["why"] != "damaged"]
    return {**(telling or failures)[-1], "ok": False}


def main() -> int:
    """Do what the request says."""
    request = json.loads(sys.argv[1])
    output = Output(os.dup(1), max_bytes=request["max_raw_bytes"])
    report_to = os.fdopen(os.dup(2), "w", encoding="utf-8")
    silence = os.open(os.devnull, os.O_WRONLY)
    os.dup2(silence, 1)
    os.dup2(silence, 2)
    set_limits(request)
    with os.fdopen(0, "rb", closefd=False) as source, report_to:
        json.dump(decode(request, source, output), report_to)
        report_to.flush()
        # The libraries' own tidying up can take longer, or crash, after all is said and done.
        os._exit(0)


if __name__ == "__main__":
    sys.exit(main())
