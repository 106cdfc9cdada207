"""Every quantity of every band, rounded, with the bands as columns."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from roomir.reading.reading import BandFigures, Interval, RoomBand
from roomir.report.answer import SIGNS
from roomir.report.rounding import MISSING, decimals_of, rounded, rounded_outwards
from roomir.report.wording import band_name


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """One line of the long table: a name with its unit, and a cell for every band."""

    name: str
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class QuantityTable:
    """Every quantity of every band; the columns are the bands."""

    bands: tuple[str, ...]
    quantities: tuple[Quantity, ...]


def band_decimals(figures: BandFigures) -> int:
    """Decimals for every time of one band: those its interval supports (room before spot)."""
    times = (figures.decay_time_s, figures.t20_s, figures.t30_s, figures.edt_s)
    value_s = next((time_s for time_s in times if time_s is not None), 1.0)
    return decimals_of(value_s, interval=figures.ci95_s or figures.spot_ci95_s)


_TIMES: tuple[tuple[str, Callable[[BandFigures], float | None]], ...] = (
    ("EDT s", lambda f: f.edt_s),
    ("T20 s", lambda f: f.t20_s),
    ("T30 s", lambda f: f.t30_s),
    ("decay time s", lambda f: f.decay_time_s),
)
_INTERVALS: tuple[tuple[str, Callable[[BandFigures], Interval | None]], ...] = (
    ("spot", lambda f: f.spot_ci95_s),
    ("room", lambda f: f.ci95_s),
)
_FIXED: tuple[tuple[str, int, Callable[[BandFigures], float | None]], ...] = (
    ("decay range dB", 0, lambda f: f.decay_range_db),
    ("seen by fit dB", 0, lambda f: f.fitted_range_db),
    ("nonlin. 1/1000", 1, lambda f: f.nonlinearity_permille),
    ("curvature %", 1, lambda f: f.curvature_percent),
    ("C50 dB", 1, lambda f: f.c50_db),
    ("C80 dB", 1, lambda f: f.c80_db),
    ("D50", 2, lambda f: f.d50),
    ("centre time ms", 0, lambda f: None if f.ts_s is None else 1000.0 * f.ts_s),
    ("BT", 0, lambda f: f.bt),
    ("slopes", 0, lambda f: f.slopes),
)


def _quantities(bands: tuple[BandFigures, ...]) -> list[Quantity]:
    decimals = [band_decimals(figures) for figures in bands]
    rows = [
        Quantity(
            name=name, cells=tuple(rounded(get(f), decimals=d) for f, d in zip(bands, decimals, strict=True))
        )
        for name, get in _TIMES
    ]
    for name, interval_of in _INTERVALS:
        ends = [
            rounded_outwards(interval, decimals=d) if (interval := interval_of(f)) else (MISSING, MISSING)
            for f, d in zip(bands, decimals, strict=True)
        ]
        if any(low != MISSING for low, _ in ends):
            rows.append(Quantity(name=f"  {name}, from s", cells=tuple(low for low, _ in ends)))
            rows.append(Quantity(name=f"  {name}, to s", cells=tuple(high for _, high in ends)))
    rows += [
        Quantity(name=name, cells=tuple(rounded(get(f), decimals=d) for f in bands))
        for name, d, get in _FIXED
    ]
    return [*rows, Quantity(name="trust", cells=tuple(SIGNS[figures.verdict] for figures in bands))]


def clap_table(bands: tuple[BandFigures, ...]) -> QuantityTable:
    """Every quantity of one clap."""
    return QuantityTable(
        bands=tuple(band_name(figures.band.nominal_hz) for figures in bands),
        quantities=tuple(_quantities(bands)),
    )


def room_table(bands: tuple[RoomBand, ...]) -> QuantityTable:
    """Every quantity over all claps, and what it rests on."""
    figures = tuple(room_band.figures for room_band in bands)
    return QuantityTable(
        bands=tuple(band_name(f.band.nominal_hz) for f in figures),
        quantities=(
            *_quantities(figures),
            Quantity(name="claps used", cells=tuple(str(one.claps_used) for one in bands)),
            Quantity(
                name="worth claps", cells=tuple(rounded(one.effective_claps, decimals=1) for one in bands)
            ),
            Quantity(name="spots", cells=tuple(str(one.spots) for one in bands)),
            Quantity(name="interval from", cells=tuple(one.interval_from or MISSING for one in bands)),
        ),
    )
