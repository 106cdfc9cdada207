"""Two readings against each other: what is given, withheld and guarded. All readings invented."""

from dataclasses import replace

import pytest

from roomir.compare.change import Climate
from roomir.compare.compare import compare_readings
from roomir.compare.positions import match, names_from_files
from roomir.errors import ParameterError
from roomir.reading.reading import SpotTime
from roomir.report.headline import headline_says
from tests.readings import CLIPPED, nothing_read, reading, room_band, take, unusable_band

HZ = (250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0)
SPREAD = (0.97, 1.03, 1.0, 0.98, 1.02)


def room(time_s, *, u=0.01, spots=5, hz=HZ, spread=SPREAD, **changes):
    """A reading that has the same decay time in every band."""
    bands = tuple(
        replace(
            room_band(
                one, spots=spots, decay_time_s=time_s, ci95_s=(time_s * 0.97, time_s * 1.03), **changes
            ),
            interval_from="scatter" if spots >= 4 else "prior",
            u_relative=u,
            u_theory_relative=0.8 * u,
            spot_times=tuple(
                SpotTime(decay_time_s=time_s * spread[i % 5], u_relative=0.02, weight=1 / spots, takes=(i,))
                for i in range(spots)
            ),
        )
        for one in hz
    )
    takes = tuple(take(f"spot{i}.wav", sha256=f"{time_s}{i}") for i in range(spots))
    return reading(bands=bands, takes=takes)


def codes(comparison):
    return {remark.code for remark in comparison.guards}


def test_a_room_that_rings_half_as_long_is_shorter_in_every_band():
    found = compare_readings(room(0.8), room(0.4))
    assert found.headline.verdict == "changed"
    assert {one.verdict for one in found.bands} == {"shorter"}
    one = found.bands[0]
    assert (one.change_s, one.change_percent) == pytest.approx((-0.4, -50.0))
    assert one.change_ci95_s[0] < -0.4 < one.change_ci95_s[1] < 0.0


def test_the_same_room_twice_has_no_change_and_says_what_is_ruled_out():
    assert compare_readings(room(0.8), room(0.81)).headline.verdict == "no change found"
    assert compare_readings(room(0.8, u=0.1), room(0.81, u=0.1)).headline.verdict == "cannot tell"


def test_an_open_band_says_how_many_more_spots_would_settle_it():
    for one in compare_readings(room(0.8, u=0.02), room(0.755, u=0.02)).bands:
        assert one.verdict == "cannot tell"
        assert 0 < one.more_spots.on_each_side <= one.more_spots.after_only


def test_one_band_in_eight_that_changes_by_chance_is_no_headline():
    before, after = room(0.8, u=0.012), room(0.8, u=0.012)
    odd = room(0.76, u=0.012, hz=(500.0,)).bands[0]
    after = replace(after, bands=(after.bands[0], odd, *after.bands[2:]))
    found = compare_readings(before, after)
    assert found.bands[1].verdict == "shorter"
    assert found.headline.verdict != "changed"


# --- absorption --------------------------------------------------------------------------------------------


def test_the_absorption_added_is_that_of_iso_354():
    # V = 200 m3, c = 343 m/s, T from 5.0 to 2.0 s: 9.673 m2, worked apart from this library with the 55.3 of
    # the standard, which is 24 ln(10) = 55.26 rounded.
    warm = Climate(temperature_c=19.66)
    found = compare_readings(room(5.0), room(2.0), volume_m3=200.0, climates=(warm, warm))
    for one in found.bands:
        assert one.added_absorption_m2 == pytest.approx(9.673, rel=1e-3)
        low, high = one.added_absorption_ci95_m2
        assert 0.0 < low < 9.673 < high


