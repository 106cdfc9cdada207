"""What a decay time says about a room of known size."""

from __future__ import annotations

import math

import pytest

from roomir.errors import ParameterError
from roomir.reading.reading import MidFigures, Reading
from roomir.report.room import advise_room
from roomir.report.view import view
from tests.readings import reading


def _ringing(decay_time_s: float) -> Reading:
    return reading(mid=MidFigures(decay_time_s=decay_time_s, ci95_s=None, t20_s=None))


def test_a_concert_hall_has_its_schroeder_frequency_below_hearing():
    # M. R. Schroeder, "The 'Schroeder frequency' revisited", J. Acoust. Soc. Am. 99 (1996) 3240-3241:
    # f_S = 2000 sqrt(T / V); 20 000 m3 with 2 s gives 20 Hz.
    assert advise_room(_ringing(2.0), volume_m3=20_000.0).schroeder_hz == pytest.approx(20.0)


def test_least_distance_follows_the_standard():
    # ISO 3382-2:2008, 4.3: d_min = 2 sqrt(V / (c T)); with c = 343.2 m/s worked by hand for 100 m3 and 0.5 s.
    assert advise_room(_ringing(0.5), volume_m3=100.0).least_distance_m == pytest.approx(1.5267, abs=1e-4)


def test_direct_sound_of_a_voice_leads_farther_than_that_of_an_even_source():
    # r_c grows with the root of the directivity factor; 0.057 sqrt(V / T) is the textbook's form for Q = 1.
    advice = advise_room(_ringing(0.4), volume_m3=90.0)

    assert advice.reverberation_distance_m == pytest.approx(0.057 * math.sqrt(90.0 / 0.4), rel=0.01)
    assert advice.directivity_assumed == 2.0
    assert advice.direct_leads_within_m == pytest.approx(math.sqrt(2.0) * advice.reverberation_distance_m)


def test_bands_below_the_schroeder_frequency_are_named():
    codes = {remark.code: remark for remark in advise_room(_ringing(0.88), volume_m3=48.0).remarks}

    assert "(63 Hz, 125 Hz, 250 Hz)" in codes["modes-rule"].says


def test_a_large_room_meets_every_rule():
    assert advise_room(_ringing(0.1), volume_m3=5_000.0).remarks == ()


@pytest.mark.parametrize(
    ("size_m", "missing"),
    [
        ((1.9, 2.2, 2.4), "1 m from every surface"),
        ((3.0, 2.5, 2.4), "2 m between microphone positions"),
        ((3.9, 2.2, 2.1), "2 m between microphone positions"),
    ],
)
def test_a_small_room_is_told_which_rules_it_cannot_meet(size_m: tuple[float, float, float], missing: str):
    advice = advise_room(_ringing(0.3), volume_m3=math.prod(size_m), dimensions_m=size_m)
    says = {remark.code: remark.says for remark in advice.remarks}["room-too-small-for-rules"]

    assert missing in says
    assert "if it is about as long" not in says
    assert advice.least_distance_m is not None


def test_a_short_decay_in_a_low_room_leaves_no_place_for_the_least_distance():
    # 6 x 5 x 2.2 m with 0.15 s: d_min is 2.26 m, the way across what is left 1 m from every surface is 5 m;
    # at 3.2 x 3 x 2.2 m and 0.05 s d_min is 2.2 m, and 1.6 m are left.
    roomy = advise_room(_ringing(0.15), volume_m3=66.0, dimensions_m=(6.0, 5.0, 2.2))
    narrow = advise_room(_ringing(0.05), volume_m3=21.12, dimensions_m=(3.2, 3.0, 2.2))

    assert "room-too-small-for-rules" not in {remark.code for remark in roomy.remarks}
    assert "2.2 m from clap to microphone" in narrow.remarks[-1].says


def test_with_a_volume_alone_the_shape_is_assumed_and_said():
    says = advise_room(_ringing(0.3), volume_m3=20.0).remarks[-1].says

    assert "if it is about as long as wide as high" in says


def test_without_a_decay_time_no_distance_is_made_up():
    advice = advise_room(reading(mid=MidFigures()), volume_m3=48.0)

    assert advice.schroeder_hz is advice.least_distance_m is advice.direct_leads_within_m is None
    assert [remark.code for remark in advice.remarks] == ["room-needs-mid-decay-time"]
    assert "need a decay time" in view(reading(mid=MidFigures()), room=advice).room[0]


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
def test_a_size_that_is_none_is_refused(bad: float):
    with pytest.raises(ParameterError, match="no size for a room"):
        advise_room(reading(), volume_m3=bad)


def test_the_directivity_assumed_is_said():
    said = " ".join(view(reading(), room=advise_room(reading(), volume_m3=48.0)).room)

    assert "directivity factor 2 assumed" in said
    assert "Schroeder frequency" in said
    assert "critical distance" in said
