"""Decay times to aim for: figures against their sources, names, ranges and files."""

import pytest

from roomir.bands.band import OCTAVES
from roomir.errors import ParameterError
from roomir.rooms.targets import COMMON_PRACTICE, find_target, known_targets

BAND = {band.nominal_hz: band for band in OCTAVES}


@pytest.mark.parametrize(
    ("volume_m3", "din", "ebu_s"),
    [
        # DIN 18041:2016-03, groups A1 to A4 (formulas as printed in a booklet on building physics, p. 47);
        # the EBU's before it is kept between 0.2 and 0.4 s.
        (30, (0.73, 0.41, 0.30, 0.24), 0.167),
        (50, (0.83, 0.49, 0.37, 0.30), 0.198),
        (60, (0.87, 0.52, 0.40, 0.32), 0.211),
        (100, (0.97, 0.60, 0.47, 0.38), 0.250),
        (200, (1.11, 0.71, 0.57, 0.46), 0.315),
        (250, (1.15, 0.75, 0.60, 0.48), 0.339),
    ],
)
def test_targets_by_volume_are_those_of_their_standards(volume_m3, din, ebu_s):
    for group, time_s in zip(("A1", "A2", "A3", "A4"), din, strict=True):
        assert find_target(f"DIN 18041 {group}").time_s(volume_m3=volume_m3) == pytest.approx(
            time_s, abs=0.006
        )
    assert find_target("ITU-R BS.1116").time_s(volume_m3=volume_m3) == pytest.approx(ebu_s, abs=0.001)
    assert find_target("EBU Tech 3276").time_s(volume_m3=volume_m3) == pytest.approx(
        min(max(ebu_s, 0.2), 0.4), abs=0.001
    )


def test_the_mask_of_a_listening_room_widens_towards_the_bass():
    # Rec. ITU-R BS.1116-3 / EBU Tech 3276, tolerance mask, from memory: +-0.05 s from 200 Hz to 4 kHz,
    # rising to +0.3 s at 63 Hz on a line over log f, +-0.1 s at 8 kHz.
    target = find_target("EBU Tech 3276")
    limits = {hz: target.limits(BAND[hz], volume_m3=100.0) for hz in BAND}
    assert limits[63.0].most_s == pytest.approx(0.55)
    assert limits[125.0].most_s == pytest.approx(0.40, abs=0.01)
    for hz in (250.0, 500.0, 1000.0, 2000.0, 4000.0):
        assert (limits[hz].least_s, limits[hz].most_s) == pytest.approx((0.20, 0.30))
    assert (limits[8000.0].least_s, limits[8000.0].most_s) == pytest.approx((0.15, 0.35))


@pytest.mark.parametrize(
    ("name", "least_s", "most_s"),
    [
        # Audio Engineering (2009), p. 855, flat within about 10 %.
        ("radio talks studio", 0.225, 0.275),
        ("radio drama studio", 0.36, 0.44),
        ("small radio music studio", 0.81, 0.99),
        ("control room", 0.225, 0.275),
        ("pop studio", 0.4, 0.7),
        ("classical studio", 1.2, 2.0),
        # Common practice, no source.
        ("voice booth", 0.1, 0.3),
        ("podcast room", 0.2, 0.4),
        ("small control room", 0.2, 0.35),
        ("drum room", 0.3, 0.8),
        ("live room", 0.4, 0.8),
        ("practice room", 0.3, 0.6),
    ],
)
def test_published_and_usual_values(name, least_s, most_s):
    limits = find_target(name).limits(BAND[1000.0], volume_m3=None)
    assert (limits.least_s, limits.most_s) == pytest.approx((least_s, most_s))


def test_what_nobody_published_says_so():
    assert {one.name for one in known_targets() if one.source == COMMON_PRACTICE} >= {
        *("voice booth", "drum room", "live room")
    }
    assert all(one.source and one.use for one in known_targets())


@pytest.mark.parametrize("written", ["Voice Booth", "voice-booth", "VOICE_BOOTH", "voicebooth"])
def test_names_are_found_however_they_are_written(written):
    assert find_target(written).name == "voice booth"


@pytest.mark.parametrize("written", ["0.2-0.3", "0,2 - 0,3 s", ".2 to .3", "0.2\u20130.3"])
def test_seconds_are_a_target(written):
    limits = find_target(written).limits(BAND[63.0], volume_m3=None)
    assert (limits.least_s, limits.most_s) == (0.2, 0.3)


def test_a_file_is_a_target(tmp_path):
    file = tmp_path / "shed.toml"
    file.write_text('name = "our shed"\nrange_s = [0.3, 0.5]\nbands_hz = [250, 4000]\n')
    target = find_target(str(file))
    assert target.name == "our shed"
    assert target.limits(BAND[125.0], volume_m3=None) is None
    file.write_text("[[target]]\nmost_s = 0.4\n")
    assert find_target(str(file)).limits(BAND[125.0], volume_m3=None).most_s == 0.4
    assert find_target(str(file)).name == "shed"


@pytest.mark.parametrize(
    "content",
    [
        *("range_s = [0.3, 0.2]", "range_s = 0.3", "time_s = 0.3", "rnage_s = [0.2, 0.3]", "not toml", ""),
        *("target = 3", "[[target]]\nmost_s=1\n[[target]]\nmost_s=2", "range_s = ['a', 'b']"),
        "cube_root_s = 0.25\nmask_hz = [63, 125]\nbelow_s = [0.1]\nabove_s = [0.1, 0.1]",
    ],
)
def test_a_file_that_is_no_target_is_refused_by_name(tmp_path, content):
    file = tmp_path / "odd.toml"
    file.write_text(content)
    with pytest.raises(ParameterError) as refused:
        find_target(str(file))
    assert refused.value.code == "bad-target"
    assert "odd.toml" in refused.value.says


def test_an_unknown_target_is_refused_with_the_list():
    with pytest.raises(ParameterError) as refused:
        find_target("opera house")
    assert refused.value.code == "unknown-target"
    assert all(one.name in refused.value.remedy for one in known_targets())


def test_a_target_by_volume_asks_for_the_volume():
    with pytest.raises(ParameterError) as refused:
        find_target("din18041a1").limits(BAND[500.0], volume_m3=None)
    assert refused.value.code == "target-needs-volume"


def test_a_formula_that_gives_nothing_for_a_cupboard_says_so():
    with pytest.raises(ParameterError) as refused:
        find_target("DIN 18041 A2").time_s(volume_m3=2.0)
    assert refused.value.code == "target-has-no-time"
