"""The decay in every band as a picture: what was heard, what was fitted to it, and how far that reaches."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator
from matplotlib.transforms import ScaledTranslation

from roomir.decay.curve import EDT_DB, T20_DB, T30_DB
from roomir.errors import ParameterError
from roomir.reading.evidence import DecayEvidence
from roomir.reading.reading import BandFigures, Reading, RoomBand
from roomir.report.answer import why
from roomir.report.figures.key import TRUST_SIGNS, Entry, key
from roomir.report.figures.sheet import (
    HEAD_PT,
    INK,
    MARGIN_IN,
    MIST,
    RUST,
    SLATE,
    SMALL_PT,
    WIDTH_IN,
    Look,
    Place,
    Strip,
    broken,
    label,
    make_sheet,
    name_axis,
    paragraph,
)
from roomir.report.quantities import band_decimals
from roomir.report.rounding import rounded
from roomir.report.wording import band_name

_COLUMNS = 2
_LEFT_IN = 0.98
_BETWEEN_IN = 0.4
_TITLE_IN = 0.36
_PANEL_IN = 1.95
_WORDS_IN = 0.75
_TIME_IN = 0.36
_AXIS_LABEL_IN = 0.3

_TOP_DB = 12.0
_LOWEST_DB = -95.0
_HIGHEST_DB = -45.0
_BELOW_FOOT_DB = 8.0
_BEYOND = 1.25
_STRETCHES = (("EDT", EDT_DB), ("T20", T20_DB), ("T30", T30_DB))

_CURVE: Look = {"color": INK, "linewidth": 2.0}
_STRETCH: Look = {"color": INK, "linewidth": 1.4, "marker": "_", "markersize": 8.0}
_FITTED: Look = {"color": RUST, "linewidth": 2.2, "linestyle": (0, (4, 2))}
_NOISE: Look = {"color": RUST, "linewidth": 1.5, "linestyle": (0, (1, 1.5))}
_START: Look = {"color": RUST, "marker": "v", "markersize": 9.0}
_CROSSPOINT: Look = {
    "color": RUST,
    "marker": "o",
    "fillstyle": "none",
    "markersize": 10.0,
    "markeredgewidth": 1.8,
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Panel:
    """One band: its figures for the room, and the decays heard in it."""

    room_band: RoomBand
    best: DecayEvidence | None
    best_figures: BandFigures | None
    others: tuple[DecayEvidence, ...]


def decay_figure(reading: Reading) -> Figure:
    """Draw the decay in every band, with what was fitted to it.

    Parameters
    ----------
    reading : Reading
        One that kept its evidence: ``roomir.read(..., with_evidence=True)``.

    Returns
    -------
    matplotlib.figure.Figure
        A panel for every band: the clap seen over the widest range, the others
        faint behind it.

    Raises
    ------
    ParameterError
        If the reading has decay times and kept no evidence of them.
    """
    return make_sheet(decay_strips(reading))


def decay_strips(reading: Reading) -> list[Strip]:
    """Make the parts of a sheet that show the decays."""
    panels = _panels(reading)
    if not panels:
        return [paragraph("No clap was fit to be read, so there is no decay to show.")]
    feet_db = [_foot_db(panel.best) - _BELOW_FOOT_DB for panel in panels if panel.best is not None]
    lowest_db = min(max(min(feet_db, default=0.0), _LOWEST_DB), _HIGHEST_DB)
    rows = [panels[i : i + _COLUMNS] for i in range(0, len(panels), _COLUMNS)]
    strips = [paragraph("The decay in every band", size_pt=HEAD_PT, weight="bold", after_in=0.02), _key()]
    for i, row in enumerate(rows):
        strips.append(_row_strip(row, lowest_db=lowest_db, last=i == len(rows) - 1))
    return strips


def _panels(reading: Reading) -> list[_Panel]:
    if not reading.evidence and any(one.figures.decay_time_s is not None for one in reading.bands):
        raise ParameterError(
            "the reading kept nothing to draw its decays from",
            code="no-evidence",
            remedy="read the recordings again with with_evidence=True",
        )
    panels = []
    for place, room_band in enumerate(reading.bands):
        heard = []
        for one in reading.evidence:
            if one.band == room_band.figures.band:
                figures = reading.takes[one.take].claps[one.clap].bands[place]
                heard.append((figures.decay_range_db or 0.0, figures, one))
        heard.sort(key=lambda of_clap: -of_clap[0])
        panels.append(
            _Panel(
                room_band=room_band,
                best=heard[0][2] if heard else None,
                best_figures=heard[0][1] if heard else None,
                others=tuple(one for _, _, one in heard[1:]),
            )
        )
    return panels


# ------------------------------------------------------------------ the key


def _key() -> Strip:
    """Say once what the lines and signs are, as they look in the panels."""
    return key(
        [
            Entry(words="level of the clap seen farthest down", look={"color": SLATE, "linewidth": 1.2}),
            Entry(words="level of the other claps", look={"color": MIST, "linewidth": 1.2}),
            Entry(words="energy still to come (backward integration)", look=_CURVE),
            Entry(words="stretch of it that EDT, T20, T30 are read from", look=_STRETCH, upright=True),
            Entry(words="fitted decay and background", look=_FITTED),
            Entry(words="background alone", look=_NOISE),
            Entry(words="the fit begins", look=_START),
            Entry(words="decay and background are equal, or the sound ends", look=_CROSSPOINT),
        ]
    )


# ------------------------------------------------------------------ one band


def _row_strip(row: Sequence[_Panel], *, lowest_db: float, last: bool) -> Strip:
    # Neighbours share their time axis; over all bands a short decay would be a streak.
    span_s = max((_BEYOND * panel.best.crosspoint_s for panel in row if panel.best is not None), default=0.0)
    below_in = _TIME_IN + (_AXIS_LABEL_IN if last else 0.0)
    # A row without any decay needs no more than room for the reasons.
    height_in = _TITLE_IN + (_PANEL_IN + below_in if span_s else _WORDS_IN)
    panel_in = (WIDTH_IN - _LEFT_IN - MARGIN_IN - (_COLUMNS - 1) * _BETWEEN_IN) / _COLUMNS

    def draw(place: Place) -> None:
        for i, panel in enumerate(row):
            left_in = _LEFT_IN + i * (panel_in + _BETWEEN_IN)
            axes = place.axes(
                left_in=left_in,
                right_in=WIDTH_IN - left_in - panel_in,
                top_in=_TITLE_IN,
                bottom_in=below_in if span_s else 0.0,
            )
            axes.set_label(band_name(panel.room_band.figures.band.nominal_hz))
            _draw_title(axes, panel.room_band.figures)
            if panel.best is None:
                axes.set_axis_off()
                room_in = height_in - _TITLE_IN
                _draw_reason(axes, panel.room_band.figures, width_in=panel_in, height_in=room_in)
                continue
            axes.set_xlim(-0.02 * span_s, span_s)
            axes.set_ylim(lowest_db, _TOP_DB)
            levels_db = range(0, int(lowest_db), -20)
            beside_another = i > 0 and row[i - 1].best is not None
            axes.set_yticks(levels_db, ["" if beside_another else f"{level} dB" for level in levels_db])
            times_s = MaxNLocator(nbins=4, steps=[1, 2, 5, 10]).tick_values(0.0, span_s)
            # None at the very end, where its number would run into what is beside the panel.
            axes.set_xticks([time_s for time_s in times_s if 0.0 <= time_s < 0.95 * span_s])
            if last:
                name_axis(axes.xaxis, "time [s]")
            _draw_panel(axes, panel.best, panel.others)
            if panel.best_figures is not None:
                _draw_stretches(axes, panel.best_figures)

    return Strip(height_in=height_in, draw=draw)


def _draw_title(axes: Axes, figures: BandFigures) -> None:
    """Write the name of the band, the trust in it and its decay time above the panel."""
    above = axes.transAxes + ScaledTranslation(0.0, 0.17, axes.figure.dpi_scale_trans)
    label(axes, band_name(figures.band.nominal_hz), at=(0.0, 1.0), weight="bold").set_transform(above)
    told = f"{TRUST_SIGNS[figures.verdict]} {figures.verdict}"
    if figures.decay_time_s is not None:
        told += f", {rounded(figures.decay_time_s, decimals=band_decimals(figures))} s"
    label(axes, told, at=(1.0, 1.0), align="right").set_transform(above)


def _draw_reason(axes: Axes, figures: BandFigures, *, width_in: float, height_in: float) -> None:
    """Say in place of a decay why there is none."""
    name = band_name(figures.band.nominal_hz)
    says = why(figures.reasons[0], band=name) if figures.reasons else "no decay stands out of the background"
    for i, line in enumerate(broken(says, size_pt=SMALL_PT, width_in=width_in)):
        label(axes, line, at=(0.0, 1.0 - (0.15 + 0.25 * i) / height_in), inside=True)


def _draw_panel(axes: Axes, best: DecayEvidence, others: Sequence[DecayEvidence]) -> None:
    for one in others:
        axes.plot(one.time_s, one.level_db, color=MIST, linewidth=1.0, gid="other clap")
    axes.plot(best.time_s, best.level_db, color=SLATE, linewidth=1.0, gid="best clap")
    axes.plot(best.curve_time_s, best.curve_db, gid="backward integration", **_CURVE)
    fitted_s = np.linspace(best.start_s, max(best.time_s[-1], best.crosspoint_s), 200)
    axes.plot(fitted_s, best.model_db(fitted_s), gid="fit", **_FITTED)
    axes.axhline(best.noise_db, gid="background", **_NOISE)
    axes.plot([best.start_s], best.model_db(np.array([best.start_s])), gid="start", **_START)
    axes.plot([best.crosspoint_s], [_foot_db(best)], gid="crosspoint", **_CROSSPOINT)


def _foot_db(best: DecayEvidence) -> float:
    """Level of the decay where it ends: in the background, or where it is cut off. [dB]."""
    if not best.cut_off:
        return best.noise_db
    return float(best.model_db(np.array([best.crosspoint_s]))[0])


def _draw_stretches(axes: Axes, figures: BandFigures) -> None:
    """Put the stretches that EDT, T20 and T30 are read from beside the decay, where they are given."""
    values = {"EDT": figures.edt_s, "T20": figures.t20_s, "T30": figures.t30_s}
    given = [(name, stretch) for name, stretch in _STRETCHES if values[name] is not None]
    # The upper right corner is free: a decay falls from the upper left to the lower right.
    beside = axes.get_yaxis_transform()
    for i, (name, (upper_db, lower_db)) in enumerate(given):
        at = 0.94 - 0.16 * (len(given) - 1 - i)
        axes.plot([at, at], [upper_db, lower_db], transform=beside, gid=name, **_STRETCH)
        words = label(axes, name, at=(at, upper_db + 6.0), align="center", size_pt=SMALL_PT - 1.0)
        words.set_transform(beside)