def test_drier_air_is_not_taken_for_absorbers():
    # At 8 kHz 20 degC and 50 % absorb 103.9 dB/km (ISO 9613-1, worked apart): 4 m V is 4.786 m2 in 50 m3.
    dry = Climate(temperature_c=20.0, humidity_percent=50.0)
    still = Climate(temperature_c=20.0, humidity_percent=50.0)
    no_air = compare_readings(room(0.8), room(0.7), volume_m3=50.0)
    same_air = compare_readings(room(0.8), room(0.7), volume_m3=50.0, climates=(dry, still))
    assert same_air.bands[-1].added_absorption_m2 == no_air.bands[-1].added_absorption_m2
    moist = Climate(temperature_c=20.0, humidity_percent=80.0)
    drier = compare_readings(room(0.8), room(0.7), volume_m3=50.0, climates=(moist, dry))
    assert drier.bands[-1].added_absorption_m2 < no_air.bands[-1].added_absorption_m2 - 0.5
    assert drier.bands[0].added_absorption_m2 == pytest.approx(no_air.bands[0].added_absorption_m2, abs=0.1)


def test_without_a_size_there_is_no_absorption_and_a_guard_says_so():
    found = compare_readings(room(0.8), room(0.4))
    assert all(one.added_absorption_m2 is None for one in found.bands)
    assert "no-room-size" in codes(found)
    assert {"temperature-assumed", "air-taken-alike"} <= codes(
        compare_readings(room(0.8), room(0.4), volume_m3=50.0)
    )


@pytest.mark.parametrize("volume_m3", [0.0, -3.0, float("nan")])
def test_a_room_without_volume_is_refused(volume_m3):
    with pytest.raises(ParameterError, match="no size"):
        compare_readings(room(0.8), room(0.4), volume_m3=volume_m3)


# --- pairs -------------------------------------------------------------------------------------------------

NAMES = tuple(f"spot{i}" for i in range(5))


def test_positions_of_the_same_name_are_compared_one_by_one():
    paired = compare_readings(room(0.8), room(0.76), positions=(NAMES, NAMES))
    assert {one.positions for one in paired.bands} == {5}
    # Every position rings 5 % less: what scatters between positions cancels.
    assert paired.bands[0].change_percent == pytest.approx(-5.0)
    assert paired.bands[0].change_ci95_percent == pytest.approx((-5.0, -5.0), abs=0.01)


def test_the_order_of_the_recordings_does_not_matter_to_pairs():
    before, after = room(0.8), room(0.76)
    turned = replace(
        after,
        bands=tuple(
            replace(one, spot_times=tuple(replace(s, takes=(4 - s.takes[0],)) for s in one.spot_times))
            for one in after.bands
        ),
    )
    found = compare_readings(before, turned, positions=(NAMES, NAMES[::-1]))
    assert found.bands[0].change_ci95_percent == pytest.approx((-5.0, -5.0), abs=0.01)


def test_three_common_positions_are_too_few_for_pairs():
    found = compare_readings(room(0.8), room(0.7), positions=(NAMES, (*NAMES[:3], "sofa", "door")))
    assert {one.positions for one in found.bands} == {None}
    assert "positions-do-not-match" in codes(found)


def test_two_recordings_of_one_spot_count_once():
    def merged(made):
        return replace(
            made,
            bands=tuple(
                replace(
                    one,
                    spots=4,
                    spot_times=(
                        replace(one.spot_times[0], takes=(0, 1)),
                        *(replace(s, takes=s.takes) for s in one.spot_times[2:]),
                    ),
                )
                for one in made.bands
            ),
        )

    found = compare_readings(merged(room(0.8)), merged(room(0.7)), positions=(NAMES, NAMES))
    assert {one.positions for one in found.bands} == {4}


def test_positions_are_named_after_what_tells_the_files_apart():
    assert names_from_files(["r_abs000_SBG1_centre", "r_abs000_SBG2_centre"]) == ("sbg1", "sbg2")
    assert names_from_files(["spot1"]) == ("spot1",)
    assert names_from_files([]) == ()
    assert match(["a", "a", "b", None], ["a", "b", None]).pairs == ((2, 1),)


# --- guards ------------------------------------------------------------------------------------------------


