"""Listening to claps: cut out as long as every band takes to sink, and no longer, and filtered."""

from __future__ import annotations

from collections.abc import Sequence

from roomir.audio.recording import Recording, Sound
from roomir.bands.band import carries
from roomir.bands.filters import BandFilter
from roomir.claps.clap import Clap
from roomir.claps.listening import listening_length_s
from roomir.decay.energy import LEAD_S, EnergyTrace, trace_energy
from roomir.decay.heard import HeardClap


def hear_claps(
    recordings: Sequence[Recording], found: Sequence[Sequence[Clap]], *, filters: Sequence[BandFilter]
) -> list[HeardClap]:
    """Filter every used clap of every take into the bands that its recording carries."""
    out = []
    for take, (recording, claps) in enumerate(zip(recordings, found, strict=True)):
        rate = recording.sound.sample_rate_hz
        carried = [i for i, f in enumerate(filters) if carries(f.band, sample_rate_hz=rate)]
        if not carried:
            continue
        used = [(place, clap) for place, clap in enumerate(claps) if clap.used]
        for place, clap in used:
            traces: list[EnergyTrace | None] = [None] * len(filters)
            chosen = [filters[i] for i in carried]
            for i, trace in zip(carried, _hear(recording.sound, clap, filters=chosen), strict=True):
                traces[i] = trace
            out.append(HeardClap(take=take, place=place, traces=tuple(traces)))
    return out


def _hear(sound: Sound, clap: Clap, *, filters: Sequence[BandFilter]) -> tuple[EnergyTrace, ...]:
    """Cut one clap out, as long as it can be followed in any band, and filter it."""
    rate = sound.sample_rate_hz
    start = max(0, clap.onset - round(LEAD_S * rate))
    free = clap.stop - clap.onset
    length = min(free, round(listening_length_s(sound, clap) * rate))
    stretch = sound.stretch(start=start, stop=clap.onset + length)
    return trace_energy(stretch, onset=clap.onset - start, sample_rate_hz=rate, filters=filters)
