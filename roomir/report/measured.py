"""How a room was measured, as ISO 3382-2 asks a report to state it, and how far it is from that standard."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from roomir.report.history import stage_line
from roomir.report.unit_system import UnitSystem
from roomir.report.wording import counted, joined, printable

if TYPE_CHECKING:  # it needs numpy, which `roomir --help` does not
    from roomir.compare.history import History, StageReading
    from roomir.reading.reading import Reading

_ENGINEERING_COMBINATIONS = 6
_SURVEY_COMBINATIONS = 2
"""Positions of source and microphone (ISO 3382-2:2008, Table 1, from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One line of how it was measured."""

    name: str
    value: str


def _spots(reading: Reading) -> int:
    return max((one.spots for one in reading.bands), default=0)


def deviation(reading: Reading | None) -> str:
    """Say how far this is from a measurement under ISO 3382-2."""
    spots = 0 if reading is None else _spots(reading)
    if spots >= _ENGINEERING_COMBINATIONS:
        grade = "Number of positions as for an engineering measurement"
    elif spots >= _SURVEY_COMBINATIONS:
        grade = "Number of positions as for a survey"
    else:
        grade = "Fewer positions than a survey needs"
    return f"{grade}; source not omnidirectional, so not a measurement under ISO 3382-2."


def facts(history: History, last: StageReading, *, units: UnitSystem) -> list[Fact]:
    """List what ISO 3382-2:2008, clause 9, asks a report to state, as far as it is known."""
    reading = last.reading
    unknown = "not written down"
    dimensions = None if history.dimensions_m is None else units.lengths_text(history.dimensions_m)
    volume = None if history.volume_m3 is None else units.volume_text(history.volume_m3)
    named = [printable(name) for name in dict.fromkeys(last.positions) if name]
    used = sum(clap.used for take in reading.takes for clap in take.claps)
    rates = sorted({take.sample_rate_hz for take in reading.takes})
    dates = sorted({f"{take.recorded_at:%Y-%m-%d}" for take in reading.takes if take.recorded_at is not None})
    temperature, humidity = last.climate.temperature_c, last.climate.humidity_percent
    air = [
        "temperature " + (unknown if temperature is None else f"{temperature:.0f} degC"),
        "humidity " + (unknown if humidity is None else f"{humidity:.0f} %"),
    ]
    return [
        Fact(name="Room", value=printable(history.room)),
        Fact(name="Volume", value=volume or unknown),
        Fact(name="Shape", value=f"box of {dimensions}" if dimensions else unknown),
        Fact(name="Condition", value=", ".join(filter(None, (printable(last.name), stage_line(last))))),
        Fact(name="People in the room", value=unknown),
        Fact(name="Air", value=", ".join(air)),
        Fact(
            name="Date of the recordings",
            value=(dates[0] if len(dates) == 1 else f"{dates[0]} to {dates[-1]}") if dates else unknown,
        ),
        Fact(
            name="Method",
            value="impulses recorded and integrated backwards; decay time by maximum likelihood over the"
            " range that is heard, given as T30; T20 from -5 to -25 dB, T30 from -5 to -35 dB,"
            " EDT from 0 to -10 dB",
        ),
        Fact(name="Source", value=_sources(last)),
        Fact(
            name="Recorder",
            value=f"{counted(len(reading.takes), 'recording')} at"
            f" {joined(f'{rate / 1000:g} kHz' for rate in rates)}, uncalibrated"
            if rates
            else unknown,
        ),
        Fact(
            name="Positions",
            value=f"{counted(_spots(reading), 'spot')} of source and microphone, {counted(used, 'clap')} used"
            + (f": {', '.join(named)}" if named else ""),
        ),
        Fact(
            name="Bands",
            value=f"{reading.band_set}s of IEC 61260-1, filtered backwards in time",
        ),
        Fact(
            name="Averaging",
            value="over the claps of a spot, then over the spots, on the logarithm of the decay time",
        ),
    ]


def _sources(last: StageReading) -> str:
    if last.sources:
        return f"{joined(map(printable, last.sources))}; not omnidirectional"
    return "impulses such as hand claps, not omnidirectional"
