"""Sound files of every kind, made on the spot from one decay that is known to the last sample."""

from __future__ import annotations

import struct
from pathlib import Path

import av
import numpy as np
import soundfile

RATE_HZ = 48000
DECAY_TIME_S = 0.5  # invented


def decay(
    *, rate_hz: int = RATE_HZ, duration_s: float = 1.5, n_channels: int = 1, seed: int = 7
) -> np.ndarray:
    """A burst of noise at 0.25 s that falls 60 dB in DECAY_TIME_S, over a faint floor."""
    rng = np.random.default_rng(seed)
    time_s = np.arange(round(duration_s * rate_hz)) / rate_hz - 0.25
    noise = rng.standard_normal((n_channels, len(time_s)))
    # Noise without its top octave: codecs keep what is below, so that samples can be compared.
    kept = np.fft.rfft(noise)
    kept[:, kept.shape[1] // 4 :] = 0.0
    noise = np.fft.irfft(kept, n=len(time_s))
    envelope = np.where(time_s < 0.0, 0.0, 0.5 * 10.0 ** (-3.0 * np.maximum(time_s, 0.0) / DECAY_TIME_S))
    return np.clip(noise * envelope + 1e-4 * noise, -0.99, 0.99).T.astype(np.float32)


def save(path: Path, samples: np.ndarray, *, rate_hz: int = RATE_HZ, container: str, subtype: str) -> Path:
    """Write a file with soundfile, whatever its suffix says."""
    with soundfile.SoundFile(
        path, "w", samplerate=rate_hz, channels=samples.shape[1], format=container, subtype=subtype
    ) as out:
        out.write(samples)
    return path


def save_film(
    path: Path,
    tracks: list[np.ndarray],
    *,
    rate_hz: int = RATE_HZ,
    container: str,
    codec: str,
    pictures: bool = False,
    tags: dict[str, str] | None = None,
    options: dict[str, str] | None = None,
    sample_format: str | None = None,
    bit_rate: int | None = None,
) -> Path:
    """Write a file with PyAV: tracks of sound, and pictures first if wanted."""
    with av.open(str(path), "w", format=container, options=options or {}) as out:
        out.metadata.update(tags or {})
        film = out.add_stream("mpeg4", rate=10) if pictures else None
        if film is not None:
            film.width, film.height, film.pix_fmt = 64, 48, "yuv420p"
        streams = []
        for samples in tracks:
            stream = out.add_stream(codec, rate=rate_hz)
            stream.layout = {1: "mono", 2: "stereo"}[samples.shape[1]]
            if sample_format is not None:
                stream.format = sample_format
            if bit_rate is not None:
                stream.bit_rate = bit_rate
            streams.append(stream)
        if film is not None:
            grey = av.VideoFrame.from_ndarray(np.full((48, 64, 3), 99, np.uint8), format="rgb24")
            for _ in range(int(10 * len(tracks[0]) / rate_hz)):
                grey.pts = None
                out.mux(film.encode(grey))
            out.mux(film.encode(None))
        for stream, samples in zip(streams, tracks, strict=True):
            context = stream.codec_context
            frame = av.AudioFrame.from_ndarray(
                np.ascontiguousarray(samples.T), format="fltp", layout=stream.layout.name
            )
            frame.sample_rate, frame.pts = rate_hz, 0
            pieces = av.AudioResampler(
                format=context.format.name,
                layout=stream.layout.name,
                rate=rate_hz,
                frame_size=context.frame_size or 1024,
            )
            for piece in [*pieces.resample(frame), *pieces.resample(None)]:
                out.mux(stream.encode(piece))
            out.mux(stream.encode(None))
    return path


def can_encode(codec: str) -> bool:
    """Whether this build of the libraries has the encoder."""
    try:
        av.Codec(codec, "w")
    except av.codec.codec.UnknownCodecError:
        return False
    return True


def riff(*chunks: tuple[bytes, bytes], form: bytes = b"WAVE") -> bytes:
    """A RIFF file from its chunks."""
    body = b"".join(
        name + struct.pack("<I", len(data)) + data + b"\0" * (len(data) & 1) for name, data in chunks
    )
    return b"RIFF" + struct.pack("<I", 4 + len(body)) + form + body


def wav_format(*, tag: int = 1, n_channels: int = 1, rate_hz: int = RATE_HZ, bits: int = 16) -> bytes:
    """The content of a fmt chunk, true or not."""
    block = n_channels * bits // 8
    return struct.pack(
        "<HHIIHH", tag, n_channels & 0xFFFF, rate_hz, rate_hz * block & 0xFFFF_FFFF, block & 0xFFFF, bits
    )


def pcm_16(samples: np.ndarray) -> bytes:
    """Samples as the content of a data chunk."""
    return np.round(samples * 32767).astype("<i2").tobytes()


def delay_frames(heard: np.ndarray, played: np.ndarray) -> int:
    """By how many frames ``heard`` lags ``played`` (one channel each), from their correlation."""
    n = len(heard) + len(played)
    spectrum = np.fft.rfft(heard, n) * np.conj(np.fft.rfft(played, n))
    lag = int(np.argmax(np.fft.irfft(spectrum, n)))
    return lag if lag < len(heard) else lag - n


def levels_db(samples: np.ndarray, *, rate_hz: int, block_s: float = 0.02) -> np.ndarray:
    """Level of one channel in consecutive blocks."""
    n = round(block_s * rate_hz)
    blocks = samples[: len(samples) // n * n].reshape(-1, n).astype(float)
    return 10.0 * np.log10(np.mean(blocks**2, axis=1) + 1e-12)
