"""``roomir compare`` and ``roomir targets`` as they are typed."""

import json

import pytest

from tests.contract import optional

NUMBER = (int, float)
INTERVAL = ("interval",)
REMARK = {"code": str, "says": str, "remedy": str}
CONTRACT = {
    "schema": {"roomir/comparison/1"},
    "volume_m3": optional(NUMBER),
    "headline": {"verdict": {"changed", "no change found", "cannot tell"}, "says": str},
    "bands": [
        {
            "centre_hz": NUMBER,
            **dict.fromkeys(
                ("before_s", "after_s", "change_s", "change_percent", "added_absorption_m2"), optional(NUMBER)
            ),
            **dict.fromkeys(
                ("change_ci95_s", "change_ci95_percent", "added_absorption_ci95_m2"), optional(INTERVAL)
            ),
            "verdict": {"shorter", "longer", "within 5 percent", "cannot tell"},
        }
    ],
    "guards": [REMARK],
}


@pytest.fixture(scope="module")
def compared(roomir_process, sample_data):
    return roomir_process(
        "compare",
        sample_data / "dairy_3_curtains_spot*.flac",
        sample_data / "dairy_4_panels_spot[34]*",
        "--dimensions",
        "9,6,3.2",
        "--json",
    )


def test_the_document_keeps_the_contract(compared):
    from tests.contract import check_document

    assert (compared.status, compared.err) == (0, "")
    found = json.loads(compared.out)
    check_document(found, wanted=CONTRACT)
    assert found["volume_m3"] == pytest.approx(172.8)
    assert found["headline"]["verdict"] == "changed"
    assert "few-spots-compared" in {guard["code"] for guard in found["guards"]}
    # The room's Eyring times at 1 kHz are 0.63 and 0.49 s (sample_data/truth.json).
    (band,) = [one for one in found["bands"] if one["centre_hz"] == 1000]
    assert band["change_ci95_s"][0] <= 0.49 - 0.635 <= band["change_ci95_s"][1]
    assert band["added_absorption_m2"] > 0.0


def test_a_folder_is_all_its_recordings(roomir, sample_data, tmp_path):
    for name in ("dairy_3_curtains_spot2.flac", "dairy_3_curtains_spot4.flac"):
        (tmp_path / name).write_bytes((sample_data / name).read_bytes())
    (tmp_path / "notes.txt").write_text("north wall")
    run = roomir("compare", tmp_path, tmp_path / "dairy_3_curtains_spot2.flac", "--full")
    assert run.status == 0
    assert "with the same sound" in " ".join(run.out.split())
    assert "centre time ms, before" in run.out
    assert "2 spots before" in run.out


def test_a_missing_side_is_one_line_and_no_comparison(roomir, sample_data):
    run = roomir("compare", "nowhere.wav", sample_data / "dairy_4_panels_spot4.flac")
    assert run.status == 1
    assert run.err.count("\n") == 1
    assert "nowhere.wav" in run.err
    assert run.out.startswith("Cannot tell")


@pytest.mark.parametrize(
    "arguments",
    [
        ("*.nothing", "x.wav"),
        ("x.wav", "y.wav", "--target", "opera"),
        ("x.wav", "y.wav", "--target", "EBU Tech 3276"),
        ("x.wav", "y.wav", "--volume", "50", "--dimensions", "5x4x2.5"),
        ("x.wav", "y.wav", "--figure", "x.bmp"),
        ("x.wav",),
    ],
)
def test_wrong_usage_is_told_apart(roomir, arguments, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    run = roomir("compare", *arguments)
    assert run.status == 2
    assert run.err
    assert run.out == ""


def test_a_folder_without_recordings_is_refused(roomir, tmp_path):
    run = roomir("compare", tmp_path, "x.wav")
    assert (run.status, run.out) == (2, "")
    assert "no recording lies in the folder" in run.err


def test_the_targets_are_listed_with_their_sources(roomir):
    listed = json.loads(roomir("targets", "--json", "--volume", "60").out)
    assert listed["schema"] == "roomir/targets/1"
    by_name = {one["name"]: one for one in listed["targets"]}
    (band,) = [one for one in by_name["EBU Tech 3276"]["bands"] if one["centre_hz"] == 1000]
    assert (band["least_s"], band["most_s"]) == pytest.approx((0.161, 0.261), abs=0.001)
    shown = roomir("targets")
    assert shown.status == 0
    assert "common practice, no source" in shown.out
    assert max(map(len, shown.out.splitlines())) <= 80


def test_a_reading_is_held_against_a_target(roomir, sample_data):
    take = sample_data / "dairy_4_panels_spot4.flac"
    run = roomir("read", take, "--target", "0.2-0.3")
    assert "Against the target:" in run.out
    assert "too long" in run.out.lower()
    found = json.loads(roomir("read", take, "--target", "voice booth", "--json").out)["target"]
    assert found["source"] == "common practice, no source"
    assert {one["verdict"] for one in found["bands"]} <= {
        *("inside", "too long", "too short", "undecided", "no answer")
    }


def test_hands_before_and_a_balloon_after_are_nothing_to_hear(roomir, sample_data, tmp_path):
    run = roomir(
        "compare",
        sample_data / "booth_1_bare.wav",
        sample_data / "booth_2_lined.wav",
        "--hear",
        tmp_path / "x.wav",
    )
    assert run.status == 1
    assert "nothing to be heard" in run.err
    assert run.out.startswith("Changed")
    assert not (tmp_path / "x.wav").exists()
