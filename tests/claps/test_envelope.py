"""The envelope against a slow twin and against another library's."""

import numpy as np
import pytest

from roomir.audio.recording import SoundInMemory
from roomir.claps.envelope import changes, lag_frames, onset_envelope


@pytest.mark.parametrize("rate_hz", [8_000, 44_100, 192_000])
@pytest.mark.parametrize("n_channels", [1, 3])
def test_the_envelope_is_the_energy_of_each_millisecond(rate_hz, n_channels):
    samples = np.random.default_rng(1).standard_normal((int(2.7 * rate_hz), n_channels)).astype(np.float32)
    envelope = onset_envelope(SoundInMemory(samples=samples, sample_rate_hz=rate_hz))
    lag, step = lag_frames(sample_rate_hz=rate_hz), envelope.n_step
    held = np.concatenate([np.repeat(samples[:1], lag, axis=0), samples]).astype(np.float64)
    squared = np.sum((held[lag:] - held[:-lag]) ** 2, axis=1)
    slow = [squared[i : i + step].sum() for i in range(0, squared.size - step + 1, step)]

    assert envelope.energy == pytest.approx(np.array(slow), rel=1e-4)
    assert envelope.step_s == pytest.approx(0.001, rel=0.02)


def test_the_envelope_is_the_one_librosa_takes_of_the_same_sound():
    import librosa

    rate_hz = 48_000
    samples = np.random.default_rng(1).standard_normal(rate_hz).astype(np.float32)
    sound = SoundInMemory(samples=samples, sample_rate_hz=rate_hz)
    envelope = onset_envelope(sound)
    emphasised = changes(sound, start=0, stop=rate_hz, lag=lag_frames(sample_rate_hz=rate_hz))[:, 0]
    rms = librosa.feature.rms(
        y=emphasised, frame_length=envelope.n_step, hop_length=envelope.n_step, center=False
    )[0]

    assert envelope.energy == pytest.approx(envelope.n_step * rms.astype(np.float64) ** 2, rel=1e-4)


@pytest.mark.parametrize("hz", [50.0, 1000.0, 4000.0])
def test_the_envelope_weighs_frequencies_alike_at_every_rate(hz):
    """Expected gain of a difference over 1/8 ms: 2 sin(pi f / 8 kHz)."""
    levels = []
    for rate_hz in (16_000, 48_000, 192_000):
        tone = np.sin(2.0 * np.pi * hz * np.arange(rate_hz) / rate_hz)
        envelope = onset_envelope(SoundInMemory(samples=tone, sample_rate_hz=rate_hz))
        levels.append(envelope.energy[100:900].mean() / envelope.n_step)

    assert levels == pytest.approx([2.0 * np.sin(np.pi * hz / 8000.0) ** 2] * 3, rel=0.02)
