"""A comparison as a document for programs: the JSON contract ``roomir/comparison/1``."""

from __future__ import annotations

from collections.abc import Sequence

from roomir.compare.aim import Aim
from roomir.compare.change import BandChange, Climate, Comparison
from roomir.reading.reading import BandFigures, Reading
from roomir.report.aims import aim_document
from roomir.report.document import Document, as_json_text, interval, number, remark_document
from roomir.report.headline import headline_says

SCHEMA = "roomir/comparison/1"
"""Name and version of the contract."""

_QUANTITIES = (
    "edt_s",
    "t20_s",
    "t30_s",
    "decay_range_db",
    "curvature_percent",
    "c50_db",
    "c80_db",
    "d50",
    "ts_s",
)


def comparison_document(comparison: Comparison, *, aims: Sequence[Aim] = ()) -> Document:
    """Make the document of a comparison.

    Parameters
    ----------
    comparison : Comparison
        With bands, or with none in common.
    aims : sequence of Aim
        Both sides against a target, before and after, or none.

    Returns
    -------
    dict
        Plain dicts, lists, strings, numbers, booleans and ``None``. README,
        section "JSON", has the meaning of each key.
    """
    headline = comparison.headline
    return {
        "schema": SCHEMA,
        "roomir_version": comparison.after.roomir_version,
        "band_set": comparison.after.band_set,
        "volume_m3": number(comparison.volume_m3),
        "headline": {
            "verdict": headline.verdict,
            "says": headline_says(comparison),
            "changed_hz": [band.nominal_hz for band in headline.changed],
        },
        "bands": [band_document(one) for one in comparison.bands],
        "guards": [remark_document(remark) for remark in comparison.guards],
        "target": (
            {"before": aim_document(aims[0]), "after": aim_document(aims[1])} if len(aims) == 2 else None
        ),
        "before": _side(comparison.before, climate=comparison.climates[0]),
        "after": _side(comparison.after, climate=comparison.climates[1]),
    }


def comparison_json(comparison: Comparison, *, aims: Sequence[Aim] = ()) -> str:
    """Write the document as JSON text.

    Raises
    ------
    ValueError
        If a number is NaN or infinite, which no comparison may hold.
    """
    return as_json_text(comparison_document(comparison, aims=aims))


def band_document(one: BandChange) -> Document:
    """Make the part of the document that stands for one band."""
    more = one.more_spots
    return {
        "centre_hz": one.band.nominal_hz,
        "before_s": number(one.before_s),
        "after_s": number(one.after_s),
        "change_s": number(one.change_s),
        "change_ci95_s": interval(one.change_ci95_s),
        "change_percent": number(one.change_percent),
        "change_ci95_percent": interval(one.change_ci95_percent),
        "p_value": number(one.p_value),
        "added_absorption_m2": number(one.added_absorption_m2),
        "added_absorption_ci95_m2": interval(one.added_absorption_ci95_m2),
        "verdict": one.verdict,
        "more_spots": (
            None if more is None else {"after_only": more.after_only, "on_each_side": more.on_each_side}
        ),
        "paired_positions": one.positions,
        "before": _figures(one.before),
        "after": _figures(one.after),
    }


def _figures(figures: BandFigures) -> Document:
    return {
        "decay_time_s": number(figures.decay_time_s),
        "ci95_s": interval(figures.ci95_s),
        "verdict": figures.verdict,
        **{name: number(getattr(figures, name)) for name in _QUANTITIES},
    }


def _side(reading: Reading, *, climate: Climate) -> Document:
    return {
        "takes": [{"path": take.path, "sha256": take.sha256} for take in reading.takes],
        "failures": [
            {"path": one.path, "code": one.code, "says": one.says, "remedy": one.remedy}
            for one in reading.failures
        ],
        "mid": {"decay_time_s": number(reading.mid.decay_time_s), "ci95_s": interval(reading.mid.ci95_s)},
        "temperature_c": number(climate.temperature_c),
        "humidity_percent": number(climate.humidity_percent),
    }
