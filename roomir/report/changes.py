"""A comparison in words and rounded numbers: what the screen, the figures and the page of a room show."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from roomir.compare.aim import Aim
from roomir.compare.change import BandChange, Comparison
from roomir.compare.verdicts import MoreSpots
from roomir.reading.reading import BandFigures, Interval
from roomir.report.aims import aim_says
from roomir.report.headline import headline_says, names_of
from roomir.report.quantities import Quantity, QuantityTable, band_decimals
from roomir.report.rounding import MISSING, decimals_of, rounded, rounded_outwards
from roomir.report.unit_system import METRIC, UnitSystem
from roomir.report.view import fault_lines
from roomir.report.wording import band_name, counted, in_words, said_and_done, sentence

CHANGE_SIGNS = {"shorter": "<", "longer": ">", "within 5 percent": "=", "cannot tell": "?"}
"""The sign beside a verdict; plain ASCII, as those of the trust."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeRow:
    """One band in the short table; no figure is `MISSING`, the ends of no interval are empty."""

    band: str
    before: str
    after: str
    change_s: str
    change_s_ends: str
    added: str
    added_ends: str
    change_percent: str
    low_percent: str
    high_percent: str
    verdict: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparisonView:
    """Everything a person is told about a comparison, in the order in which it is told.

    Attributes
    ----------
    says : str
        The headline.
    verdict : str
        ``"changed"``, ``"no change found"`` or ``"cannot tell"``.
    rows : tuple of ChangeRow
        The short table.
    settle : tuple of str
        What would settle the bands that are open.
    absorption : str
        Unit of the absorption that was added; empty where the volume is not known.
    table : QuantityTable
        Change in seconds, and the absorption that was added where the volume is known.
    quantities : QuantityTable
        Every quantity before and after.
    guards : tuple of str
        What limits the comparison.
    failures : tuple of str
        One line for each file that gave no reading.
    target : tuple of str
        How both sides stand against a target; empty where none was named.
    """

    says: str
    verdict: str
    rows: tuple[ChangeRow, ...]
    settle: tuple[str, ...]
    absorption: str
    table: QuantityTable
    quantities: QuantityTable
    guards: tuple[str, ...]
    failures: tuple[str, ...]
    target: tuple[str, ...]


def comparison_view(
    comparison: Comparison, *, units: UnitSystem = METRIC, aims: Sequence[Aim] = ()
) -> ComparisonView:
    """Word and round a comparison.

    Parameters
    ----------
    comparison : Comparison
        With bands, or with none in common.
    units : UnitSystem
        For the absorption that was added.
    aims : sequence of Aim
        Both sides against a target, before and after, or none.

    Returns
    -------
    ComparisonView
        Strings only.
    """
    names = tuple(band_name(one.band.nominal_hz) for one in comparison.bands)
    return ComparisonView(
        says=headline_says(comparison),
        verdict=comparison.headline.verdict,
        rows=tuple(_row(one, units=units) for one in comparison.bands),
        settle=_settle(comparison.bands),
        absorption="" if comparison.volume_m3 is None else units.absorption,
        table=QuantityTable(bands=names, quantities=tuple(_changes(comparison, units=units))),
        quantities=QuantityTable(bands=names, quantities=tuple(_both_sides(comparison.bands))),
        guards=tuple(said_and_done(remark) for remark in comparison.guards),
        failures=(*fault_lines(comparison.before), *fault_lines(comparison.after)),
        target=tuple(
            f"{side}: {said}"
            for side, aim in zip(("Before", "After"), aims, strict=False)
            for said in aim_says(aim)[: 1 if side == "Before" else None]
        ),
    )


# ------------------------------------------------------------------ tables


def _row(one: BandChange, *, units: UnitSystem) -> ChangeRow:
    percents = one.change_ci95_percent
    low, high, decimals = "", "", 0
    if percents is not None and one.change_percent is not None:
        decimals = min(decimals_of(one.change_percent, interval=percents), 1)
        low, high = rounded_outwards(percents, decimals=decimals)
    change_s, change_s_ends = _with_ends(one.change_s, one.change_ci95_s)
    added, added_ends = _with_ends(
        one.added_absorption_m2, one.added_absorption_ci95_m2, scale=units.area_per_m2
    )
    return ChangeRow(
        band=band_name(one.band.nominal_hz),
        before=_time(one.before_s, one.before),
        after=_time(one.after_s, one.after),
        change_s=change_s,
        change_s_ends=change_s_ends,
        added=added,
        added_ends=added_ends,
        change_percent=signed(one.change_percent, decimals=decimals),
        low_percent=low,
        high_percent=high,
        verdict=one.verdict,
    )


def _time(time_s: float | None, figures: BandFigures) -> str:
    """Write the time compared, or what the side alone has."""
    return rounded(figures.decay_time_s if time_s is None else time_s, decimals=band_decimals(figures))


