"""A reading becomes a document and a reading again, and nothing else becomes one."""

from __future__ import annotations

import json
from dataclasses import fields, replace
from datetime import datetime, timedelta, timezone
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from roomir.bands.band import BAND_SETS
from roomir.errors import RoomirError
from roomir.reading.codec import decode, encode
from roomir.reading.reading import (
    BandFigures,
    ClapReading,
    MidFigures,
    Reading,
    RoomBand,
    SpotTime,
    TakeReading,
)
from roomir.remarks import Remark
from roomir.report.document import document
from tests.readings import nothing_read, reading

_number = st.floats(allow_nan=False, allow_infinity=False)
_text = st.text()
_remark = st.builds(Remark, code=_text, says=_text, remedy=_text)
_remarks = st.lists(_remark, max_size=2).map(tuple)
_interval = st.tuples(_number, _number).map(lambda ends: tuple(sorted(ends)))
_instant = st.datetimes(timezones=st.just(timezone(timedelta(hours=5, minutes=45))))
_count = st.integers(0, 10**6)
_NUMBERS = [
    one.name
    for one in fields(BandFigures)
    if one.name not in ("band", "spot_ci95_s", "ci95_s", "slopes", "verdict", "reasons")
]


def _figures(band_set: str) -> st.SearchStrategy[BandFigures]:
    return st.builds(
        BandFigures,
        band=st.sampled_from(BAND_SETS[band_set]),
        **dict.fromkeys(_NUMBERS, st.none() | _number),
        spot_ci95_s=st.none() | _interval,
        ci95_s=st.none() | _interval,
        slopes=st.none() | _count,
        verdict=st.sampled_from(["reliable", "indicative", "unusable"]),
        reasons=_remarks,
    )


def _readings(band_set: str) -> st.SearchStrategy[Reading]:
    clap = st.builds(
        ClapReading,
        onset_s=_number,
        stop_s=_number,
        peak_dbfs=_number,
        set_aside_because=st.none() | _remark,
        concerns=_remarks,
        bands=st.lists(_figures(band_set), max_size=2).map(tuple),
    )
    take = st.builds(
        TakeReading,
        path=_text,
        sha256=st.none() | _text,
        recorded_at=st.none() | _instant,
        recorded_at_from=st.none() | _text,
        sample_rate_hz=_count,
        duration_s=_number,
        channels=_count,
        concerns=_remarks,
        notes=_remarks,
        claps=st.lists(clap, max_size=2).map(tuple),
    )
    spot_time = st.builds(
        SpotTime,
        decay_time_s=_number,
        u_relative=_number,
        weight=_number,
        takes=st.lists(_count, max_size=3).map(tuple),
    )
    room_band = st.builds(
        RoomBand,
        figures=_figures(band_set),
        claps_used=_count,
        effective_claps=st.none() | _number,
        spots=_count,
        interval_from=st.sampled_from([None, "scatter", "prior"]),
        u_relative=st.none() | _number,
        u_theory_relative=st.none() | _number,
        spot_times=st.lists(spot_time, max_size=2).map(tuple),
    )
    return st.builds(
        Reading,
        roomir_version=_text,
        band_set=st.just(band_set),
        takes=st.lists(take, max_size=2).map(tuple),
        failures=st.just(nothing_read().failures),
        bands=st.lists(room_band, max_size=2).map(tuple),
        mid=st.builds(
            MidFigures,
            decay_time_s=st.none() | _number,
            ci95_s=st.none() | _interval,
            t20_s=st.none() | _number,
        ),
        bass_ratio=st.none() | _number,
    )


@settings(max_examples=30, deadline=None)
@given(st.sampled_from(sorted(BAND_SETS)).flatmap(_readings))
def test_whatever_was_read_comes_back_equal(what: Reading):
    assert decode(json.loads(json.dumps(encode(what)))) == what


def test_what_the_command_prints_is_read_back_to_its_decimals():
    for what in (reading(), nothing_read()):
        printed = document(what)
        assert document(decode(json.loads(json.dumps(printed)))) == printed


def test_an_instant_keeps_its_zone():
    zone = timezone(timedelta(hours=-3, minutes=-30))
    take = replace(reading().takes[0], recorded_at=datetime(2024, 5, 3, 18, 30, 0, 5, tzinfo=zone))
    (back,) = decode(encode(reading(takes=(take,)))).takes

    assert back.recorded_at is not None
    assert back.recorded_at.utcoffset() == zone.utcoffset(None)


def _changed(path: tuple[Any, ...], value: Any) -> Any:
    whole: Any = encode(reading())
    inner = whole
    for key in path[:-1]:
        inner = inner[key]
    if value is KeyError:
        del inner[path[-1]]
    else:
        inner[path[-1]] = value
    return whole


@pytest.mark.parametrize(
    ("path", "value", "says"),
    [
        (("schema",), "roomir/reading/2", "document.schema"),
        (("band_set",), "nonets", "document.band_set"),
        (("bands", 2, "t20_s"), "0.9", r"document.bands\[2\].t20_s: it is no number"),
        (("bands", 2, "t20_s"), True, "no number"),
        (("bands", 2, "t20_s"), float("nan"), "not finite"),
        (("bands", 2, "t20_s"), 10**400, "too large"),
        (("bands", 2, "centre_hz"), 440, "no such band"),
        (("bands", 2, "ci95_s"), [0.9, 0.8], "changed places"),
        (("bands", 2, "ci95_s"), [0.9], "no pair"),
        (("bands", 2, "verdict"), "splendid", "none of reliable"),
        (("bands", 2, "verdict"), None, "null"),
        (("bands", 2, "slopes"), 1.0, "no count"),
        (("bands", 2, "spots"), -1, "no count"),
        (("bands", 2), [], "no object"),
        (("takes",), {}, "no list"),
        (("takes", 0, "recorded_at"), "2024-05-03T18:30", "no time zone"),
        (("takes", 0, "recorded_at"), "yesterday", "no date"),
        (("takes", 0, "claps", 1, "used"), True, "contradicts"),
        (("takes", 0, "claps", 1, "used"), "no", "neither true nor false"),
        (("takes", 0, "path"), 3, "no text"),
        (("mid", "t20_s"), KeyError, "document.mid.t20_s: it is missing"),
    ],
)
def test_a_document_with_one_thing_wrong_is_refused_and_the_place_named(
    path: tuple[Any, ...], value: Any, says: str
):
    with pytest.raises(RoomirError, match=says) as error:
        decode(_changed(path, value))

    assert error.value.code == "not-a-reading"


def test_keys_that_a_later_version_adds_are_passed_over():
    assert decode(_changed(("takes", 0, "tilt"), 3.0)) == reading()
