"""What to do next: each step names what it rests on; what buys most comes first. Values invented."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from roomir.background.noise import Background, BandNoise
from roomir.bands.band import OCTAVES
from roomir.reading.reading import ClapReading, MidFigures, Reading, RoomBand
from roomir.remarks import Remark
from roomir.report.suggestion import Suggestion
from roomir.report.suggestions import MOST_SUGGESTIONS, Advice, make_advice
from tests.readings import CLIPPED, reading, room_band, take

TOO_LITTLE = Remark(code="range-too-small", says="too little is seen", remedy="more range")
WIDE = Remark(code="interval-too-wide", says="known to within 18 %", remedy="clap in more spots")
CUT_OFF = Remark(code="decay-cut-off", says="cut off", remedy="record longer")


def short(hz: float, seen_db: float, **changes: Any) -> RoomBand:
    """A band of which too little is seen."""
    verdict = "indicative" if seen_db >= 25.0 else "unusable"
    return room_band(
        hz, **({"decay_range_db": seen_db, "verdict": verdict, "reasons": (TOO_LITTLE,)} | changes)
    )


def room(*bands: RoomBand, half_width: float = 0.03, **changes: Any) -> Reading:
    """Five spots; the bands given, and 500 Hz and 1 kHz fine unless they are among them."""
    by_hz = {hz: room_band(hz) for hz in (500.0, 1000.0)}
    by_hz |= {one.figures.band.nominal_hz: one for one in bands}
    low, high = 0.88 * (1.0 - half_width), 0.88 * (1.0 + half_width)
    made = {
        "bands": tuple(by_hz[hz] for hz in sorted(by_hz)),
        "mid": MidFigures(decay_time_s=0.88, ci95_s=(low, high)),
    }
    return reading(**(made | changes))


def background(**kinds: dict[str, float]) -> Background:
    """Background of octaves named as in ``hz125``; the others rush."""
    return Background(
        heard_s=10.0,
        mains_hz=50.0,
        tones_hz=(1234.0,),
        bands=tuple(
            BandNoise(
                band=band,
                **({"level_dbfs": -70.0, "hum_share": 0.0, "tone_share": 0.0, "slope_db_per_octave": -4.0,
                    "swing_db": 2.0} | kinds.get(f"hz{band.nominal_hz:.0f}", {})),
            )
            for band in OCTAVES
        ),
    )  # fmt: skip


def step(advice: Advice, code: str) -> Suggestion:
    (found,) = (one for one in advice.suggestions if one.code == code)
    return found


def codes(advice: Advice) -> list[str]:
    return [one.code for one in advice.suggestions]


def test_a_good_reading_leaves_nothing_to_do():
    assert make_advice(room(), background=background()).suggestions == ()


def test_a_wide_mid_interval_asks_for_as_many_spots_as_students_t_says():
    advice = make_advice(room(half_width=0.10), background=None)
    found = step(advice, "more-spots")

    # From five spots: 0.10 sqrt(5)/2.776 = 0.0806; 2.179 x 0.0806/sqrt(13) = 0.0487, with twelve 0.0512.
    assert "eight more spots" in found.do
    assert "within 10 % from five spots" in found.why
    assert "5 %" in found.buys
    assert "13 spots" in found.buys


def test_an_assumed_scatter_is_called_assumed_and_comes_first():
    bands = [room_band(hz, spots=1, interval_from="prior") for hz in (500.0, 1000.0)]
    advice = make_advice(room(*bands, short(125.0, 22.0), half_width=0.09), background=background())

    assert codes(advice)[0] == "more-spots"
    assert "assumed, not heard" in advice.suggestions[0].why


def test_places_that_differ_too_much_are_looked_into_before_more_of_them():
    assert codes(make_advice(room(half_width=0.5), background=None)) == ["spots-will-not-do"]


def test_places_that_nobody_has_heard_are_not_said_to_differ():
    bands = [room_band(hz, spots=1, interval_from="prior") for hz in (500.0, 1000.0)]
    advice = make_advice(room(*bands, half_width=0.5), background=None)

    assert codes(advice) == ["few-spots"]


def test_one_wide_band_asks_for_spots_where_the_middle_is_well_known():
    wide = room_band(250.0, ci95_s=(0.75, 1.05), verdict="indicative", reasons=(WIDE,))
    found = step(make_advice(room(wide), background=None), "more-spots")

    assert "the time at 250 Hz is known to within 18 %" in found.why
    assert found.bands_hz == (250.0,)


def test_spots_are_not_asked_for_where_the_range_is_the_trouble():
    wide = short(63.0, 12.0, ci95_s=(0.3, 2.0), reasons=(TOO_LITTLE, WIDE))

    assert "more-spots" not in codes(make_advice(room(wide), background=None))
    assert WIDE.code not in codes(make_advice(room(wide), background=None))


def test_hum_says_how_many_decibels_its_end_buys():
    noise = background(hz125={"hum_share": 0.9})
    found = step(make_advice(room(short(125.0, 22.0)), background=noise), "stop-the-hum")

    assert "50 Hz mains is 90 % of the background at 125 Hz" in found.why
    assert found.buys == "up to 10 dB of the 13 missing at 125 Hz"


def test_where_the_hum_is_all_that_stands_in_the_way_nobody_is_sent_for_balloons():
    noise = background(hz125={"hum_share": 0.9})
    advice = make_advice(room(short(125.0, 27.0)), background=noise)

    assert codes(advice) == ["stop-the-hum"]
    assert [one.reach for one in advice.outlook.bands] == ["hum off", "there", "there"]


def test_the_bass_is_out_of_reach_of_hands_and_the_middle_is_not():
    advice = make_advice(room(short(125.0, 15.0), short(2000.0, 30.0)), background=None)

    assert "125 Hz stays out of reach of hands" in step(advice, "louder-than-hands").why
    assert "20 dB at 125 Hz" in step(advice, "louder-than-hands").why
    assert step(advice, "clap-harder").bands_hz == (2000.0,)
    assert "5 dB at 2 kHz" in step(advice, "clap-harder").why


@pytest.mark.parametrize(
    ("noise", "code", "words"),
    [
        ({}, "stop-moving-air", "rush"),
        ({"slope_db_per_octave": 0.0}, "louder-not-quieter", "hiss"),
        ({"tone_share": 0.8}, "stop-the-tone", "1234 Hz"),
        ({"swing_db": 9.0}, "wait-for-steady-quiet", "9 dB"),
    ],
)
def test_each_kind_of_background_has_a_step_of_its_own(noise: dict[str, float], code: str, words: str):
    found = step(make_advice(room(short(500.0, 30.0)), background=background(hz500=noise)), code)

    assert words in found.why
    assert "500 Hz" in found.why


def test_low_noise_is_called_a_rumble():
    assert "find-the-rumble" in codes(make_advice(room(short(63.0, 10.0)), background=background()))


def test_what_the_background_is_does_not_matter_where_nothing_is_missing():
    noise = background(hz500={"hum_share": 0.95})

    assert make_advice(room(), background=noise).suggestions == ()


def test_decays_that_are_cut_off_ask_for_time_and_not_for_noise():
    bands = [short(hz, 28.0, reasons=(CUT_OFF,), decay_time_s=2.8) for hz in (500.0, 1000.0)]
    advice = make_advice(room(*bands), background=background())
    found = step(advice, "more-time")

    assert codes(advice) == ["more-time"]
    assert "500 Hz and 1 kHz" in found.why
    assert "five seconds" in found.do  # 1.5 x 2.8 s


def test_claps_lost_to_their_neighbours_ask_for_time():
    near = ClapReading(
        onset_s=2.0,
        stop_s=2.3,
        peak_dbfs=-8.0,
        set_aside_because=Remark(code="second-event-in-decay", says="x"),
    )
    takes = (take(claps=(take().claps[0], near, near)),)

    assert (
        "two claps had another sound too close by"
        in step(make_advice(room(takes=takes), background=None), "more-time").why
    )


@pytest.mark.parametrize(
    ("peak_dbfs", "expected"), [(0.0, ["level-too-hot"]), (-0.9, ["level-too-hot"]), (-3.0, []), (-30.0, [])]
)
def test_a_clap_at_full_scale_is_too_hot(peak_dbfs: float, expected: list[str]):
    loud = take(claps=(replace(take().claps[0], peak_dbfs=peak_dbfs),))

    assert codes(make_advice(room(takes=(loud,)), background=None)) == expected


def test_a_clap_that_is_known_to_be_clipped_is_not_suspected_of_it_as_well():
    clipped = take(claps=(replace(take().claps[0], peak_dbfs=0.0, concerns=(CLIPPED,)),))

    assert codes(make_advice(room(takes=(clipped,)), background=None)) == [CLIPPED.code]


def test_a_faint_clap_asks_for_more_level():
    faint = take(claps=(replace(take().claps[0], peak_dbfs=-47.0),))
    advice = make_advice(room(short(500.0, 28.0), takes=(faint,)), background=None)

    assert "47.0 dB below full scale" in step(advice, "level-too-low").why


def test_the_readings_own_remedies_stand_in_their_own_words():
    faulty = take(concerns=(CLIPPED,))
    first = make_advice(room(takes=(faulty,)), background=None).suggestions[0]

    assert (first.code, first.do) == (CLIPPED.code, CLIPPED.remedy)


def test_how_to_treat_the_room_is_no_step_towards_a_better_take():
    leak = Remark(code="neighbour-rings-longer", says="leaks", remedy="treat 125 Hz first")
    advice = make_advice(room(room_band(250.0, verdict="indicative", reasons=(leak,))), background=None)

    assert advice.suggestions == ()


def test_without_any_band_there_is_still_advice():
    aside = take(claps=(take().claps[1],))
    advice = make_advice(reading(takes=(aside,), bands=(), mid=MidFigures()), background=None)

    assert [one.do for one in advice.suggestions] == ["keep silent"]
    assert advice.outlook.bands == ()


def test_there_are_never_more_steps_than_an_evening_has_room_for():
    kinds = [
        {"hum_share": 0.6},
        {"tone_share": 0.6},
        {},
        {"slope_db_per_octave": 0.0},
        {"swing_db": 9.0},
        {},
        {},
    ]
    hz = [63.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0]
    noise = background(**{f"hz{one:.0f}": kind for one, kind in zip(hz, kinds, strict=True)})
    advice = make_advice(room(*(short(one, 20.0) for one in hz), half_width=0.2), background=noise)
    worth = [one.worth for one in advice.suggestions]

    assert len(worth) == MOST_SUGGESTIONS
    assert worth == sorted(worth, reverse=True)


def test_every_band_says_what_would_take_it_to_full_trust():
    bands = [short(63.0, 5.0), short(125.0, 20.0), short(500.0, 28.0), room_band(1000.0)]
    reach = {
        one.band.nominal_hz: one.reach for one in make_advice(room(*bands), background=None).outlook.bands
    }

    assert reach == {63.0: "quiet and balloon", 125.0: "balloon", 500.0: "harder clap", 1000.0: "there"}


def test_in_the_bass_a_harder_clap_buys_less():
    advice = make_advice(room(short(125.0, 31.0)), background=None)

    assert step(advice, "clap-harder").buys == "up to 5 dB over an ordinary clap"