def _with_ends(value: float | None, ends: Interval | None, *, scale: float = 1.0) -> tuple[str, str]:
    """Write a change, and both ends of its interval in one text (empty where there is none)."""
    if value is None or ends is None:
        return MISSING, ""
    low, high = scale * ends[0], scale * ends[1]
    decimals = decimals_of(scale * value, interval=(low, high))
    return (
        signed(scale * value, decimals=decimals),
        " to ".join(rounded_outwards((low, high), decimals=decimals)),
    )


def signed(value: float | None, *, decimals: int) -> str:
    """Write a change with its sign.

    Examples
    --------
    >>> signed(0.123, decimals=2), signed(-0.04, decimals=1), signed(None, decimals=1)
    ('+0.12', '0.0', '-')
    """
    text = rounded(value, decimals=decimals)
    return f"+{text}" if value is not None and value > 0.0 and float(text) != 0.0 else text


def _settle(bands: Sequence[BandChange]) -> tuple[str, ...]:
    by_words: dict[str, list[BandChange]] = {}
    for one in bands:
        if one.more_spots is not None:
            what = "position" if one.positions is not None else "spot"
            by_words.setdefault(_more(one.more_spots, what=what), []).append(one)
    return tuple(sentence(f"{names_of(those, among=bands)}: {words}") for words, those in by_words.items())


def _more(more: MoreSpots, *, what: str) -> str:
    stays = "if the difference stays as it is"
    alone, each = more.after_only, more.on_each_side
    if alone is not None and each is not None and each < alone:
        words = f"{counted(alone, f'more {what}')} after, or {in_words(each)} more on each side,"
        return f"{words} would settle it {stays}"
    if alone is not None:
        return f"{counted(alone, f'more {what}')} after would settle it {stays}"
    if each is not None:
        return f"{counted(each, f'more {what}')} on each side would settle it {stays}"
    return f"not to be settled with a few more {what}s"


def _changes(comparison: Comparison, *, units: UnitSystem) -> list[Quantity]:
    bands = comparison.bands
    rows = _with_interval(
        "change s", bands, value=lambda one: one.change_s, ends=lambda one: one.change_ci95_s
    )
    if comparison.volume_m3 is not None:
        scale = units.area_per_m2
        rows += _with_interval(
            f"absorption added {units.absorption}",
            bands,
            value=lambda one: None if one.added_absorption_m2 is None else scale * one.added_absorption_m2,
            ends=lambda one: (
                None
                if one.added_absorption_ci95_m2 is None
                else (scale * one.added_absorption_ci95_m2[0], scale * one.added_absorption_ci95_m2[1])
            ),
        )
    return rows


def _with_interval(
    name: str,
    bands: Sequence[BandChange],
    *,
    value: Callable[[BandChange], float | None],
    ends: Callable[[BandChange], tuple[float, float] | None],
) -> list[Quantity]:
    cells: list[tuple[str, str, str]] = []
    for one in bands:
        number, interval = value(one), ends(one)
        if number is None or interval is None:
            cells.append((MISSING, MISSING, MISSING))
            continue
        decimals = decimals_of(number, interval=interval)
        cells.append((signed(number, decimals=decimals), *rounded_outwards(interval, decimals=decimals)))
    return [
        Quantity(name=name, cells=tuple(cell[0] for cell in cells)),
        Quantity(name="  95 %, from", cells=tuple(cell[1] for cell in cells)),
        Quantity(name="  95 %, to", cells=tuple(cell[2] for cell in cells)),
    ]


_QUANTITIES: tuple[tuple[str, int | None, Callable[[BandFigures], float | None]], ...] = (
    ("decay time s", None, lambda f: f.decay_time_s),
    ("EDT s", None, lambda f: f.edt_s),
    ("T20 s", None, lambda f: f.t20_s),
    ("T30 s", None, lambda f: f.t30_s),
    ("decay range dB", 0, lambda f: f.decay_range_db),
    ("curvature %", 1, lambda f: f.curvature_percent),
    ("C50 dB", 1, lambda f: f.c50_db),
    ("C80 dB", 1, lambda f: f.c80_db),
    ("D50", 2, lambda f: f.d50),
    ("centre time ms", 0, lambda f: None if f.ts_s is None else 1000.0 * f.ts_s),
)


def _both_sides(bands: Sequence[BandChange]) -> list[Quantity]:
    rows = []
    for name, decimals, get in _QUANTITIES:
        for side in ("before", "after"):
            figures = [one.before if side == "before" else one.after for one in bands]
            cells = tuple(
                rounded(get(f), decimals=band_decimals(f) if decimals is None else decimals) for f in figures
            )
            rows.append(Quantity(name=f"{name}, {side}", cells=cells))
    return rows


def change_extent_percent(comparison: Comparison) -> tuple[float, float]:
    """How far down and up a picture of the changes has to reach. [%]."""
    reach = [
        end
        for one in comparison.bands
        if one.usable and one.change_ci95_percent is not None
        for end in one.change_ci95_percent
    ]
    low, high = min(reach, default=0.0), max(reach, default=0.0)
    # No change at all stays in sight, and the numbers need some room.
    room = 0.15 * max(high - low, 20.0)
    return max(min(low - room, -12.0), -105.0), min(max(high + room, 12.0), 150.0)
