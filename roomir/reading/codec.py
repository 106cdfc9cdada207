"""A reading as plain data and back: the document ``roomir/reading/1`` without what a room's size adds.

With its full precision a reading comes back equal, apart from the evidence
for pictures, which is not kept. Keys stand in the order of the contract and
are never left out; what is withheld is ``None``.
"""

from __future__ import annotations

from typing import Any

from roomir.bands.band import BAND_SETS, Band
from roomir.errors import RoomirError
from roomir.findings.findings import RoomFindings
from roomir.reading.findings_codec import decode_findings, encode_findings
from roomir.reading.parts import Part, PartError
from roomir.reading.reading import (
    BandFigures,
    ClapReading,
    Failure,
    Interval,
    MidFigures,
    Reading,
    RoomBand,
    SpotTime,
    TakeReading,
)
from roomir.remarks import Remark

SCHEMA = "roomir/reading/1"
"""Name and version of the contract."""

Document = dict[str, Any]
"""Plain dicts, lists, strings, numbers, booleans and ``None``."""

_FIGURES = (
    "edt_s", "t20_s", "t30_s", "decay_time_s", "spot_ci95_s", "ci95_s", "decay_range_db", "fitted_range_db",
    "level_dbfs", "nonlinearity_permille", "curvature_percent", "c50_db", "c80_db", "d50", "ts_s", "bt",
)  # fmt: skip
_ADDED = ("level_dbfs",)
"""Keys that documents of earlier versions lack."""
_REMARK = ("code", "says", "remedy")
_INTERVALS = ("spot_ci95_s", "ci95_s")
_VERDICTS = ("reliable", "indicative", "unusable")
_INTERVALS_FROM = ("scatter", "prior")


# ------------------------------------------------------------------ writing


def encode(reading: Reading, *, decimals: int | None = None) -> Document:
    """Make the document of a reading.

    Parameters
    ----------
    reading : Reading
        With bands, or with nothing but failures.
    decimals : int, optional
        Round every number to so many; without it the reading can be made
        again from the document exactly.

    Returns
    -------
    dict
        Fit for JSON unless a number is NaN or infinite.
    """
    write = _Writer(decimals=decimals)
    return {
        "schema": SCHEMA,
        "roomir_version": reading.roomir_version,
        "band_set": reading.band_set,
        "takes": [write.take(take) for take in reading.takes],
        "failures": [encode_failure(failure) for failure in reading.failures],
        "bands": [write.room_band(room_band) for room_band in reading.bands],
        "mid": write.mid(reading.mid),
        "bass_ratio": write.number(reading.bass_ratio),
        "findings": encode_findings(reading.findings, number=write.number),
    }


def encode_room_band(room_band: RoomBand, *, decimals: int | None = None) -> Document:
    """Make the part of the document that stands for one band of the room."""
    return _Writer(decimals=decimals).room_band(room_band)


def encode_remark(remark: Remark) -> Document:
    """Make the part of the document that stands for a remark."""
    return {"code": remark.code, "says": remark.says, "remedy": remark.remedy}


def encode_failure(failure: Failure) -> Document:
    """Make the part of the document that stands for a file without a reading."""
    return {"path": failure.path, "code": failure.code, "says": failure.says, "remedy": failure.remedy}


class _Writer:
    """Parts of the document, with their numbers as exact as is wanted."""

    def __init__(self, *, decimals: int | None) -> None:
        self._decimals = decimals

    def number(self, value: float | None) -> float | None:
        # float() also turns numpy's scalars, which json does not know, into numbers it does.
        if value is None:
            return None
        return float(value) if self._decimals is None else round(float(value), self._decimals)

    def interval(self, interval: Interval | None) -> list[float | None] | None:
        return None if interval is None else [self.number(end) for end in interval]

    def band(self, figures: BandFigures) -> Document:
        return {
            "centre_hz": figures.band.nominal_hz,
            **{
                name: (self.interval if name in _INTERVALS else self.number)(getattr(figures, name))
                for name in _FIGURES
            },
            "slopes": figures.slopes,
            "verdict": figures.verdict,
            "reasons": [encode_remark(remark) for remark in figures.reasons],
        }

    def room_band(self, room_band: RoomBand) -> Document:
        return {
            **self.band(room_band.figures),
            "claps_used": room_band.claps_used,
            "effective_claps": self.number(room_band.effective_claps),
            "spots": room_band.spots,
            "interval_from": room_band.interval_from,
            "u_relative": self.number(room_band.u_relative),
            "u_theory_relative": self.number(room_band.u_theory_relative),
            "spot_times": [self.spot_time(one) for one in room_band.spot_times],
        }

    def spot_time(self, one: SpotTime) -> Document:
        return {
            "decay_time_s": self.number(one.decay_time_s),
            "u_relative": self.number(one.u_relative),
            "weight": self.number(one.weight),
            "takes": list(one.takes),
        }

    def take(self, take: TakeReading) -> Document:
        return {
            "path": take.path,
            "sha256": take.sha256,
            "recorded_at": take.recorded_at.isoformat() if take.recorded_at else None,
            "recorded_at_from": take.recorded_at_from,
            "sample_rate_hz": take.sample_rate_hz,
            "duration_s": self.number(take.duration_s),
            "channels": take.channels,
            "concerns": [encode_remark(remark) for remark in take.concerns],
            "notes": [encode_remark(remark) for remark in take.notes],
            "claps": [self.clap(clap) for clap in take.claps],
        }

    def clap(self, clap: ClapReading) -> Document:
        because = clap.set_aside_because
        return {
            "onset_s": self.number(clap.onset_s),
            "stop_s": self.number(clap.stop_s),
            "peak_dbfs": self.number(clap.peak_dbfs),
            "used": clap.used,
            "set_aside_because": None if because is None else encode_remark(because),
            "concerns": [encode_remark(remark) for remark in clap.concerns],
            "bands": [self.band(figures) for figures in clap.bands],
        }

    def mid(self, mid: MidFigures) -> Document:
        return {
            "decay_time_s": self.number(mid.decay_time_s),
            "ci95_s": self.interval(mid.ci95_s),
            "t20_s": self.number(mid.t20_s),
        }