def test_octaves_and_thirds_have_nothing_in_common():
    found = compare_readings(replace(room(0.8), band_set="third-octave", bands=()), room(0.4))
    assert found.bands == ()
    found = compare_readings(
        replace(
            room(0.8),
            band_set="third-octave",
            bands=tuple(
                replace(one, figures=replace(one.figures, band=replace(one.figures.band, fraction=3)))
                for one in room(0.8).bands
            ),
        ),
        room(0.4),
    )
    assert found.bands == ()
    assert found.headline.verdict == "cannot tell"
    assert "band-sets-differ" in codes(found)


def test_a_fault_on_one_side_is_named():
    clipped = replace(room(0.4), takes=(take("x.wav", concerns=(CLIPPED,), sha256="x"),))
    assert "fault-on-one-side" in codes(compare_readings(room(0.8), clipped))
    assert "fault-on-one-side" not in codes(compare_readings(clipped, clipped))


def test_few_spots_are_named_with_their_side():
    found = compare_readings(room(0.8, spots=2), room(0.4))
    (guard,) = [one for one in found.guards if one.code == "few-spots-compared"]
    assert "2 spots before" in guard.says
    assert "after" not in guard.says.split(":")[0]


def test_a_balloon_against_hands_is_named():
    def struck(time_s, *, bass_db):
        made = room(time_s)
        return replace(
            made,
            bands=tuple(
                replace(one, figures=replace(one.figures, level_dbfs=-20.0 + bass_db * (hz == 250.0)))
                for one, hz in zip(made.bands, HZ, strict=True)
            ),
        )

    hands = struck(0.8, bass_db=-18.0)
    assert "sources-differ" in codes(compare_readings(hands, struck(0.4, bass_db=5.0)))
    assert "sources-differ" not in codes(compare_readings(hands, struck(0.4, bass_db=-14.0)))


def test_what_made_the_sounds_is_compared_where_it_was_written_down():
    made_with = (("Hands",), ("balloon",))
    assert "sources-differ" in codes(compare_readings(room(0.8), room(0.4), made_with=made_with))
    alike = (("Hands",), ("hands ",))
    assert "sources-differ" not in codes(compare_readings(room(0.8), room(0.4), made_with=alike))


def test_a_band_that_is_unusable_on_one_side_has_no_say_in_the_headline():
    before = replace(room(0.8, hz=(500.0,)), bands=room(0.8, hz=(500.0,), verdict="unusable").bands)
    found = compare_readings(before, room(0.4, hz=(500.0,)))
    assert found.bands[0].verdict == "shorter"
    assert found.headline.verdict == "cannot tell"
    assert "unusable-side" in codes(found)


def test_a_withheld_decay_time_leaves_everything_open():
    after = replace(room(0.4), bands=(unusable_band(250.0), *room(0.4).bands[1:]))
    found = compare_readings(room(0.8), after)
    first = found.bands[0]
    assert (first.verdict, first.change_s, first.change_ci95_s, first.p_value) == ("cannot tell", *[None] * 3)
    assert "band-on-one-side" in codes(found)


def test_nothing_read_compares_to_nothing():
    found = compare_readings(nothing_read(), room(0.4))
    assert (found.bands, found.headline.verdict) == ((), "cannot tell")


def test_the_same_recording_on_both_sides_is_named_and_proves_nothing():
    found = compare_readings(room(0.8), room(0.8))
    assert "same-recording-on-both-sides" in codes(found)
    assert found.headline.verdict == "cannot tell"
    assert headline_says(found).startswith("Cannot tell: the same sound stands on both sides.")


def test_air_written_down_on_one_side_is_missed_on_the_other_only():
    climates = (Climate(temperature_c=12.0, humidity_percent=60.0), Climate())
    found = compare_readings(room(0.8), room(0.4), volume_m3=50.0, climates=climates)
    says = {remark.code: remark.says for remark in found.guards}
    assert says["temperature-assumed"].startswith("no temperature was written down after: 20 degC")
    assert says["air-taken-alike"].startswith("no humidity was written down after: the air")
