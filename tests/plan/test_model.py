"""The room model learns from readings: on boxes that mirror, and on a real laboratory room."""

import json
import math
from dataclasses import replace

import numpy as np
import pytest

from roomir.errors import RoomirError
from roomir.plan.model import LEARNED, StageReading, expect, learn
from roomir.plan.readings import room_as_read, stage_reading
from roomir.plan.treatment import Item, treated
from roomir.rooms.choice import absorbing, known_octaves
from roomir.rooms.description import Patch, Room, Surface
from roomir.rooms.five_formulas import eyring_s
from roomir.rooms.mirror_box import T20, T30, mirror_box_s
from roomir.rooms.prediction import predict
from tests.benchmarks.drawn_boxes import decay
from tests.benchmarks.plan import README, RESULTS, SETTINGS, as_markdown, study
from tests.plan.rooms import TABLE, box
from tests.readings import reading
from tests.truth.test_real_recordings import opened, read

SIX = range(1, 7)


def read_as(room, share=0.02, **octaves):
    """A reading of what the room is expected to read."""
    expected = expect(room)
    return StageReading(
        name="bare",
        decay_time_s={
            i: (float(t) * octaves.get(f"o{i}", 1.0), share)
            for i, t in zip(expected.octaves, expected.decay_time_s, strict=True)
        },
    )


def test_without_a_reading_the_model_says_what_the_prediction_says():
    room = box()
    expected, prediction = expect(room), predict(room)

    assert expected.method == prediction.method
    assert expected.decay_time_s == pytest.approx([band.best_s for band in prediction.bands], rel=1e-9)
    assert expected.log_spread == pytest.approx([band.log_spread for band in prediction.bands], rel=1e-3)


def test_a_room_that_reads_longer_than_described_is_expected_longer_and_better_known():
    room = box()
    known = learn(room, read_as(room, o3=1.3, o4=1.3))
    before, after = expect(room), expect(room, known)

    assert after.method == LEARNED
    assert after.decay_time_s[2] / before.decay_time_s[2] == pytest.approx(1.3, rel=0.06)
    assert np.all(after.log_spread < before.log_spread)
    assert np.all(known.factor("lime-cement plaster on masonry")[2:4] < 1.0)


def test_an_octave_that_was_not_read_stays_as_it_was_in_its_materials():
    room = box()
    full = read_as(room, o4=1.4)
    known = learn(room, replace(full, decay_time_s={4: full.decay_time_s[4]}))

    assert known.factor("parquet on concrete")[0] == 1.0
    assert known.factor("parquet on concrete")[3] != 1.0


def test_a_second_reading_of_the_same_room_adds_less_than_the_first():
    room = box()
    first = learn(room, read_as(room))
    second = learn(room, read_as(room), first)
    spreads = [expect(room, known).log_spread.mean() for known in (None, first, second)]

    assert spreads[0] > spreads[1] >= 0.9 * spreads[2]
    assert second.stages == ("bare", "bare")


def test_a_reading_of_other_bands_teaches_nothing_and_says_so():
    with pytest.raises(RoomirError) as caught:
        learn(box(), StageReading(name="x", decay_time_s={0: (0.5, 0.1)}))
    assert caught.value.code == "nothing-to-learn"


def mirror(size_m, alphas):
    """A box of six walls of one coefficient each, as the mirror formula has it."""
    areas = np.repeat([size_m[1] * size_m[2], size_m[0] * size_m[2], size_m[0] * size_m[1]], 2)
    surfaces = tuple(
        Surface(
            name=str(i),
            area_m2=float(area),
            facing=facing,
            patches=(
                Patch(
                    area_m2=float(area),
                    material=str(i),
                    alpha=(None, *[alpha] * 6, None),
                    log_spread=(None, *[0.1] * 6, None),
                ),
            ),
        )
        for i, (area, facing, alpha) in enumerate(zip(areas, "xxyyzz", alphas, strict=True))
    )
    return Room(name="box", volume_m3=math.prod(size_m), dimensions_m=size_m, surfaces=surfaces)


