"""The sample dairy, stage by stage: a room whose late sound is diffuse (sample_data/dairy.toml)."""

import json

import numpy as np
import pytest

import roomir
from roomir.plan.model import expect
from roomir.planning import knowledge_of_stages, load_room
from sample_data.scenario import STAGES

OCTAVES = range(1, 7)
FILES = {"bare": "dairy_1_bare", "boarded": "dairy_2_boarded", "curtains": "dairy_3_curtains"}


@pytest.mark.parametrize("name", [name for name in STAGES if name.startswith("dairy")])
def test_the_room_file_describes_the_stages_that_the_sounds_were_made_of(sample_data, name):
    room, _ = load_room(sample_data / "dairy.toml", stage=STAGES[name].stage)

    assert room.remarks == ()
    total = sum(patch.area_m2 * np.array(patch.alpha[1:7]) for _, patch in room.patches)
    assert total / room.surface_m2 == pytest.approx(STAGES[name].box.mean_absorption[1:7], abs=0.0005)


def test_curtains_are_foreseen_from_the_stages_before_them(sample_data):
    truth = json.loads((sample_data / "truth.json").read_text("utf-8"))["stages"]["dairy_3_curtains"]
    truth_s = np.array([truth["band_decay_time_s"][f"{hz}"] for hz in (125, 250, 500, 1000, 2000, 4000)])
    read = [
        (stage, roomir.read(sorted(sample_data.glob(f"{FILES[stage]}*")))) for stage in ("bare", "boarded")
    ]
    room, _ = load_room(sample_data / "dairy.toml", stage="curtains")
    untaught, taught = expect(room), expect(room, knowledge_of_stages(room, read).knowledge)
    pick = [taught.octaves.index(i) for i in OCTAVES]
    off = [np.abs(np.log(truth_s / one.decay_time_s[pick])) for one in (untaught, taught)]

    # The tables' formula takes the curtains on one side for an uneven room, 1 to 4 kHz 26 to 38 % too long;
    # two readings have shown that the dairy mixes its sound.
    assert off[0].max() > 0.3
    assert off[1].max() < 0.1
    assert np.all(off[1] < 1.96 * taught.log_spread[pick])
