"""Which formula is taken, and how wide the interval is."""

import itertools

import numpy as np
import pytest

from roomir.rooms.choice import absorbing, best_s, known_octaves
from roomir.rooms.materials import standard_materials
from roomir.rooms.prediction import predict
from roomir.rooms.room_file import parse_room

HEAD = '[room]\nname = "box"\ndimensions_m = [5, 4, 3]\ntemperature_c = 20\nhumidity_percent = 50\n'
SIDES = (("floor", "z", 20), ("ceiling", "z", 20), ("ends", "x", 24), ("sides", "y", 30))


def box(*alphas, facing=True, head=HEAD, spread=None):
    text = head
    for (name, axis, area), alpha in zip(SIDES, alphas, strict=True):
        text += f'[[surfaces]]\nname = "{name}"\narea_m2 = {area}\nalpha = {[alpha] * 6}\n'
        text += f'facing = "{axis}"\n' if facing else ""
        text += f"spread_percent = {spread}\n" if spread is not None else ""
    return parse_room(text, name="box.toml", materials=standard_materials())


@pytest.mark.parametrize(
    ("alphas", "method"),
    [
        ((0.1, 0.1, 0.1, 0.1), "Sabine"),
        ((0.35, 0.35, 0.3, 0.3), "Norris-Eyring"),
        ((0.14, 0.75, 0.05, 0.05), "Arau-Puchades"),
    ],
)
def test_one_formula_is_taken_for_all_bands_and_the_reason_is_told(alphas, method):
    prediction = predict(box(*alphas))

    assert prediction.method == method
    assert prediction.because
    key = {"Sabine": "sabine_s", "Norris-Eyring": "eyring_s", "Arau-Puchades": "arau_puchades_s"}[method]
    assert all(band.best_s == getattr(band, key) for band in prediction.bands)


def test_without_axes_two_formulas_are_left_out_and_the_interval_is_wider():
    with_axes, without = (predict(box(0.1, 0.1, 0.1, 0.1, facing=facing)) for facing in (True, False))

    assert "facing-unknown" in {one.code for one in without.remarks}
    for wide, narrow in zip(without.bands, with_axes.bands, strict=True):
        assert wide.fitzroy_s is None
        assert wide.arau_puchades_s is None
        assert wide.ci95_s[1] - wide.ci95_s[0] > narrow.ci95_s[1] - narrow.ci95_s[0]


def test_air_shortens_the_treble_and_can_be_left_out():
    with_air, without = (predict(box(0.05, 0.05, 0.05, 0.05), with_air=air) for air in (True, False))

    assert without.bands[-1].air_area_m2 == 0.0
    assert with_air.bands[-1].best_s < 0.85 * without.bands[-1].best_s
    # 4 m V for 60 m3 at 4 kHz, 20 degC, 50 %: 6.774e-3 /m (ISO 9613-1:1993, computed at the exact midband).
    assert with_air.bands[-1].air_area_m2 == pytest.approx(4 * 6.774e-3 * 60, rel=0.002)


def test_the_interval_is_what_drawing_the_materials_gives():
    # First order against a thousand rooms with coefficients drawn from their spread; formula's own part off.
    room = box(0.1, 0.4, 0.08, 0.15, spread=15)
    octaves = known_octaves(room)
    body = absorbing(room, octaves)
    rng = np.random.default_rng(7)
    drawn = body.alphas * np.exp(0.15 * rng.standard_normal((1000, len(room.patches), 1)))
    from dataclasses import replace

    from roomir.rooms.choice import spread_of_materials

    method = predict(room).method
    times = np.log(best_s(replace(body, alphas=drawn), method))
    stated = spread_of_materials(room, body, octaves, method=method)
    assert stated == pytest.approx(times.std(axis=0), rel=0.1)


def test_more_absorption_never_predicts_a_longer_decay_after_sabine_or_eyring():
    for alpha, more in itertools.pairwise((0.02, 0.1, 0.3, 0.6, 0.9)):
        longer, shorter = (predict(box(one, one, one, one)) for one in (alpha, more))
        for a, b in zip(longer.bands, shorter.bands, strict=True):
            assert b.sabine_s < a.sabine_s
            assert b.eyring_s < a.eyring_s


def test_a_room_in_which_nothing_absorbs_has_no_decay_time():
    prediction = predict(box(0.0, 0.0, 0.0, 0.0), with_air=False)

    assert all(band.best_s is None and band.ci95_s is None for band in prediction.bands)
    assert "nothing-absorbs" in {one.code for one in prediction.remarks}


def test_bands_below_the_schroeder_frequency_are_named():
    (remark,) = (
        one for one in predict(box(0.05, 0.05, 0.05, 0.05)).remarks if one.code == "modes-rule-prediction"
    )
    assert "125 Hz, 250 Hz" in remark.says
