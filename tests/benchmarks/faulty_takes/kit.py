"""What several faults need: levels and gains at a control rate, resampling, codecs in memory."""

from __future__ import annotations

import io
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
TINY = 1e-12
_PRIMING = {"aac": 1024}
"""Frames that an encoder puts in front and the decoder here leaves there. [frames]"""


def db(ratio: float | Floats) -> Floats:
    """Amplitude ratio as level. [dB]."""
    return np.asarray(20.0 * np.log10(np.maximum(np.abs(ratio), TINY)))


def amplitude(level_db: float | Floats) -> Floats:
    """Level as amplitude ratio."""
    return np.asarray(10.0 ** (np.asarray(level_db) / 20.0))


def rms_db(sound: Floats, *, step: int, over: int = 1) -> Floats:
    """Root mean square of each step of ``step`` frames, smoothed over ``over`` past steps. [dB]."""
    n = -(-sound.size // step)
    power = np.pad(sound**2, (0, n * step - sound.size)).reshape(n, step).mean(axis=1)
    if over > 1:
        power = np.convolve(power, np.full(over, 1.0 / over))[:n]
    return 10.0 * np.log10(power + TINY**2)


def peak_db(sound: Floats, *, step: int) -> Floats:
    """Largest magnitude of each step. [dB]."""
    n = -(-sound.size // step)
    return db(np.abs(np.pad(sound, (0, n * step - sound.size))).reshape(n, step).max(axis=1))


def under_gain(sound: Floats, gain_db: Floats, *, step: int) -> Floats:
    """Multiply by a gain given at the end of each step, straight in dB in between.

    A gain that was computed from a step takes effect at its end and not before.
    """
    at = (np.arange(gain_db.size) + 1.0) * step
    return np.asarray(sound * amplitude(np.interp(np.arange(sound.size), at, gain_db)))


def follow(
    target_db: Floats, *, step_s: float, fall_s: float, rise_s: float, hold_s: float = 0.0, start_db: float
) -> Floats:
    """Let a gain go after its target, falling with one time constant and rising with another.

    After each fall the gain waits for ``hold_s`` before it rises.
    """
    down, up = (1.0 - np.exp(-step_s / max(t, 1e-6)) for t in (fall_s, rise_s))
    hold, waiting, gain = round(hold_s / step_s), 0, start_db
    out = np.empty_like(target_db)
    for i, target in enumerate(target_db.tolist()):
        if target <= gain:
            gain += down * (target - gain)
            waiting = hold
        elif waiting:
            waiting -= 1
        else:
            gain += up * (target - gain)
        out[i] = gain
    return out


def quiet_db(sound: Floats, *, step: int) -> float:
    """Level of the quietest tenth of a sound. [dB]."""
    return float(np.quantile(rms_db(sound, step=step), 0.1))


def resampled(sound: Floats, *, from_hz: int, to_hz: int) -> Floats:
    """Change the rate with a good low-pass filter."""
    from math import gcd

    from scipy.signal import resample_poly

    common = gcd(from_hz, to_hz)
    return np.asarray(resample_poly(sound, to_hz // common, from_hz // common))


def in_spectrum(
    sound: Floats, change: Callable[[NDArray[np.complex128]], NDArray[np.complex128]], *, window: int
) -> Floats:
    """Take a sound apart into short spectra (n_bins, n_frames), half overlapping; change; add up again."""
    from scipy.signal import istft, stft

    _, _, spectra = stft(sound, nperseg=window, noverlap=window // 2)
    _, back = istft(change(spectra), nperseg=window, noverlap=window // 2)
    return np.asarray(np.pad(back, (0, max(0, sound.size - back.size)))[: sound.size])


def through_codec(
    sound: Floats,
    *,
    rate_hz: int,
    codec: str,
    container: str,
    kbps: float,
    options: dict[str, str] | None = None,
) -> Floats:
    """Encode and decode in memory; the encoder's delay is cut off where the container tells it."""
    import av

    store = io.BytesIO()
    wanted = {"libopus": "flt", "libmp3lame": "fltp", "aac": "fltp"}.get(codec, "s16")
    with av.open(store, "w", format=container) as out:
        stream = out.add_stream(codec, rate=rate_hz, options=options or {})
        stream.layout = "mono"
        stream.bit_rate = int(1000 * kbps)
        ready = np.clip(sound, -1.0, 1.0).astype(np.float32)[np.newaxis]
        frame = av.AudioFrame.from_ndarray(ready, format="fltp", layout="mono")
        frame.sample_rate = rate_hz
        resampler = av.AudioResampler(format=wanted, layout="mono", rate=rate_hz)
        for part in [*resampler.resample(frame), *resampler.resample(None)]:
            for packet in stream.encode(part):
                out.mux(packet)
        for packet in stream.encode(None):
            out.mux(packet)
    store.seek(0)
    with av.open(store) as back:
        decoded = []
        to_float = av.AudioResampler(format="fltp", layout="mono", rate=rate_hz)
        for frame in back.decode(audio=0):
            decoded += [part.to_ndarray()[0] for part in to_float.resample(frame)]
        decoded += [part.to_ndarray()[0] for part in to_float.resample(None)]
    whole = np.concatenate(decoded).astype(np.float64)[_PRIMING.get(codec, 0) :]
    return np.pad(whole, (0, max(0, sound.size - whole.size)))[: sound.size]
