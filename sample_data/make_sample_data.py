"""Make the sample recordings: ``python sample_data/make_sample_data.py``.

Writes the takes of ``scenario.py`` with their ``truth.json`` and
``SHA256SUMS`` beside this script, and the two tables in ``README.md``. The
seeds are kept, so the sound comes out
the same again; the bytes of a compressed file also depend on the version of
its encoder.
"""

from __future__ import annotations

import argparse
import hashlib
import json
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scenario import (
    AIR_DB_PER_M,
    CUPPED_HZ,
    HUMIDITY_PERCENT,
    QUIET_S,
    SOUND_SPEED_M_PER_S,
    SPOTS,
    STAGES,
    TAKES,
    TEMPERATURE_C,
    Stage,
    Take,
    longest_eyring_s,
    phone_positions,
)
from scipy.signal import butter, fftconvolve, sosfiltfilt

from roomir.bands.band import OCTAVES
from roomir.synth.box import box_response
from roomir.synth.distractors import counting, speech
from roomir.synth.sources import clap_pulse, pop_pulse

HERE = Path(__file__).resolve().parent
Sound = NDArray[np.float64]

PEAK_DBFS = -4.0
"""Peak of the loudest clap in a take; no phone was driven into clipping."""

LEVEL_SPREAD_DB = 5.0
"""How much softer than the loudest a clap of the same take may be."""

AAC_BITS_PER_S = 128_000

DRY_VOICE = "dry_voice.flac"
"""A voice without any room, for hearing it in one (`roomir hear`)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rendering:
    """A take as sound, with what is known of it.

    Attributes
    ----------
    samples : numpy.ndarray, shape (n_frames, n_channels)
        Before it is turned into 16 bit.
    onsets_s : tuple of float
        First sample of each clap within 20 dB of its peak, without noise (ISO 3382-1:2009). [s]
    responses : dict of int to numpy.ndarray
        Response of the room at each spot, first channel.
    """

    samples: Sound
    onsets_s: tuple[float, ...]
    responses: dict[int, Sound]


def write_dry_voice(path: Path) -> None:
    """Write a synthetic voice that says a phrase and counts: no room, no background."""
    import soundfile

    rate, rng = 48_000, np.random.default_rng(20_261_128)
    pause = np.zeros(rate // 2)
    parts = [speech(rng=rng, sample_rate_hz=rate), pause, counting(rng=rng, sample_rate_hz=rate)]
    samples = np.concatenate([np.zeros(rate // 10), *parts, np.zeros(rate // 10)])
    soundfile.write(path, 0.5 * samples / np.abs(samples).max(), rate, subtype="PCM_16")


def main() -> None:
    """Write every take, the truth and the hashes."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", type=Path, default=HERE, help="folder to write to (default: this one)")
    out: Path = parser.parse_args().out
    out.mkdir(parents=True, exist_ok=True)
    described = []
    for take in TAKES:
        rendering = render(take)
        write(rendering.samples, take=take, path=out / take.file_name)
        described.append(facts(take) | measured(rendering, take=take))
        seconds = len(rendering.samples) / take.sample_rate_hz
        print(f"{take.file_name}: {len(take.spots)} claps, {seconds:.1f} s")  # noqa: T201
    truth = {
        "temperature_c": TEMPERATURE_C,
        "humidity_percent": HUMIDITY_PERCENT,
        "sound_speed_m_per_s": round(SOUND_SPEED_M_PER_S, 3),
        "stages": {name: stage_facts(stage) for name, stage in STAGES.items()},
        "files": described,
    }
    (out / "truth.json").write_text(json.dumps(truth, indent=1) + "\n", encoding="utf-8")
    write_dry_voice(out / DRY_VOICE)
    listed = sorted([take.file_name for take in TAKES] + ["truth.json", DRY_VOICE])
    sums = [f"{hashlib.sha256((out / name).read_bytes()).hexdigest()}  {name}\n" for name in listed]
    (out / "SHA256SUMS").write_text("".join(sums), encoding="utf-8")
    readme = (HERE / "README.md").read_text(encoding="utf-8")
    for section, table in (("decay times", decay_table()), ("takes", take_table())):
        readme = _with_section(readme, section=section, text=table)
    (out / "README.md").write_text(readme, encoding="utf-8")


