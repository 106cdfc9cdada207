"""From recordings to a reading: claps, bands, fits, verdicts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from roomir import __version__
from roomir.audio.recording import Recording, Sound
from roomir.bands.band import BAND_SETS, OCTAVE_RATIO, REFERENCE_HZ, Band
from roomir.bands.filters import BandFilter
from roomir.claps.clap import Clap
from roomir.claps.find import find_claps
from roomir.decay.band_fit import BandFit, fit_bands
from roomir.decay.combine import Estimate, estimate_room, own_estimates
from roomir.decay.curve import CurveQuantities, DecayCurve, integrate_backwards, read_curve
from roomir.decay.energy import LEAD_S, EnergyTrace, trace_energy
from roomir.decay.model import DB_PER_NEPER
from roomir.decay.spots import find_spots
from roomir.reading import trust
from roomir.reading.evidence import DecayEvidence, keep_evidence
from roomir.reading.listen import listening_length_s
from roomir.reading.reading import (
    BandFigures,
    ClapReading,
    Failure,
    MidFigures,
    Reading,
    RoomBand,
    TakeReading,
)
from roomir.remarks import Remark

HIGHEST_SHARE = 0.48
"""Part of the sampling rate up to which a band may reach. What lies between it and half the
rate is the recorder's own low-pass filter."""


_SPOT_MEANS = ("edt_s", "t20_s", "t30_s", "nonlinearity_permille", "c50_db", "c80_db", "d50", "ts_s")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Heard:
    """One used clap with its energy in every band."""

    take: int
    place: int
    traces: tuple[EnergyTrace | None, ...]


def carries(band: Band, *, sample_rate_hz: float) -> bool:
    """Whether a recording of this rate holds all of the band."""
    return band.high_hz <= HIGHEST_SHARE * sample_rate_hz


def take_reading(
    recordings: Sequence[Recording],
    *,
    failures: Sequence[Failure] = (),
    band_set: str = "octave",
    with_evidence: bool = False,
) -> Reading:
    """Read the decay of one room in one state.

    Parameters
    ----------
    recordings : sequence of Recording
        The takes.
    failures : sequence of Failure
        Files that could not be opened, to be kept in the reading.
    band_set : str
        Name of the bands to read: a key of ``BAND_SETS``.
    with_evidence : bool
        Whether the reading keeps what pictures of its decays need.

    Returns
    -------
    Reading
        Without bands where no clap could be used.
    """
    found = [find_claps(recording.sound) for recording in recordings]
    return read_claps(
        recordings,
        found,
        failures=failures,
        band_set=band_set,
        with_evidence=with_evidence,
    )


def read_claps(
    recordings: Sequence[Recording],
    found: Sequence[Sequence[Clap]],
    *,
    failures: Sequence[Failure] = (),
    band_set: str = "octave",
    with_evidence: bool = False,
) -> Reading:
    """Read recordings whose claps are known; as :func:`take_reading` otherwise.

    Parameters
    ----------
    found : sequence of sequence of Clap
        The candidates of each recording, in time order.
    """
    bands = BAND_SETS[band_set]
    filters = tuple(BandFilter(band) for band in bands)
    heard = _hear_all(recordings, found, filters=filters)
    fits = fit_bands([h.traces for h in heard], filters=filters) if heard else (None,) * len(filters)
    spot = find_spots([fit for fit in fits if fit is not None], n_claps=len(heard))
    clap_bands, evidence = _clap_figures(
        fits, filters=filters, heard=heard, recordings=recordings, with_evidence=with_evidence
    )
    room_bands = (
        _room_bands(fits, spot=spot, clap_bands=clap_bands, bands=bands, recordings=recordings)
        if heard
        else ()
    )
    takes = tuple(
        _take(recording, claps, take=i, heard=heard, clap_bands=clap_bands, bands=bands)
        for i, (recording, claps) in enumerate(zip(recordings, found, strict=True))
    )
    return Reading(
        roomir_version=__version__,
        band_set=band_set,
        takes=takes,
        failures=(*failures, *_without_clap(recordings, found)),
        bands=room_bands,
        mid=_mid(room_bands),
        bass_ratio=_bass_ratio(room_bands),
        evidence=tuple(evidence),
    )


