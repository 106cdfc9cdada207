"""What telephony and coding do: echo suppression, call chains, codecs, low and wrong rates."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.faulty_takes.base import RATE_HZ, Base
from tests.benchmarks.faulty_takes.draw import Draw
from tests.benchmarks.faulty_takes.fault import Fault, everywhere
from tests.benchmarks.faulty_takes.kit import (
    Floats,
    amplitude,
    in_spectrum,
    resampled,
    rms_db,
    through_codec,
    under_gain,
)

CODECS = {
    "aac": ("aac", "mp4"),
    "mp3": ("libmp3lame", "mp3"),
    "opus": ("libopus", "ogg"),
}


def echo_suppression(base: Base, draw: Draw) -> Fault:
    """The late tail is taken for an echo and turned down.

    Either by frames, for all frequencies alike, some time after each loud start; or bin by bin, by
    how much of the present sound the decay of the past explains (Lebart, Boucher and Denbigh, Acta
    Acustica 87 (2001) 359), with the decay time the phone believes in.
    """
    depth_db = draw.evenly("depth_db", dev=(6.0, 25.0), exam=(5.0, 40.0))
    if draw.happens("by_frames", chance=0.5):
        return everywhere(base, _by_frames(base, draw, depth_db=depth_db))
    window = 960
    believed_s = draw.evenly_in_log("believed_s", dev=(0.3, 1.0), exam=(0.2, 1.5))
    late_s = draw.evenly("late_s", dev=(0.04, 0.08), exam=(0.03, 0.12))
    floor = float(amplitude(-depth_db))
    lag = max(1, round(late_s * RATE_HZ / (window // 2)))

    def change(spectra: NDArray[np.complex128]) -> NDArray[np.complex128]:
        power = np.abs(spectra) ** 2
        smooth = power.copy()
        for i in range(1, power.shape[1]):
            smooth[:, i] = 0.7 * smooth[:, i - 1] + 0.3 * power[:, i]
        late = np.zeros(power.shape)
        late[:, lag:] = smooth[:, :-lag] * 10.0 ** (-6.0 * late_s / believed_s)
        ratio = late / np.maximum(power, 1e-20)
        return spectra * np.maximum(1.0 - np.sqrt(np.minimum(ratio, 1.0)), floor)

    return everywhere(base, in_spectrum(base.sound, change, window=window))


def _by_frames(base: Base, draw: Draw, *, depth_db: float) -> Floats:
    frame = draw.one_of("frame_ms", dev=(10, 20), exam=(5, 10, 16, 20, 32)) * RATE_HZ // 1000
    after_s = draw.evenly_in_log("after_s", dev=(0.04, 0.2), exam=(0.02, 0.35))
    level_db = rms_db(base.sound, step=frame)
    gain_db = np.zeros(level_db.size)
    for clap in base.claps:
        first, last = (clap.onset + int(after_s * RATE_HZ)) // frame, clap.sunk // frame + 30
        gain_db[first : max(first, last)] = -depth_db
    # The gain moves by a few dB from frame to frame.
    slew_db = draw.evenly("db_per_frame", dev=(2.0, 10.0), exam=(1.0, 20.0))
    for i in range(1, gain_db.size):
        gain_db[i] = max(gain_db[i], gain_db[i - 1] - slew_db)
    return under_gain(base.sound, gain_db, step=frame)


def voice_call(base: Base, draw: Draw) -> Fault:
    """A call: 300 to 3400 Hz at 8 kHz, frames without voice left out, a speech codec, up to 48 kHz again."""
    from scipy.signal import butter, sosfiltfilt

    low = resampled(base.sound, from_hz=RATE_HZ, to_hz=8000)
    low = np.asarray(sosfiltfilt(butter(3, (300.0, 3400.0), btype="band", fs=8000, output="sos"), low))
    if draw.happens("frames_left_out", chance=0.7):
        frame = 160
        level_db = rms_db(low, step=frame)
        above_db = draw.evenly("above_background_db", dev=(3.0, 12.0), exam=(2.0, 20.0))
        hang = draw.one_of("hang_frames", dev=(2, 5, 10), exam=(1, 3, 8, 15))
        voiced = level_db > float(np.median(level_db[: max(2, base.claps[0].onset // 960)])) + above_db
        voiced = np.convolve(voiced, np.ones(hang + 1))[: voiced.size] > 0
        mask = np.repeat(voiced, frame)[: low.size]
        comfort = amplitude(-draw.evenly("comfort_db", dev=(10.0, 30.0), exam=(5.0, 60.0)))
        low = np.where(mask, low, comfort * low)
    codec, container, kbps = draw.one_of("codec", dev=_CALL_CODECS[:4], exam=_CALL_CODECS)
    coded = through_codec(low, rate_hz=8000, codec=codec, container=container, kbps=kbps)
    return everywhere(base, resampled(coded, from_hz=8000, to_hz=RATE_HZ)[: base.dry.size])


_CALL_CODECS = (
    ("libopencore_amrnb", "amr", 12.2),
    ("libopencore_amrnb", "amr", 7.95),
    ("libopus", "ogg", 10.0),
    ("pcm_mulaw", "wav", 64.0),
    ("libopencore_amrnb", "amr", 4.75),
    ("libopus", "ogg", 7.0),
    ("g723_1", "wav", 6.3),
)


def lossy_codec(base: Base, draw: Draw) -> Fault:
    """A codec at a low bit rate."""
    name = draw.one_of("codec", dev=tuple(CODECS), exam=tuple(CODECS))
    kbps = draw.evenly("kbps", dev=(28.0, 56.0), exam=(24.0, 64.0))
    codec, container = CODECS[name]
    sound = through_codec(base.sound, rate_hz=RATE_HZ, codec=codec, container=container, kbps=kbps)
    return everywhere(base, sound)


def low_rate(base: Base, draw: Draw) -> Fault:
    """Sampled at a low rate and brought up to a high one with a filter, or by lines or steps."""
    rate = draw.one_of("rate_hz", dev=(8000, 16000), exam=(8000, 11025, 16000, 22050))
    how = draw.one_of("how", dev=("filter", "lines"), exam=("filter", "lines", "steps"))
    low = resampled(base.sound, from_hz=RATE_HZ, to_hz=rate)
    if how == "filter":
        up = resampled(low, from_hz=rate, to_hz=RATE_HZ)
    else:
        at = np.arange(base.dry.size) * (rate / RATE_HZ)
        steps = low[np.minimum(at.astype(np.intp), low.size - 1)]
        up = np.interp(at, np.arange(low.size), low) if how == "lines" else steps
    return everywhere(base, np.asarray(up[: base.dry.size]))


_LABELS_DEV = (24000, 32000, 44100, 96000)
_LABELS_EXAM = (16000, 22050, 24000, 32000, 44100, 88200, 96000)


def wrong_rate(base: Base, draw: Draw) -> Fault:
    """The header states another rate than the sound was sampled at; nothing in it has a pitch."""
    label = draw.one_of("label_hz", dev=_LABELS_DEV, exam=_LABELS_EXAM)
    return Fault(sound=base.sound, struck=(True,) * len(base.claps), rate_hz=label)


def wrong_rate_with_hum(base: Base, draw: Draw) -> Fault:
    """The same with the mains to be heard at a pitch they never have."""
    from tests.benchmarks.faulty_takes.surroundings import mains

    label = draw.one_of("label_hz", dev=_LABELS_DEV, exam=_LABELS_EXAM)
    level_db = draw.evenly("hum_over_background_db", dev=(0.0, 12.0), exam=(-3.0, 18.0))
    hum = mains(draw, n=base.dry.size) * float(base.noise.std()) * float(amplitude(level_db))
    return Fault(sound=base.sound + hum, struck=(True,) * len(base.claps), rate_hz=label)
