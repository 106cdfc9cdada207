"""A reading against a target. All readings invented."""

from dataclasses import replace

import pytest

from roomir.compare.aim import aim_at
from roomir.report.aims import aim_document, aim_says
from roomir.rooms.targets import find_target
from tests.readings import reading, room_band, unusable_band

BOOTH = find_target("voice booth")


def stands(time_s, *, ci95_s, **changes):
    made = reading(bands=(room_band(500.0, decay_time_s=time_s, ci95_s=ci95_s, **changes),))
    (one,) = aim_at(BOOTH, made, volume_m3=None).bands
    return one.verdict, one.off_s


@pytest.mark.parametrize(
    ("time_s", "ci95_s", "verdict", "off_s"),
    [
        (0.2, (0.18, 0.22), "inside", None),
        (0.4, (0.38, 0.42), "too long", 0.1),
        (0.05, (0.04, 0.06), "too short", -0.05),
        (0.31, (0.29, 0.33), "undecided", None),
        (0.29, (0.27, 0.31), "undecided", None),
        (0.2, (0.05, 0.35), "undecided", None),
    ],
)
def test_the_interval_decides(time_s, ci95_s, verdict, off_s):
    found, off = stands(time_s, ci95_s=ci95_s)
    assert found == verdict
    assert off == (None if off_s is None else pytest.approx(off_s))


def test_an_unusable_band_is_no_answer():
    assert stands(0.2, ci95_s=(0.18, 0.22), verdict="unusable")[0] == "no answer"
    made = reading(bands=(unusable_band(500.0),))
    assert aim_at(BOOTH, made, volume_m3=None).bands[0].verdict == "no answer"


def test_bands_of_which_the_target_does_not_speak_are_left_out():
    found = aim_at(BOOTH, reading(), volume_m3=None)
    assert [one.band.nominal_hz for one in found.bands] == [125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0]


def test_the_answer_comes_first_and_the_source_is_said():
    lines = aim_says(aim_at(BOOTH, reading(), volume_m3=None))
    assert lines[0].startswith("voice booth (0.1 to 0.3 s): reached in 0 of 6 bands")
    assert "250 Hz by 0.58 s" in lines[1]
    assert lines[-1] == "Source of the target: common practice, no source."
    assert aim_document(aim_at(BOOTH, reading(), volume_m3=None))["bands"][1]["verdict"] == "too long"


def test_a_target_for_other_volumes_is_marked():
    target = replace(find_target("DIN 18041 A4"), volume_m3=(30.0, 500.0))
    (remark,) = aim_at(target, reading(), volume_m3=20.0).remarks
    assert remark.code == "target-for-other-volumes"


def test_a_reading_of_nothing_reaches_nothing():
    assert aim_says(aim_at(BOOTH, reading(bands=()), volume_m3=None)) == (
        "Nothing was read in the bands that this target speaks of.",
    )