@pytest.mark.parametrize(
    "alphas", [(0.15,) * 6, (0.05, 0.2, 0.1, 0.15, 0.1, 0.3), (0.1, 0.1, 0.1, 0.1, 0.1, 0.6)]
)
def test_the_mirror_box_is_the_limit_of_many_image_sources(alphas):
    size_m = (5.2, 4.1, 2.9)
    room = mirror(size_m, alphas)
    body = replace(absorbing(room, known_octaves(room), with_air=False))
    formula = mirror_box_s(body, size_m=size_m, walls=tuple(range(6)), stretches=(T20, T30))[:, 0]
    drawn = decay(size_m, np.array(alphas)[:, None], np.random.default_rng(5), n_spots=12)
    # Twelve spots; a box departs from the limit by where source and microphone stand.
    assert formula == pytest.approx([drawn.t20_s[0], drawn.t30_s[0]], rel=0.05)
    assert formula[1] / formula[0] == pytest.approx(drawn.t30_s[0] / drawn.t20_s[0], abs=0.02)
    assert formula[0] > eyring_s(body)[0]


def test_a_box_that_does_not_mirror_is_eyrings_and_straight():
    room = mirror((5.2, 4.1, 2.9), (0.05, 0.2, 0.1, 0.15, 0.1, 0.3))
    body = absorbing(room, known_octaves(room))
    told = {"size_m": room.dimensions_m, "walls": tuple(range(6)), "stretches": (T20, T30)}
    diffuse, half, mirrors = (mirror_box_s(body, mirroring=w, **told) for w in (0.0, 0.5, 1.0))

    assert diffuse[0] == pytest.approx(eyring_s(body))
    assert diffuse[1] == pytest.approx(diffuse[0])
    assert np.all((diffuse < half) & (half < mirrors))
    assert np.all((half[1] / half[0] > 1.0) & (half[1] / half[0] < mirrors[1] / mirrors[0]))


def test_a_decay_that_bends_tells_that_walls_mirror():
    room = mirror((5.2, 4.1, 2.9), (0.05, 0.2, 0.1, 0.15, 0.1, 0.3))
    body = absorbing(room, known_octaves(room))
    told = {"size_m": room.dimensions_m, "walls": tuple(range(6)), "stretches": (T20, T30)}
    t20, t30 = mirror_box_s(body, **told)
    # Midway between the two ends in time, so that it is the bend that tells.
    times_s = {i: (float(t), 0.2) for i, t in zip(SIX, np.sqrt(eyring_s(body) * t30), strict=True)}
    bent, straight = (
        learn(room, StageReading(name="bare", decay_time_s=times_s, bend=bend)).mixing
        for bend in (
            {i: (float(one), 0.02) for i, one in zip(SIX, np.log(t30 / t20), strict=True)},
            dict.fromkeys(SIX, (0.0, 0.02)),
        )
    )
    assert bent > straight + 0.1


def test_next_stages_of_mirror_boxes_are_foreseen_and_the_interval_holds():
    # The full counts stand in tests/benchmarks/results/plan.json.
    figures = study(replace(SETTINGS[0], n=9))

    assert figures["within_10_percent"] >= 80
    assert figures["within_10_percent"] > figures["without_reading_within_10_percent"]
    assert figures["interval_holds_percent"] >= 85


def test_readme_has_the_counts_of_the_last_run():
    table = as_markdown(json.loads(RESULTS.read_text("utf-8")))
    assert table in README.read_text("utf-8")


def test_more_of_a_material_errs_anew_by_its_mounting():
    room = box()
    known = learn(room, read_as(room))
    wool = Item(absorber=TABLE.get("stone wool 50 mm, 80 kg/m3"), surface="ceiling", count=8)
    some, more = treated(room, [wool]), treated(room, [replace(wool, count=16)])
    known = learn(some, read_as(some), known)

    assert np.all(expect(more, known).log_spread > expect(some, known).log_spread)


def test_a_reading_becomes_a_stage_with_the_uncertainty_of_its_interval():
    stage = stage_reading(reading(), name="bare")

    assert stage.decay_time_s
    for i, (value_s, share) in stage.decay_time_s.items():
        assert 0 <= i < 8
        assert value_s > 0.0
        assert 0.0 < share < 0.5