def decay_table() -> str:
    """Tabulate the decay times of all stages for ``README.md``."""
    lines = ["| stage | | " + " | ".join(f"{band.nominal_hz:g} Hz" for band in OCTAVES) + " |"]
    lines.append("|---" * (2 + len(OCTAVES)) + "|")
    for name, stage in STAGES.items():
        for label, times_s in (("centre", stage.eyring_s), ("band", stage.band_decay_s)):
            lines.append(f"| {name} | {label} | " + " | ".join(f"{time:.2f}" for time in times_s) + " |")
    return "\n".join(lines)


def take_table() -> str:
    """Tabulate the takes for ``README.md``."""
    lines = ["| file | sound | spots | rate | channels | background, rms |", "|---|---|---|---|---|---|"]
    for take in TAKES:
        spots = ", ".join(str(spot) for spot in sorted(set(take.spots)))
        lines.append(
            f"| {take.file_name} | {len(take.spots)} {take.source}s | {spots} "
            f"| {take.sample_rate_hz} Hz | {take.n_channels} | {take.noise_dbfs:g} dBFS |"
        )
    return "\n".join(lines)


def _with_section(readme: str, *, section: str, text: str) -> str:
    head, mark, rest = readme.partition(f"<!-- {section}: written by make_sample_data.py -->\n")
    _, end, tail = rest.partition("<!-- end -->")
    return f"{head}{mark}{text}\n{end}{tail}"


def stage_facts(stage: Stage) -> dict[str, Any]:
    """Tell what is known of a room in one state, without making a sound."""
    return {
        "room": stage.room,
        "stage": stage.stage,
        "note": stage.note,
        "size_m": list(stage.box.size_m),
        "volume_m3": round(stage.box.volume_m3, 3),
        "mean_absorption": by_octave(stage.box.mean_absorption.tolist()),
        "eyring_decay_time_s": by_octave(stage.eyring_s),
        "band_decay_time_s": by_octave(stage.band_decay_s),
    }


def facts(take: Take) -> dict[str, Any]:
    """Tell what is known of a take before it is rendered."""
    stage = STAGES[take.stage]
    return {
        "path": take.file_name,
        "room": stage.room,
        "stage": take.stage,
        "spots": list(take.spots),
        "format": take.file_name.rpartition(".")[2],
        "sample_rate_hz": take.sample_rate_hz,
        "channels": take.n_channels,
        "recorded_at": take.recorded_at,
        "source": take.source,
        "n_claps": len(take.spots),
        "distractors": take.distractors,
        "eyring_decay_time_s": by_octave(stage.eyring_s),
        "band_decay_time_s": by_octave(stage.band_decay_s),
    }


def measured(rendering: Rendering, *, take: Take) -> dict[str, Any]:
    """Tell what only the rendered sound knows: onsets, and the decay of the responses themselves."""
    return {
        "duration_s": round(len(rendering.samples) / take.sample_rate_hz, 6),
        "onset_s": [round(onset, 6) for onset in rendering.onsets_s],
        "response_t30_s": {
            str(spot): by_octave(response_t30_s(response, sample_rate_hz=take.sample_rate_hz))
            for spot, response in rendering.responses.items()
        },
    }


def by_octave(values: tuple[float, ...] | list[float]) -> dict[str, float]:
    """Label eight figures by their nominal octave."""
    return {f"{band.nominal_hz:g}": round(value, 4) for band, value in zip(OCTAVES, values, strict=True)}


