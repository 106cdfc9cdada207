"""Trying a setting many times and summing it up, octave by octave."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from roomir.audio.recording import Recording, SoundInMemory
from roomir.bands.band import BAND_SETS, OCTAVES
from roomir.claps.clap import Clap
from roomir.claps.listening import listening_length_s
from roomir.reading.reading import Reading, RoomBand
from roomir.reading.take import read_claps
from tests.benchmarks import known_takes, truths
from tests.benchmarks.cells import Cell, generator
from tests.benchmarks.known_takes import KnownTakes, record_claps

_LOWEST_HZ, _HIGHEST_HZ = 95.0, 5500.0
"""Octaves 125 Hz to 4 kHz, thirds 100 Hz to 5 kHz."""

WRONG = 0.10
"""An error that a reliable figure must not have."""


def run_cell(cell: Cell) -> dict[str, Any]:
    """Try one cell and sum it up, octave by octave."""
    if cell.study == "neighbours":
        return _run_neighbours(cell)
    band_set = "third-octave" if cell.study == "thirds" else "octave"
    columns = [i for i, band in enumerate(BAND_SETS[band_set]) if _LOWEST_HZ < band.nominal_hz < _HIGHEST_HZ]
    rows: list[list[_Row]] = []
    lengths_s = []
    truth_s = truths.line_time_s(cell.scene.slopes)
    for take in range(cell.n):
        known = record_claps(cell.scene, generator(cell, take), arrangement=cell.arrangement)
        reading = read_claps(known.recordings, known.claps, band_set=band_set)
        lengths_s.append(_heard_s(known))
        t20_s, t30_s = (_mean_line_s(known, lower_db=db) for db in (-25.0, -35.0))
        rows.append([_row(reading.bands[i], truth_s=truth_s, t20_s=t20_s, t30_s=t30_s) for i in columns])
    bands = []
    for place, column in enumerate(columns):
        band = BAND_SETS[band_set][column]
        summary = _summarise([row[place] for row in rows])
        summary["hz"] = band.nominal_hz
        summary["bt"] = round(band.width_hz * truth_s, 1)
        if len(cell.scene.slopes) == 1:
            summary["bound"] = truths.relative_bound(
                decay_time_s=truth_s,
                range_db=cell.scene.range_db,
                length_s=float(np.median(lengths_s)),
                band=band,
                claps=1 if cell.arrangement in ("one clap", "one spot") else 6,
            )
        bands.append(summary)
    return {"truth_s": truth_s, "bands": bands}


def _mean_line_s(known: KnownTakes, *, lower_db: float) -> float:
    lines_s = [
        truths.stretch_time_s(response.energy, rate_hz=known_takes.RATE_HZ, lower_db=lower_db)
        for response in known.responses
    ]
    return float(np.mean(lines_s))


def _heard_s(known: KnownTakes) -> float:
    recording, clap = known.recordings[0], known.claps[0][0]
    return min(clap.stop_s - clap.onset_s, listening_length_s(recording.sound, clap))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """One octave of one take, errors relative to the truth; NaN where nothing was given."""

    error: float
    spot_holds: bool
    room_holds: bool
    half_width: float
    t20_error: float
    t30_error: float
    t20_off: float
    t30_off: float
    verdict: str
    slopes: int
    spots: int
    effective: float
    scatter: bool


def _row(band: RoomBand, *, truth_s: float, t20_s: float, t30_s: float) -> _Row:
    figures = band.figures
    spot, room = figures.spot_ci95_s, figures.ci95_s
    return _Row(
        error=_relative(figures.decay_time_s, truth_s),
        spot_holds=spot is not None and spot[0] <= truth_s <= spot[1],
        room_holds=room is not None and room[0] <= truth_s <= room[1],
        half_width=np.nan if room is None else 0.5 * (room[1] - room[0]) / truth_s,
        t20_error=_relative(figures.t20_s, t20_s),
        t30_error=_relative(figures.t30_s, t30_s),
        t20_off=_relative(figures.t20_s, truth_s),
        t30_off=_relative(figures.t30_s, truth_s),
        verdict=figures.verdict,
        slopes=figures.slopes or 0,
        spots=band.spots,
        effective=band.effective_claps or np.nan,
        scatter=band.interval_from == "scatter",
    )


def _relative(value: float | None, truth: float) -> float:
    return np.nan if value is None else value / truth - 1.0


def _summarise(rows: list[_Row]) -> dict[str, Any]:
    """Counts and moments of one octave of one cell; plain numbers only."""
    error = np.array([row.error for row in rows])
    given = np.isfinite(error)
    out: dict[str, Any] = {
        "n": len(rows),
        "given": int(given.sum()),
        "spot_holds": sum(row.spot_holds for row in rows),
        "room_holds": sum(row.room_holds for row in rows),
        "two_slopes": sum(row.slopes == 2 for row in rows),
        "wrong": int((np.abs(error[given]) > WRONG).sum()),
        "wrong_reliable": sum(r.verdict == "reliable" and abs(r.error) > WRONG for r in rows),
        "scatter": sum(row.scatter for row in rows),
    }
    out |= {v: sum(row.verdict == v for row in rows) for v in ("reliable", "indicative", "unusable")}
    if given.any():
        out |= {
            "mean": float(error[given].mean()),
            "rms": float(np.sqrt((error[given] ** 2).mean())),
            "median": float(np.median(error[given])),
            "half_width": float(np.nanmean([row.half_width for row in rows])),
            "effective": float(np.nanmean([row.effective for row in rows])),
            "spots": float(np.mean([row.spots for row in rows])),
        }
    for name in ("t20_error", "t30_error", "t20_off", "t30_off"):
        values = np.array([getattr(row, name) for row in rows])
        values = values[np.isfinite(values)]
        out[name] = {"n": values.size} | (
            {"mean": float(values.mean()), "sd": float(values.std())} if values.size else {}
        )
    return out


def _run_neighbours(cell: Cell) -> dict[str, Any]:
    """Read six spots with and without a neighbour that rings longer, from the same noise."""
    time_s = cell.scene.slopes[0].decay_time_s
    columns = {column: [] for column in (cell.ringing - 1, cell.ringing + 1)}
    for take in range(cell.n):
        ringing = [time_s] * len(OCTAVES)
        ringing[cell.ringing] *= cell.ratio
        with_it = _read_octaves(cell, ringing, generator(cell, take))
        without = _read_octaves(cell, [time_s] * len(OCTAVES), generator(cell, take))
        for column, pairs in columns.items():
            pairs.append((with_it.bands[column].figures, without.bands[column].figures))
    return {
        "truth_s": time_s,
        "bands": [
            {
                "hz": OCTAVES[column].nominal_hz,
                "side": "above" if column < cell.ringing else "below",
                "n": len(pairs),
                "two_slopes": sum(a.slopes == 2 for a, _ in pairs),
                "reliable": sum(a.verdict == "reliable" for a, _ in pairs),
                "indicative": sum(a.verdict == "indicative" for a, _ in pairs),
                "reliable_without": sum(b.verdict == "reliable" for _, b in pairs),
                "t20_shift": _mean_shift([(a.t20_s, b.t20_s) for a, b in pairs]),
                "t30_shift": _mean_shift([(a.t30_s, b.t30_s) for a, b in pairs]),
                "shift": _mean_shift([(a.decay_time_s, b.decay_time_s) for a, b in pairs]),
            }
            for column, pairs in columns.items()
        ],
    }


def _mean_shift(pairs: list[tuple[float | None, float | None]]) -> float | None:
    both = [a / b - 1.0 for a, b in pairs if a is not None and b is not None]
    return float(np.mean(both)) if both else None


def _read_octaves(cell: Cell, decay_times_s: list[float], rng: np.random.Generator) -> Reading:
    length_s = cell.ratio * cell.scene.length_s
    lead = round(known_takes.LEAD_S * known_takes.RATE_HZ)
    parts = [np.zeros(lead)] + [
        known_takes.octaves_ringing(decay_times_s, rng, length_s=length_s, sharp=cell.sharp) for _ in range(6)
    ]
    sound = np.concatenate(parts)
    sound += rng.standard_normal(sound.size) * 10.0 ** (-cell.scene.range_db / 20.0)
    onsets = [lead + i * parts[1].size for i in range(6)]
    claps = [
        Clap(onset=onset, stop=stop, sample_rate_hz=known_takes.RATE_HZ, peak_dbfs=-10.0)
        for onset, stop in zip(onsets, [*onsets[1:], sound.size], strict=True)
    ]
    memory = SoundInMemory(samples=(0.1 * sound).astype(np.float32), sample_rate_hz=known_takes.RATE_HZ)
    return read_claps([Recording(sound=memory, source_name="neighbours")], [claps])
