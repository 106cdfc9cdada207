"""A reading as plain data for people: every number rounded, every sentence worded, once.

The screen, the page and the figures show what stands here and decide
only where it goes.
"""

from __future__ import annotations

from dataclasses import dataclass

from roomir.reading.reading import ClapReading, Reading, RoomBand, TakeReading
from roomir.remarks import Remark
from roomir.report.advice import next_steps
from roomir.report.answer import answer, bass_ratio, but, interval_note, why
from roomir.report.found import finding_details, finding_lines
from roomir.report.heed import heed
from roomir.report.quantities import QuantityTable, band_decimals, clap_table, room_table
from roomir.report.room import RoomAdvice
from roomir.report.rounding import rounded, rounded_outwards, significant
from roomir.report.wording import band_name, counted, fault_line, joined, said_and_done, sentence

LIMITS = (
    "What a clap cannot do: it carries little energy below about 250 Hz and does not radiate alike in all"
    " directions, so this is not a measurement under ISO 3382-2; the recorder's levels are uncalibrated."
)
"""Said once with every reading."""

CAUTION = (
    "If you pop balloons or clap boards: hearing protection on, at arm's length or more, prick the balloon"
    " instead of over-inflating it, and warn everybody in earshot first."
)
"""Said once with every reading."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BandRow:
    """One band in the short table; a withheld figure is `MISSING`.

    ``decay_time``, ``low`` and ``high`` are in seconds and share their
    decimals; ``low`` and ``high`` are empty where there is no interval.
    ``why`` has the reason that weighs most against the band (none for a
    reliable one), ``every_reason`` all of them.
    """

    band: str
    decay_time: str
    low: str
    high: str
    t20: str
    verdict: str
    why: tuple[str, ...]
    every_reason: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ClapView:
    """One event of a take: when, what became of it, and its figures (``None``: not read)."""

    summary: str
    used: bool
    concerns: tuple[str, ...]
    table: QuantityTable | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeView:
    """One recording: its name as given, what it is, what is wrong with it."""

    path: str
    summary: str
    concerns: tuple[str, ...]
    notes: tuple[str, ...]
    claps: tuple[ClapView, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingView:
    """Everything a person is told about a reading, in the order in which it is told.

    Attributes
    ----------
    answer : str
        The decay time at mid frequencies in words, or why there is none.
    verdict : str
        Trust in that answer, one of `VERDICTS`.
    but : tuple of str
        What the answer does not hold for: one sentence per group of bands.
    next_steps : tuple of str
        What to do for a better reading, most useful first.
    rows : tuple of BandRow
        The short table.
    shared_why : tuple of str
        Reasons that hold for every band, said once instead of in every row.
    interval_note : str
        Which kind of interval is shown; empty where none is.
    bass_ratio : str
        Bass ratio in words; empty where a member is missing.
    findings : tuple of str
        What else the decay shows; empty where nothing does.
    finding_details : tuple of str
        The same band by band and reflection by reflection.
    room : tuple of str
        Distances and frequencies for the room's size; empty where it was not told.
    target : tuple of str
        How it stands against a target; empty where none was named.
    table : QuantityTable
        Every quantity of every band.
    takes : tuple of TakeView
        What each recording is and what is wrong with it.
    failures : tuple of str
        One line for each file that gave no reading.
    limits : tuple of str
        What a clap cannot do, and the caution.
    """

    answer: str
    verdict: str
    but: tuple[str, ...]
    next_steps: tuple[str, ...]
    rows: tuple[BandRow, ...]
    shared_why: tuple[str, ...]
    interval_note: str
    bass_ratio: str
    findings: tuple[str, ...]
    finding_details: tuple[str, ...]
    room: tuple[str, ...]
    target: tuple[str, ...]
    table: QuantityTable
    takes: tuple[TakeView, ...]
    failures: tuple[str, ...]
    limits: tuple[str, ...]


def view(reading: Reading, *, room: RoomAdvice | None = None, target: tuple[str, ...] = ()) -> ReadingView:
    """Word and round a reading.

    Parameters
    ----------
    reading : Reading
        With bands, or with nothing but failures.
    room : RoomAdvice, optional
        What the decay time says about a room of known size.
    target : tuple of str
        How it stands against a target (`roomir.report.aims.aim_says`).

    Returns
    -------
    ReadingView
        Strings only; names of files are as given and not yet safe to print.
    """
    headline, verdict = answer(reading)
    spots = max((room_band.spots for room_band in reading.bands), default=0)
    shared = _shared_reasons(reading.bands)
    return ReadingView(
        answer=headline,
        verdict=verdict,
        but=(*heed(reading), *but(reading.bands)),
        next_steps=tuple(
            sentence(step.do if not step.bands else f"{joined(step.bands)}: {step.do}")
            for step in next_steps(reading)
        ),
        rows=tuple(_row(room_band, shared=shared) for room_band in reading.bands),
        shared_why=tuple(sentence(remark.says) for remark in shared),
        interval_note=interval_note(reading.bands),
        bass_ratio=bass_ratio(reading),
        findings=finding_lines(reading.findings, spots=spots),
        finding_details=finding_details(reading.findings, spots=spots),
        room=room_lines(room) if room else (),
        target=target,
        table=room_table(reading.bands),
        takes=tuple(_take(take) for take in reading.takes),
        failures=fault_lines(reading),
        limits=(LIMITS, CAUTION),
    )


def fault_lines(reading: Reading) -> tuple[str, ...]:
    """Write one line for each file that gave no reading: it could not be opened, or holds no clap to read."""
    return tuple(fault_line(one.path, says=one.says, remedy=one.remedy) for one in reading.failures)


# ------------------------------------------------------------------ the short table


_MOST_REASONS = 1
"""In a row of the short table; the weightiest comes first, and all of them under ``--full``."""


def _shared_reasons(bands: tuple[RoomBand, ...]) -> tuple[Remark, ...]:
    if len(bands) < 2:
        return ()
    first, *others = (room_band.figures.reasons for room_band in bands)
    return tuple(remark for remark in first if all(remark in reasons for reasons in others))


def _row(room_band: RoomBand, *, shared: tuple[Remark, ...]) -> BandRow:
    figures = room_band.figures
    name = band_name(figures.band.nominal_hz)
    decimals = band_decimals(figures)
    low, high = rounded_outwards(figures.ci95_s, decimals=decimals) if figures.ci95_s else ("", "")
    against = [remark for remark in figures.reasons if remark not in shared]
    if figures.verdict == "reliable":
        against = []
    return BandRow(
        band=name,
        decay_time=rounded(figures.decay_time_s, decimals=decimals),
        low=low,
        high=high,
        t20=rounded(figures.t20_s, decimals=decimals),
        verdict=figures.verdict,
        why=tuple(why(remark, band=name) for remark in against[:_MOST_REASONS]),
        every_reason=tuple(why(remark, band=name) for remark in figures.reasons),
    )


# ------------------------------------------------------------------ takes and claps


def _take(take: TakeReading) -> TakeView:
    used = sum(clap.used for clap in take.claps)
    parts = [
        f"{take.duration_s:.1f} s",
        f"{take.sample_rate_hz / 1000:g} kHz",
        counted(take.channels, "channel"),
        f"{counted(used, 'clap')} used, {counted(len(take.claps) - used, 'event')} set aside",
    ]
    if take.recorded_at is not None:
        source = f" ({take.recorded_at_from})" if take.recorded_at_from else ""
        parts.append(f"recorded {take.recorded_at:%Y-%m-%d %H:%M}{source}")
    return TakeView(
        path=take.path,
        summary=", ".join(parts),
        concerns=tuple(said_and_done(remark) for remark in take.concerns),
        notes=tuple(said_and_done(remark) for remark in take.notes),
        claps=tuple(_clap(clap) for clap in take.claps),
    )


def _clap(clap: ClapReading) -> ClapView:
    because = clap.set_aside_because
    fate = "used" if because is None else f"set aside: {said_and_done(because)}"
    return ClapView(
        summary=f"{clap.onset_s:.3f} s, peak {rounded(clap.peak_dbfs, decimals=1)} dB re full scale, {fate}",
        used=clap.used,
        concerns=tuple(said_and_done(remark) for remark in clap.concerns),
        table=clap_table(clap.bands) if clap.bands else None,
    )


# ------------------------------------------------------------------ the room


def room_lines(advice: RoomAdvice) -> tuple[str, ...]:
    """Word what the decay time says about a room of known size."""
    remarks = tuple(said_and_done(remark) for remark in advice.remarks)
    if advice.decay_time_s is None:
        return remarks
    volume = f"{round(advice.volume_m3, 1):g}"
    return (
        (
            f"In {volume} m3 statistics hold above {significant(advice.schroeder_hz, digits=2)} Hz"
            " (Schroeder frequency)."
        ),
        (
            "Direct and reverberant sound are equally strong"
            f" {significant(advice.reverberation_distance_m, digits=2)} m from a source that radiates"
            " alike in all directions (reverberation or critical distance)."
        ),
        (
            f"Direct sound leads within {significant(advice.direct_leads_within_m, digits=2)} m of a voice or"
            " an instrument played towards the microphone"
            f" (directivity factor {advice.directivity_assumed:g} assumed)."
        ),
        (
            f"For a reading, keep at least {significant(advice.least_distance_m, digits=2)} m between clap"
            " and microphone (ISO 3382-2)."
        ),
        *remarks,
    )