def render(take: Take) -> Rendering:
    """Turn a take into sound."""
    stage, rng, rate = STAGES[take.stage], np.random.default_rng(take.seed), take.sample_rate_hz
    decay_s = longest_eyring_s(stage)
    responses = {spot: _responses(take, spot=spot, length_s=1.3 * decay_s + 0.05) for spot in set(take.spots)}
    starts_s = [QUIET_S + i * take.gap_s + float(rng.uniform(0.0, 0.15)) for i in range(len(take.spots))]
    n_frames = round((starts_s[-1] + max(take.gap_s, decay_s) + QUIET_S) * rate)
    heard = np.zeros((n_frames, take.n_channels))
    onsets_s = []
    for start_s, spot in zip(starts_s, take.spots, strict=True):
        pulse = (
            clap_pulse(rng=rng, sample_rate_hz=rate, cavity_hz=float(rng.uniform(*CUPPED_HZ)))
            if take.source == "clap"
            else pop_pulse(rng=rng, sample_rate_hz=rate)
        )
        clap = np.column_stack([fftconvolve(pulse, response) for response in responses[spot]])
        clap *= 10.0 ** (-rng.uniform(0.0, LEVEL_SPREAD_DB) / 20.0) / np.max(np.abs(clap))
        begin = round(start_s * rate)
        onsets_s.append((begin + _onset(clap)) / rate)
        _mix_in(heard, clap, at=begin)
    heard *= 10.0 ** (PEAK_DBFS / 20.0) / np.max(np.abs(heard))
    if take.distractors:
        _add_footsteps_and_door(heard, take=take, starts_s=starts_s, response=responses[1][0], rng=rng)
    heard += np.column_stack([_background(n_frames, rate=rate, rng=rng) for _ in range(take.n_channels)]) * (
        10.0 ** (take.noise_dbfs / 20.0)
    )
    first = {spot: channels[0] for spot, channels in sorted(responses.items())}
    return Rendering(samples=heard, onsets_s=tuple(onsets_s), responses=first)


def _responses(take: Take, *, spot: int, length_s: float) -> list[Sound]:
    """One response per channel. The seed belongs to the spot, so every clap there meets the same room."""
    stage = STAGES[take.stage]
    where = SPOTS[stage.room][spot - 1]
    return [
        box_response(
            stage.box,
            source_m=where.source_m,
            microphone_m=phone_m,
            sample_rate_hz=take.sample_rate_hz,
            duration_s=length_s,
            sound_speed_m_per_s=SOUND_SPEED_M_PER_S,
            rng=np.random.default_rng((take.seed, spot, channel)),
            air_db_per_m=AIR_DB_PER_M,
            tail=stage.tail,
        )
        for channel, phone_m in enumerate(phone_positions(where, n_channels=take.n_channels))
    ]


def _onset(clap: Sound) -> int:
    """First sample within 20 dB of the peak (ISO 3382-1:2009, 5.3)."""
    loudness = np.max(np.abs(clap), axis=1)
    return int(np.argmax(loudness >= 0.1 * loudness.max()))


def _mix_in(heard: Sound, sound: Sound, *, at: int) -> None:
    n = min(len(sound), len(heard) - at)
    heard[at : at + n] += sound[:n]


def _background(n_frames: int, *, rate: int, rng: np.random.Generator) -> Sound:
    """Steady noise of a quiet room and a phone: 5 dB less per octave above 60 Hz, rms 1."""
    spectrum = np.fft.rfft(rng.standard_normal(n_frames))
    frequency_hz = np.fft.rfftfreq(n_frames, 1.0 / rate)
    octaves_up = np.log2(np.maximum(frequency_hz, 60.0) / 60.0)
    # The hiss of the microphone itself ends the fall at the top.
    spectrum *= 10.0 ** (-5.0 * np.minimum(octaves_up, 6.0) / 20.0) * (frequency_hz > 20.0)
    noise = np.fft.irfft(spectrum, n_frames)
    return noise / float(np.sqrt(np.mean(noise**2)))


def _add_footsteps_and_door(
    heard: Sound, *, take: Take, starts_s: list[float], response: Sound, rng: np.random.Generator
) -> None:
    """Walk after the second clap and shut a door after the third: neither may pass for a clap."""
    rate = take.sample_rate_hz
    for step in range(2):
        time_s = np.arange(int(0.12 * rate)) / rate
        low = sosfiltfilt(butter(2, 250.0, fs=rate, output="sos"), rng.standard_normal(time_s.size))
        thud = low * (1.0 - np.exp(-time_s / 0.008)) * np.exp(-time_s / 0.02)
        _add_event(
            heard,
            thud,
            response=response,
            peak_dbfs=-26.0,
            at=round((starts_s[1] + 1.15 + 0.5 * step) * rate),
        )
    time_s = np.arange(int(0.35 * rate)) / rate
    rumble = sosfiltfilt(butter(2, 500.0, fs=rate, output="sos"), rng.standard_normal(time_s.size))
    latch = rng.standard_normal(time_s.size) * np.exp(-(((time_s - 0.21) / 0.004) ** 2))
    door = rumble * np.sin(np.pi * time_s / time_s[-1]) ** 2 + 0.15 * latch
    _add_event(heard, door, response=response, peak_dbfs=-20.0, at=round((starts_s[2] + 1.2) * rate))