def test_a_room_known_by_its_decay_alone_predicts_that_decay():
    stage = StageReading(name="bare", decay_time_s={i: (0.9 - 0.05 * i, 0.03) for i in (2, 3, 4, 5, 6)})
    room = room_as_read(stage, name="shed", dimensions_m=(5.0, 4.0, 2.8))
    bands = {band.band.nominal_hz: band for band in predict(room).bands}

    for i, hz in zip((2, 3, 4, 5, 6), (250, 500, 1000, 2000, 4000), strict=True):
        assert bands[hz].eyring_s == pytest.approx(0.9 - 0.05 * i, rel=1e-6)
    assert {one.code for one in room.remarks} == {"surfaces-as-read", "octaves-guessed"}
    with pytest.raises(RoomirError) as caught:
        room_as_read(stage, name="shed", dimensions_m=None)
    assert caught.value.code == "no-dimensions"


def laboratory_room(share):
    """9.7 x 5.5 x 2.7 m; what walls, floor and ceiling are made of is guessed, as a visitor would."""
    room = box(
        (9.7, 5.5, 2.7),
        walls="chipboard or solid wood panelling on battens",
        floor="carpet, thin, cemented",
        ceiling="acoustical tile 20 mm",
    )
    wool = TABLE.get("stone wool 50 mm, 80 kg/m3")
    surfaces = []
    for surface in room.surfaces:
        if surface.facing == "z" or share == 0.0:
            surfaces.append(surface)
            continue
        # How much of the walls the panels make up is not published; 60 % is a guess.
        m2 = 0.6 * share * surface.area_m2
        panel = Patch(
            area_m2=m2,
            material=wool.name,
            alpha=wool.alpha,
            log_spread=tuple(None if a is None else 0.5 for a in wool.alpha),
        )
        ground = replace(surface.ground, area_m2=surface.area_m2 - m2)
        surfaces.append(replace(surface, patches=(ground, panel)))
    loose = tuple(
        replace(
            s,
            patches=tuple(
                replace(
                    p,
                    log_spread=tuple(
                        None if a is None else max(a_s, 0.5)
                        for a, a_s in zip(p.alpha, p.log_spread, strict=True)
                    ),
                )
                for p in s.patches
            ),
        )
        for s in surfaces
    )
    return replace(room, surfaces=loose)


def test_the_laboratory_rooms_settings_are_foreseen_from_the_readings_before(shared_recordings):
    # S. V. Amengual Gari, "R3VIVAL", CC BY 4.0: one room, wall panels 0, 50 and 100 % absorptive, read here.
    # The room's materials and the panels' area are not published.
    known, off, held = None, [], []
    for share, setting in ((0.0, "000"), (0.5, "050"), (1.0, "100")):
        spots = [opened(shared_recordings / f"r3vival_abs{setting}_SBG{k}_centre.wav") for k in (1, 2, 3, 4)]
        stage = stage_reading(read(*spots), name=setting)
        room = laboratory_room(share)
        expected = expect(room, known)
        pick = [expected.octaves.index(i) for i in SIX]
        read_s, u = np.array([stage.decay_time_s[i] for i in SIX]).T
        off.append(np.log(read_s / expected.decay_time_s[pick]))
        held.append(np.abs(off[-1]) < 1.96 * np.hypot(expected.log_spread[pick], u))
        known = learn(room, stage, known)
    # Half the panels: off by 15 to 45 %, as the interval says.
    assert held[1].all()
    # All of them: 250 Hz to 4 kHz ring 14 to 25 % longer than foreseen, just outside the interval: the second
    # half of the panels does less than the first. New panels are worth reading, not only foreseeing.
    assert np.all(np.abs(off[2]) < math.log(1.26))
    assert np.all(off[2][1:] > 0.0)
    assert held[2].sum() >= 2
    assert np.abs(off[2]).mean() < 0.6 * np.abs(off[1]).mean() < 0.6 * np.abs(off[0]).mean()
