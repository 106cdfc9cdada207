"""Every band of the whole reading: the figures over all claps, and what they rest on."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from roomir.audio.recording import Recording
from roomir.bands.band import Band, carries
from roomir.decay.band_fit import BandFit
from roomir.decay.combine import Estimate, estimate_room
from roomir.decay.heard import HeardClap
from roomir.decay.model import DB_PER_NEPER
from roomir.faults.fault import Fault, remarks_of
from roomir.reading import trust
from roomir.reading.clap_figures import withhold
from roomir.reading.reading import BandFigures, RoomBand, SpotTime
from roomir.remarks import Remark

_SPOT_MEANS = ("edt_s", "t20_s", "t30_s", "nonlinearity_permille", "c50_db", "c80_db", "d50", "ts_s")


def room_bands(
    fits: Sequence[BandFit | None],
    *,
    spot: np.ndarray,
    clap_bands: Sequence[Sequence[BandFigures]],
    bands: Sequence[Band],
    heard: Sequence[HeardClap],
    recordings: Sequence[Recording],
    faults: Sequence[Fault],
) -> tuple[RoomBand, ...]:
    """Put the claps together band by band; shape (n_bands,)."""
    estimates = [None if fit is None else estimate_room(fit, spot=spot) for fit in fits]
    out = []
    for column, (band, fit) in enumerate(zip(bands, fits, strict=True)):
        neighbour = _longer_neighbour(column, fits=fits, estimates=estimates)
        estimate = estimates[column]
        if fit is None or estimate is None:
            out.append(_silent_band(band, recordings=recordings))
            continue
        own = [clap_bands[int(row)][column] for row in fit.rows]
        claps = [heard[int(row)] for row in fit.rows]
        concerns = remarks_of(
            fault
            for fault in faults
            if any(
                fault.strikes(take=h.take, place=h.place, column=column, range_db=figures.decay_range_db)
                for h, figures in zip(claps, own, strict=True)
            )
        )
        figures = _room_figures(
            fit, estimate, own=own, spot=spot[fit.rows], neighbour=neighbour, concerns=concerns
        )
        given = figures.ci95_s is not None
        out.append(
            RoomBand(
                figures=figures,
                claps_used=estimate.n_claps,
                effective_claps=estimate.effective_claps,
                spots=estimate.n_spots,
                interval_from=estimate.interval_from if given else None,
                u_relative=estimate.spread.u_relative if given else None,
                u_theory_relative=estimate.spread.u_theory_relative if given else None,
                spot_times=_spot_times(estimate, heard=heard) if given else (),
            )
        )
    return tuple(out)


def _spot_times(estimate: Estimate, *, heard: Sequence[HeardClap]) -> tuple[SpotTime, ...]:
    return tuple(
        SpotTime(
            decay_time_s=one.decay_time_s,
            u_relative=one.u_relative,
            weight=one.weight,
            takes=tuple(sorted({heard[clap].take for clap in one.claps})),
        )
        for one in estimate.spots
        # A spot that says nothing hardly weighs in the mean, and its own figure would be a guess.
        if one.u_relative <= trust.WITHHOLD_HALF_WIDTH and one.decay_time_s <= trust.LONGEST_DECAY_S
    )


def _silent_band(band: Band, *, recordings: Sequence[Recording]) -> RoomBand:
    rates = [recording.sound.sample_rate_hz for recording in recordings]
    carried = any(carries(band, sample_rate_hz=rate) for rate in rates)
    verdict, reasons = trust.no_decay(band) if carried else trust.not_carried(band, rates_hz=rates)
    return RoomBand(
        figures=BandFigures(band=band, verdict=verdict, reasons=reasons),
        claps_used=0,
        effective_claps=None,
        spots=0,
        interval_from=None,
    )


def _longer_neighbour(
    column: int, *, fits: Sequence[BandFit | None], estimates: Sequence[Estimate | None]
) -> tuple[Band, float] | None:
    """Return the neighbouring band that rings so much longer that its leakage bends this one."""
    fit, estimate = fits[column], estimates[column]
    if fit is None or estimate is None:
        return None
    own_s = _own_time_s(fit, estimate)
    longest: tuple[Band, float] | None = None
    for other in (column - 1, column + 1):
        if not 0 <= other < len(fits):
            continue
        there, beside = fits[other], estimates[other]
        if there is None or beside is None or beside.relative_half_width > 1.0:
            continue
        beside_s = _own_time_s(there, beside)
        longer = beside_s > trust.NEIGHBOUR_RATIO * own_s
        # Where the band is bent, the bend has to be the neighbour's.
        longer &= fit.n_slopes == 1 or _is_like(fit.joint.model(0).decay_times_s[1], beside_s)
        if longer and (longest is None or beside_s > longest[1]):
            longest = (there.band_filter.band, beside_s)
    return longest


def _own_time_s(fit: BandFit, estimate: Estimate) -> float:
    """Return what a band has of its own: a second slope so faint may be a neighbour's."""
    if fit.n_slopes == 2 and fit.joint.log_ratio[0] < -trust.LEAKAGE_DB / DB_PER_NEPER:
        return fit.joint.model(0).decay_times_s[0]
    return estimate.decay_time_s


