"""The document for programs keeps its contract, key by key."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest

from roomir.report.document import document, to_json
from roomir.report.room import advise_room
from tests.contract import check_document
from tests.readings import figures, nothing_read, reading, room_band, take


@pytest.mark.parametrize(
    "what", [reading(), nothing_read(), reading(bands=())], ids=["usual", "failed", "no bands"]
)
def test_the_document_keeps_the_contract(what: Any):
    check_document(json.loads(to_json(what, room=advise_room(what, volume_m3=48.0))))
    check_document(json.loads(to_json(what)))


def test_on_failure_the_document_is_the_same_with_no_bands():
    failed = document(nothing_read())

    assert failed["bands"] == failed["takes"] == []
    assert failed["mid"] == {"decay_time_s": None, "ci95_s": None, "t20_s": None}
    assert failed["bass_ratio"] is None
    assert failed["failures"] == [
        {
            "path": "kitchen.wav",
            "code": "not-sound",
            "says": "kitchen.wav holds no sound",
            "remedy": "record it again",
        }
    ]


def test_values_arrive_where_they_belong():
    made = document(reading())
    fifth = made["bands"][3]

    assert fifth["centre_hz"] == 500
    assert fifth["ci95_s"] == [0.8447, 0.9172]
    assert (fifth["claps_used"], fifth["effective_claps"], fifth["spots"]) == (25, 23.0, 5)
    assert made["takes"][0]["recorded_at"] == "2024-05-03T18:30:00+00:00"
    assert [clap["used"] for clap in made["takes"][0]["claps"]] == [True, False]
    assert made["takes"][0]["claps"][1]["set_aside_because"]["code"] == "sounds-like-speech"
    assert made["takes"][0]["claps"][0]["onset_s"] == 1.516


def test_every_quantity_of_a_band_lands_under_its_own_name():
    names = (
        *("edt_s", "t20_s", "t30_s", "decay_time_s", "decay_range_db", "fitted_range_db"),
        *("nonlinearity_permille", "curvature_percent", "c50_db", "c80_db", "d50", "ts_s", "bt"),
    )
    numbered = {name: float(i) for i, name in enumerate(names, start=1)}
    (band,) = document(
        reading(bands=(room_band(500.0, **numbered, spot_ci95_s=(20.0, 21.0), ci95_s=(22.0, 23.0)),))
    )["bands"]

    assert {name: band[name] for name in names} == numbered
    assert (band["spot_ci95_s"], band["ci95_s"]) == ([20.0, 21.0], [22.0, 23.0])


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_a_number_that_is_none_cannot_get_out(bad: float):
    with pytest.raises(ValueError, match="JSON"):
        to_json(reading(bands=(room_band(500.0, c50_db=bad),)))


def test_numbers_of_numpy_are_numbers_too():
    made = json.loads(
        to_json(reading(bands=(room_band(500.0, t20_s=np.float64(0.5), c50_db=np.float32(1.5)),)))
    )

    assert (made["bands"][0]["t20_s"], made["bands"][0]["c50_db"]) == (0.5, 1.5)


def test_a_file_name_of_any_bytes_survives_the_way_out_and_back():
    name = 'a"\n\x1b\udcff\u202e.wav'
    text = to_json(reading(takes=(take(name),)))

    assert text.isascii()
    assert "\x1b" not in text
    assert json.loads(text)["takes"][0]["path"] == name


def test_onsets_keep_a_microsecond():
    clap = (
        take()
        .claps[0]
        .__class__(
            onset_s=599.123456789,
            stop_s=600.0,
            peak_dbfs=-3.0,
            set_aside_because=None,
            bands=(figures(room_band(63.0).figures.band),),
        )
    )

    assert document(reading(takes=(take(claps=(clap,)),)))["takes"][0]["claps"][0]["onset_s"] == 599.123457


def test_no_key_is_ever_left_out():
    def keys(value: Any, path: str = "") -> Iterator[str]:
        if isinstance(value, dict):
            for key, inner in value.items():
                yield f"{path}/{key}"
                yield from keys(inner, f"{path}/{key}")
        elif isinstance(value, list):
            for inner in value:
                yield from keys(inner, path)

    full, empty = set(keys(document(reading()))), set(keys(document(nothing_read())))

    assert {key for key in full if key.count("/") == 1} == {key for key in empty if key.count("/") == 1}