# ------------------------------------------------------------------ reading back


def decode(document: object) -> Reading:
    """Make a reading again from its document.

    Parameters
    ----------
    document : object
        What `encode`, or `json.loads` on ``roomir read --json``, gave. Keys
        the contract does not know are passed over, since more may be added.

    Returns
    -------
    Reading
        Without evidence.

    Raises
    ------
    RoomirError
        ``not-a-reading``: a key is missing, or a value is none that the
        contract allows; the message says which.
    """
    try:
        return _reading(Part(document, where="document"))
    except PartError as error:
        raise RoomirError(
            f"this is no reading that this version knows: {error}",
            code="not-a-reading",
            remedy="use what roomir read --json of this version wrote",
        ) from error


def _reading(whole: Part) -> Reading:
    if whole.text("schema") != SCHEMA:
        raise PartError("document.schema", what=f"not {SCHEMA}")
    band_set = whole.text("band_set")
    if band_set not in BAND_SETS:
        raise PartError("document.band_set", what="no set of bands is called so")
    bands = {band.nominal_hz: band for band in BAND_SETS[band_set]}
    mid = whole.part("mid")
    return Reading(
        roomir_version=whole.text("roomir_version"),
        band_set=band_set,
        takes=whole.each("takes", lambda part: _take(part, bands)),
        failures=whole.each("failures", _failure),
        bands=whole.each("bands", lambda part: _room_band(part, bands)),
        mid=MidFigures(
            decay_time_s=mid.number_or_none("decay_time_s"),
            ci95_s=mid.interval("ci95_s"),
            t20_s=mid.number_or_none("t20_s"),
        ),
        bass_ratio=whole.number_or_none("bass_ratio"),
        # Documents of earlier versions do not have them.
        findings=decode_findings(whole.part("findings")) if whole.has("findings") else RoomFindings(),
    )


def _take(part: Part, bands: dict[float, Band]) -> TakeReading:
    return TakeReading(
        path=part.text("path"),
        sha256=part.text_or_none("sha256"),
        recorded_at=part.instant("recorded_at"),
        recorded_at_from=part.text_or_none("recorded_at_from"),
        sample_rate_hz=part.count("sample_rate_hz"),
        duration_s=part.number("duration_s"),
        channels=part.count("channels"),
        concerns=part.each("concerns", _remark),
        notes=part.each("notes", _remark),
        claps=part.each("claps", lambda clap: _clap(clap, bands)),
    )


def _clap(part: Part, bands: dict[float, Band]) -> ClapReading:
    because = part.part_or_none("set_aside_because")
    clap = ClapReading(
        onset_s=part.number("onset_s"),
        stop_s=part.number("stop_s"),
        peak_dbfs=part.number("peak_dbfs"),
        set_aside_because=None if because is None else _remark(because),
        concerns=part.each("concerns", _remark),
        bands=part.each("bands", lambda band: _band(band, bands)),
    )
    if part.flag("used") != clap.used:
        raise PartError(f"{part.where}.used", what="it contradicts set_aside_because")
    return clap


def _room_band(part: Part, bands: dict[float, Band]) -> RoomBand:
    return RoomBand(
        figures=_band(part, bands),
        claps_used=part.count("claps_used"),
        effective_claps=part.number_or_none("effective_claps"),
        spots=part.count("spots"),
        interval_from=part.choice_or_none("interval_from", _INTERVALS_FROM),
        u_relative=part.number_or_none("u_relative") if part.has("u_relative") else None,
        u_theory_relative=part.number_or_none("u_theory_relative") if part.has("u_theory_relative") else None,
        spot_times=part.each("spot_times", _spot_time) if part.has("spot_times") else (),
    )


def _spot_time(part: Part) -> SpotTime:
    return SpotTime(
        decay_time_s=part.number("decay_time_s"),
        u_relative=part.number("u_relative"),
        weight=part.number("weight"),
        takes=part.counts("takes"),
    )


def _band(part: Part, bands: dict[float, Band]) -> BandFigures:
    band = bands.get(part.number("centre_hz"))
    if band is None:
        raise PartError(f"{part.where}.centre_hz", what="the set has no such band")
    numbers = {
        name: part.number_or_none(name)
        for name in _FIGURES
        if name not in _INTERVALS and (name not in _ADDED or part.has(name))
    }
    return BandFigures(
        band=band,
        **numbers,
        spot_ci95_s=part.interval("spot_ci95_s"),
        ci95_s=part.interval("ci95_s"),
        slopes=None if part.value("slopes") is None else part.count("slopes"),
        verdict=part.choice("verdict", _VERDICTS),
        reasons=part.each("reasons", _remark),
    )


def _remark(part: Part) -> Remark:
    return Remark(**{name: part.text(name) for name in _REMARK})


def _failure(part: Part) -> Failure:
    return Failure(path=part.text("path"), **{name: part.text(name) for name in _REMARK})
