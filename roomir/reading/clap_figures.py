"""Every quantity of one clap in one band, and what a picture of it needs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from roomir.audio.recording import Recording
from roomir.bands.band import Band
from roomir.bands.filters import BandFilter
from roomir.decay.band_fit import BandFit
from roomir.decay.combine import Estimate, own_estimates
from roomir.decay.curve import CurveQuantities, DecayCurve, integrate_backwards, read_curve
from roomir.decay.heard import HeardClap
from roomir.faults.fault import Fault, remarks_of
from roomir.reading import trust
from roomir.reading.evidence import DecayEvidence, keep_evidence
from roomir.reading.reading import BandFigures
from roomir.remarks import Remark


def clap_figures(
    fits: Sequence[BandFit | None],
    *,
    filters: Sequence[BandFilter],
    heard: Sequence[HeardClap],
    recordings: Sequence[Recording],
    faults: Sequence[Fault],
    with_evidence: bool,
) -> tuple[list[list[BandFigures]], list[DecayEvidence]]:
    """Every quantity of every clap in every band, shape (n_claps, n_bands), and the evidence."""
    evidence: list[DecayEvidence] = []
    out = [[_without_decay(f.band, h, i, recordings) for i, f in enumerate(filters)] for h in heard]
    for column, fit in enumerate(fits):
        if fit is None:
            continue
        for row, (clap, estimate) in enumerate(zip(fit.rows, own_estimates(fit), strict=True)):
            if estimate is None:
                continue
            curve = integrate_backwards(
                fit.traces[row], model=fit.model(row), width_hz=fit.band_filter.band.width_hz
            )
            take, place = heard[int(clap)].take, heard[int(clap)].place
            range_db = fit.model(row).range_db(from_s=0.0, end_s=fit.traces[row].end_s)
            concerns = remarks_of(
                fault
                for fault in faults
                if fault.strikes(take=take, place=place, column=column, range_db=range_db)
            )
            out[int(clap)][column] = _own_figures(fit, row, estimate, curve=curve, concerns=concerns)
            if with_evidence:
                evidence.append(
                    keep_evidence(
                        fit.traces[row],
                        take=take,
                        clap=place,
                        band=fit.band_filter.band,
                        model=fit.model(row),
                        curve=curve,
                        start_s=fit.start_s,
                    )
                )
    return out, evidence


def _without_decay(band: Band, heard: HeardClap, column: int, recordings: Sequence[Recording]) -> BandFigures:
    if heard.traces[column] is None:
        verdict, reasons = trust.not_carried(band, rates_hz=[recordings[heard.take].sound.sample_rate_hz])
    else:
        verdict, reasons = trust.no_decay(band)
    return BandFigures(band=band, verdict=verdict, reasons=reasons)


def _own_figures(
    fit: BandFit,
    row: int,
    estimate: Estimate,
    *,
    curve: DecayCurve | None,
    concerns: tuple[Remark, ...],
) -> BandFigures:
    """Figures of one clap in one band."""
    band = fit.band_filter.band
    trace = fit.traces[row]
    model = fit.model(row)
    range_db = model.range_db(from_s=0.0, end_s=trace.end_s)
    quantities = (
        read_curve(curve, trace=trace, model=model, width_hz=band.width_hz, decay_range_db=range_db)
        if curve is not None
        else CurveQuantities()
    )
    bt = band.width_hz * estimate.decay_time_s
    verdict, reasons = trust.judge(
        trust.Evidence(
            band=band,
            decay_range_db=range_db,
            relative_half_width=estimate.relative_half_width,
            bt=bt,
            curvature_percent=quantities.curvature_percent,
            slopes=model.n_slopes,
            slope_times_s=model.decay_times_s,
            second_slope_gain=fit.second_slope_gain,
            cut_off=model.is_cut_off(trace.end_s),
            neighbour=None,
            time_over_t20=estimate.decay_time_s / quantities.t20_s if quantities.t20_s else 1.0,
            concerns=concerns,
        )
    )
    figures = BandFigures(
        band=band,
        edt_s=quantities.edt_s,
        t20_s=quantities.t20_s,
        t30_s=quantities.t30_s,
        nonlinearity_permille=quantities.nonlinearity_permille,
        curvature_percent=quantities.curvature_percent,
        c50_db=quantities.c50_db,
        c80_db=quantities.c80_db,
        d50=quantities.d50,
        ts_s=quantities.ts_s,
        decay_time_s=estimate.decay_time_s,
        spot_ci95_s=estimate.spot_ci95_s,
        ci95_s=estimate.ci95_s,
        decay_range_db=range_db,
        fitted_range_db=model.range_db(from_s=fit.start_s, end_s=trace.end_s),
        level_dbfs=10.0 * math.log10(max(model.decaying(0.0), 1e-30)),
        bt=bt,
        slopes=model.n_slopes,
        verdict=verdict,
        reasons=reasons,
    )
    return withhold(figures)


def withhold(figures: BandFigures) -> BandFigures:
    """Take the decay time out where it would be a guess."""
    assert figures.decay_time_s is not None
    assert figures.spot_ci95_s is not None
    assert figures.decay_range_db is not None
    half = 0.5 * (figures.spot_ci95_s[1] - figures.spot_ci95_s[0]) / figures.decay_time_s
    supported = half <= trust.WITHHOLD_HALF_WIDTH and figures.decay_range_db >= trust.WITHHOLD_RANGE_DB
    if supported and figures.decay_time_s <= trust.LONGEST_DECAY_S:
        return figures
    return replace(
        figures, decay_time_s=None, spot_ci95_s=None, ci95_s=None, edt_s=None, bt=None, slopes=None,
        c50_db=None, c80_db=None, d50=None, ts_s=None,
    )  # fmt: skip