def _hear_all(
    recordings: Sequence[Recording], found: Sequence[Sequence[Clap]], *, filters: Sequence[BandFilter]
) -> list[_Heard]:
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
            out.append(_Heard(take=take, place=place, traces=tuple(traces)))
    return out


def _hear(sound: Sound, clap: Clap, *, filters: Sequence[BandFilter]) -> tuple[EnergyTrace, ...]:
    """Cut one clap out, as long as it can be followed in any band, and filter it."""
    rate = sound.sample_rate_hz
    start = max(0, clap.onset - round(LEAD_S * rate))
    free = clap.stop - clap.onset
    length = min(free, round(listening_length_s(sound, clap) * rate))
    stretch = sound.stretch(start=start, stop=clap.onset + length)
    return trace_energy(stretch, onset=clap.onset - start, sample_rate_hz=rate, filters=filters)


def _clap_figures(
    fits: Sequence[BandFit | None],
    *,
    filters: Sequence[BandFilter],
    heard: Sequence[_Heard],
    recordings: Sequence[Recording],
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
            out[int(clap)][column] = _own_figures(fit, row, estimate, curve=curve)
            if with_evidence:
                evidence.append(
                    keep_evidence(
                        fit.traces[row],
                        take=heard[int(clap)].take,
                        clap=heard[int(clap)].place,
                        band=fit.band_filter.band,
                        model=fit.model(row),
                        curve=curve,
                        start_s=fit.start_s,
                    )
                )
    return out, evidence


def _without_decay(band: Band, heard: _Heard, column: int, recordings: Sequence[Recording]) -> BandFigures:
    if heard.traces[column] is None:
        verdict, reasons = trust.not_carried(band, rates_hz=[recordings[heard.take].sound.sample_rate_hz])
    else:
        verdict, reasons = trust.no_decay(band)
    return BandFigures(band=band, verdict=verdict, reasons=reasons)


def _own_figures(fit: BandFit, row: int, estimate: Estimate, *, curve: DecayCurve | None) -> BandFigures:
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
        bt=bt,
        slopes=model.n_slopes,
        verdict=verdict,
        reasons=reasons,
    )
    return _withhold(figures)


def _withhold(figures: BandFigures) -> BandFigures:
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


def _room_bands(
    fits: Sequence[BandFit | None],
    *,
    spot: np.ndarray,
    clap_bands: Sequence[Sequence[BandFigures]],
    bands: Sequence[Band],
    recordings: Sequence[Recording],
) -> tuple[RoomBand, ...]:
    estimates = [None if fit is None else estimate_room(fit, spot=spot) for fit in fits]
    out = []
    for column, (band, fit) in enumerate(zip(bands, fits, strict=True)):
        neighbour = _longer_neighbour(column, fits=fits, estimates=estimates)
        estimate = estimates[column]
        if fit is None or estimate is None:
            out.append(_silent_band(band, recordings=recordings))
            continue
        own = [clap_bands[int(row)][column] for row in fit.rows]
        figures = _room_figures(fit, estimate, own=own, spot=spot[fit.rows], neighbour=neighbour)
        out.append(
            RoomBand(
                figures=figures,
                claps_used=estimate.n_claps,
                effective_claps=estimate.effective_claps,
                spots=estimate.n_spots,
                interval_from=estimate.interval_from if figures.ci95_s is not None else None,
            )
        )
    return tuple(out)


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
) -> BandFigures:
    """Figures of one band over all claps: means over the claps of a spot, then over the spots."""
    band = fit.band_filter.band
    ranges = [f.decay_range_db for f in own if f.decay_range_db is not None]
    range_db = float(np.median(ranges)) if ranges else 0.0
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
            time_over_t20=estimate.decay_time_s / t20 if t20 else 1.0,
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
        curvature_percent=curvature,
        bt=bt,
        slopes=slopes,
        verdict=verdict,
        reasons=reasons,
    )
    return _withhold(figures)


def _spot_mean(values: Sequence[float | None], spot: np.ndarray) -> float | None:
    """Mean over the spots of the mean over each spot's claps, of the values that are there."""
    by_spot: dict[int, list[float]] = {}
    for value, where in zip(values, spot, strict=True):
        if value is not None:
            by_spot.setdefault(int(where), []).append(value)
    if not by_spot:
        return None
    return float(np.mean([np.mean(v) for v in by_spot.values()]))