def _add_event(heard: Sound, source: Sound, *, response: Sound, peak_dbfs: float, at: int) -> None:
    event = fftconvolve(source, response)
    event *= 10.0 ** (peak_dbfs / 20.0) / np.max(np.abs(event))
    _mix_in(heard, np.repeat(event[:, np.newaxis], heard.shape[1], axis=1), at=at)


def response_t30_s(response: Sound, *, sample_rate_hz: int) -> tuple[float, ...]:
    """T30 of a noise-free response per octave, by textbook means that owe nothing to roomir's own reading.

    Zero-phase Butterworth octaves, backward integration (M. R. Schroeder, J.
    Acoust. Soc. Am. 37 (1965) 409-412), least squares over -5 to -35 dB.
    """
    times = []
    for band in OCTAVES:
        edges = (band.low_hz, min(band.high_hz, 0.49 * sample_rate_hz))
        sos = butter(3, edges, btype="bandpass", fs=sample_rate_hz, output="sos")
        energy = sosfiltfilt(sos, response) ** 2
        level_db = 10.0 * np.log10(np.cumsum(energy[::-1])[::-1] / energy.sum())
        fit = np.flatnonzero((level_db <= -5.0) & (level_db >= -35.0))
        times.append(-60.0 / float(np.polyfit(fit / sample_rate_hz, level_db[fit], 1)[0]))
    return tuple(times)


def as_16_bit(samples: Sound) -> NDArray[np.int16]:
    """Round to 16 bit; the background noise is dither enough."""
    return np.asarray(np.clip(np.rint(samples * 32767.0), -32768, 32767), dtype=np.int16)


def write(samples: Sound, *, take: Take, path: Path) -> None:
    """Write one take in the format its suffix names."""
    pcm = as_16_bit(samples)
    if path.suffix in {".wav", ".flac"}:
        _write_soundfile(pcm, take=take, path=path)
    else:
        _write_container(pcm, take=take, path=path)


def _write_soundfile(pcm: NDArray[np.int16], *, take: Take, path: Path) -> None:
    import soundfile

    with soundfile.SoundFile(path, "w", take.sample_rate_hz, take.n_channels, subtype="PCM_16") as file:
        file.date = take.recorded_at
        file.write(pcm)


def _write_container(pcm: NDArray[np.int16], *, take: Take, path: Path) -> None:
    """AAC in an M4A, or in a MOV beside a small picture track."""
    import av

    kind = {".m4a": "ipod", ".mov": "mov"}[path.suffix]
    with av.open(str(path), "w", format=kind, options={"fflags": "+bitexact"}) as container:
        made_at = datetime.fromisoformat(take.recorded_at)
        container.metadata["creation_time"] = made_at.strftime("%Y-%m-%dT%H:%M:%S.000000Z")
        video = None
        if path.suffix == ".mov":
            video = container.add_stream("mpeg4", rate=5)
            video.width, video.height, video.pix_fmt, video.bit_rate = 160, 96, "yuv420p", 20_000
        layout = "mono" if take.n_channels == 1 else "stereo"
        audio = container.add_stream("aac", rate=take.sample_rate_hz, layout=layout)
        audio.bit_rate = AAC_BITS_PER_S
        frame = av.AudioFrame.from_ndarray(pcm.reshape(1, -1), format="s16", layout=layout)
        frame.sample_rate, frame.pts, frame.time_base = (
            take.sample_rate_hz,
            0,
            Fraction(1, take.sample_rate_hz),
        )
        if video is not None:
            for i in range(len(pcm) * 5 // take.sample_rate_hz):
                picture = av.VideoFrame.from_ndarray(_picture(i), format="gray8").reformat(format="yuv420p")
                picture.pts, picture.time_base = i, Fraction(1, 5)
                container.mux(video.encode(picture))
            container.mux(video.encode(None))
        container.mux(audio.encode(frame))
        container.mux(audio.encode(None))


def _picture(index: int) -> NDArray[np.uint8]:
    """Draw a dim room with a bright window that wobbles, as a picture held by hand does."""
    picture = np.tile(np.linspace(40, 90, 160).astype(np.uint8), (96, 1))
    left = 90 + index % 3
    picture[20:50, left : left + 40] = 190
    return picture


if __name__ == "__main__":
    main()