def _is_like(time_s: float, other_s: float) -> bool:
    return 1.0 / trust.LEAKAGE_LIKE < time_s / other_s < trust.LEAKAGE_LIKE


def _room_figures(
    fit: BandFit,
    estimate: Estimate,
    *,
    own: Sequence[BandFigures],
    spot: np.ndarray,
    neighbour: tuple[Band, float] | None,
    concerns: tuple[Remark, ...],
) -> BandFigures:
    """Figures of one band over all claps: means over the claps of a spot, then over the spots."""
    band = fit.band_filter.band
    ranges = [f.decay_range_db for f in own if f.decay_range_db is not None]
    range_db = float(np.median(ranges)) if ranges else 0.0
    levels = [f.level_dbfs for f in own if f.level_dbfs is not None]
    fitted = [f.fitted_range_db for f in own if f.fitted_range_db is not None]
    means = {name: _spot_mean([getattr(f, name) for f in own], spot) for name in _SPOT_MEANS}
    if range_db < 35.0:
        means["t20_s"] = None
    if range_db < 45.0:
        means["t30_s"] = None
    t20, t30 = means["t20_s"], means["t30_s"]
    curvature = 100.0 * (t30 / t20 - 1.0) if t20 and t30 else None
    # A neighbour's leak is no slope of the room.
    slopes = 1 if neighbour is not None else fit.n_slopes
    bt = band.width_hz * estimate.decay_time_s
    cut_off = [fit.model(row).is_cut_off(trace.end_s) for row, trace in enumerate(fit.traces)]
    verdict, reasons = trust.judge(
        trust.Evidence(
            band=band,
            decay_range_db=range_db,
            relative_half_width=estimate.relative_half_width,
            bt=bt,
            curvature_percent=curvature,
            slopes=slopes,
            slope_times_s=fit.joint.model(0).decay_times_s[:slopes],
            second_slope_gain=fit.second_slope_gain,
            cut_off=sum(cut_off) > len(cut_off) / 2,
            neighbour=neighbour,
            spots=estimate.n_spots,
            time_over_t20=estimate.decay_time_s / t20 if t20 else 1.0,
            concerns=concerns,
        )
    )
    figures = BandFigures(
        band=band,
        **means,
        decay_time_s=estimate.decay_time_s,
        spot_ci95_s=estimate.spot_ci95_s,
        ci95_s=estimate.ci95_s,
        decay_range_db=range_db,
        fitted_range_db=float(np.median(fitted)) if fitted else None,
        level_dbfs=float(np.median(levels)) if levels else None,
        curvature_percent=curvature,
        bt=bt,
        slopes=slopes,
        verdict=verdict,
        reasons=reasons,
    )
    return withhold(figures)


def _spot_mean(values: Sequence[float | None], spot: np.ndarray) -> float | None:
    """Mean over the spots of the mean over each spot's claps, of the values that are there."""
    by_spot: dict[int, list[float]] = {}
    for value, where in zip(values, spot, strict=True):
        if value is not None:
            by_spot.setdefault(int(where), []).append(value)
    if not by_spot:
        return None
    return float(np.mean([np.mean(v) for v in by_spot.values()]))