def _take(
    recording: Recording,
    claps: Sequence[Clap],
    *,
    take: int,
    heard: Sequence[_Heard],
    clap_bands: Sequence[Sequence[BandFigures]],
    bands: Sequence[Band],
) -> TakeReading:
    read = {h.place: figures for h, figures in zip(heard, clap_bands, strict=True) if h.take == take}
    return TakeReading(
        path=recording.source_name,
        sha256=recording.source_sha256,
        recorded_at=recording.recorded_at,
        recorded_at_from=recording.recorded_at_from,
        sample_rate_hz=recording.sound.sample_rate_hz,
        duration_s=recording.duration_s,
        channels=recording.sound.n_channels,
        concerns=(),
        notes=(*recording.notes, *_take_notes(recording, bands=bands)),
        claps=tuple(
            ClapReading(
                onset_s=clap.onset_s,
                stop_s=clap.stop_s,
                peak_dbfs=clap.peak_dbfs,
                set_aside_because=clap.set_aside_because,
                bands=tuple(read.get(place, ())),
            )
            for place, clap in enumerate(claps)
        ),
    )


def _take_notes(recording: Recording, *, bands: Sequence[Band]) -> list[Remark]:
    notes = []
    rate = recording.sound.sample_rate_hz
    lost = [trust.hear(band) for band in bands if not carries(band, sample_rate_hz=rate)]
    if lost:
        notes.append(
            Remark(
                code="rate-too-low",
                says=f"{rate} samples a second cannot carry {', '.join(lost)}",
                remedy="record at 44100 or 48000 samples a second",
            )
        )
    return notes


def _without_clap(recordings: Sequence[Recording], found: Sequence[Sequence[Clap]]) -> list[Failure]:
    """Name the takes in which nothing could be used: they open, but give no reading."""
    out = []
    for recording, claps in zip(recordings, found, strict=True):
        if any(clap.used for clap in claps):
            continue
        heard = f"; of {len(claps)} sounds none is a clap with a free decay" if claps else ""
        out.append(
            Failure(
                path=recording.source_name,
                code="no-clap-found",
                says=f"{recording.source_name}: no clap was found{heard}",
                remedy="in silence, clap once hard, wait until the room is quiet, and clap again",
            )
        )
    return out


def _octave_members(bands: Sequence[RoomBand], *, octave_hz: float) -> list[BandFigures]:
    """Return the bands that make up one octave: itself, or its three thirds; empty where one is missing."""
    members = [
        band.figures
        for band in bands
        if abs(math.log(band.figures.band.exact_hz / octave_hz)) < 0.5 * math.log(OCTAVE_RATIO)
    ]
    whole = members and len(members) == members[0].band.fraction
    return members if whole and all(figures.decay_time_s is not None for figures in members) else []


def _mid(bands: Sequence[RoomBand]) -> MidFigures:
    """T_mid of ISO 3382-1:2009, mean of the 500 Hz and 1 kHz octaves; their errors are taken as unrelated."""
    halves = [_octave_members(bands, octave_hz=OCTAVE_RATIO**x * REFERENCE_HZ) for x in (-1, 0)]
    if not all(halves):
        return MidFigures()
    members = [figures for half in halves for figures in half]
    n = len(members)
    time_s = sum(figures.decay_time_s or 0.0 for figures in members) / n
    arms: list[list[float]] = [[], []]
    for figures in members:
        if figures.ci95_s is None or figures.decay_time_s is None:
            return MidFigures(decay_time_s=time_s)
        for side in (0, 1):
            arms[side].append(figures.ci95_s[side] - figures.decay_time_s)
    t20s = [figures.t20_s for figures in members if figures.t20_s is not None]
    return MidFigures(
        decay_time_s=time_s,
        ci95_s=(time_s - math.hypot(*arms[0]) / n, time_s + math.hypot(*arms[1]) / n),
        t20_s=sum(t20s) / n if len(t20s) == n else None,
    )


def _bass_ratio(bands: Sequence[RoomBand]) -> float | None:
    """(T125 + T250) / (T500 + T1000), common practice after Beranek."""
    means = []
    for x in (-3, -2, -1, 0):
        members = _octave_members(bands, octave_hz=OCTAVE_RATIO**x * REFERENCE_HZ)
        if not members:
            return None
        means.append(sum(figures.decay_time_s or 0.0 for figures in members) / len(members))
    return (means[0] + means[1]) / (means[2] + means[3])
