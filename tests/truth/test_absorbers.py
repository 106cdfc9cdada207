"""Absorbers and diffusers against published points first, then against figures computed elsewhere.

The computed coefficients come from the stated formulas (c = 343.2 m/s, rho = 1.204 kg/m3), worked out
apart from this code.
"""

import numpy as np
import pytest

from roomir.errors import ParameterError
from roomir.rooms.absorbers.design import porous_design, sheet_design
from roomir.rooms.absorbers.diffuser import Diffuser, cutting_list
from roomir.rooms.absorbers.layers import (
    AIR_IMPEDANCE,
    AirGap,
    Porous,
    absorption,
    alpha_of,
    octave_values,
    random_absorption,
)
from roomir.rooms.absorbers.resonators import Helmholtz, Membrane, Perforated, Slotted

INCH = 0.0254
HZ = np.array([125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0])

# ------------------------------------------------------------------ published

# Acta Acustica (2025), aacus240081, Table A.1: frequency, surface impedance over that of air, |R| as printed.
IMPEDANCES = [
    (50, 1.774 - 4.220j, 0.850),
    (125, 1.742 - 1.854j, 0.603),
    (250, 1.721 - 1.171j, 0.464),
    (500, 1.492 - 0.865j, 0.377),
    (1000, 1.277 - 0.524j, 0.253),
    (2000, 1.170 - 0.338j, 0.172),
]


@pytest.mark.parametrize(("impedance", "printed"), [row[1:] for row in IMPEDANCES])
def test_a_surface_reflects_as_printed(impedance, printed):
    alpha = alpha_of(np.array([impedance * AIR_IMPEDANCE]))[0]
    assert np.sqrt(1.0 - alpha) == pytest.approx(printed, abs=0.0008)


def test_a_perforated_sheet_resonates_as_printed():
    # A published guide to perforated metal, example 4: d 1/8 in, b 3/8 in staggered, t 1/16 in, h 3/4 in,
    # open area 10 %, 2000 Hz read off a nomogram.
    sheet = Perforated(thickness_m=INCH / 16, hole_m=INCH / 8, spacing_m=3 * INCH / 8, staggered=True)
    assert sheet.open_share == pytest.approx(0.10, abs=0.002)
    assert sheet.resonance_hz(0.75 * INCH) == pytest.approx(2000, rel=0.03)


def test_a_perforated_sheet_that_was_measured_resonates_as_printed():
    # The same guide: 0.080 in sheet, 1/8 in holes on 2 1/4 in square centres, 4 in: 125 Hz, and so measured.
    sheet = Perforated(thickness_m=0.080 * INCH, hole_m=INCH / 8, spacing_m=2.25 * INCH)
    assert sheet.open_share == pytest.approx(0.002437, rel=0.01)
    assert sheet.resonance_hz(4 * INCH) == pytest.approx(125, rel=0.005)


def test_the_rules_of_thumb_for_membrane_and_bottle_hold():
    # "Audio Engineering" (2009), p. 863: f = 60 / sqrt(m d) and f = 55 sqrt(S / (l V)).
    for mass, depth_m in ((3.0, 0.10), (5.0, 0.05), (10.0, 0.10)):
        assert Membrane(mass_kg_per_m2=mass).resonance_hz(depth_m) == pytest.approx(
            60 / np.sqrt(mass * depth_m), rel=0.003
        )
    bottle = Helmholtz(neck_m2=1e-3, neck_m=0.05, volume_m3=0.02)
    assert bottle.resonance_hz(with_ends=False) == pytest.approx(55.0, rel=0.01)
    assert bottle.resonance_hz() < bottle.resonance_hz(with_ends=False)


def test_bottles_side_by_side_resonate_as_one_does():
    # Both from the same book's formulas: a sheet's open share over its cavity's depth is neck over volume.
    bottle = Helmholtz(neck_m2=1e-3, neck_m=0.05, volume_m3=0.02)
    for front_m2 in (0.05, 0.1, 0.3):
        sheet, depth_m = bottle.side_by_side(front_m2=front_m2)
        assert sheet.open_share == pytest.approx(1e-3 / front_m2, rel=1e-9)
        assert sheet.resonance_hz(depth_m) == pytest.approx(bottle.resonance_hz(), rel=1e-9)


SEQUENCES = {
    # M. R. Schroeder (1979): n^2 mod N.
    7: (0, 1, 4, 2, 2, 4, 1),
    11: (0, 1, 4, 9, 5, 3, 3, 5, 9, 4, 1),
    13: (0, 1, 4, 9, 3, 12, 10, 10, 12, 3, 9, 4, 1),
    17: (0, 1, 4, 9, 16, 8, 2, 15, 13, 13, 15, 2, 8, 16, 9, 4, 1),
}


@pytest.mark.parametrize("n", SEQUENCES)
def test_a_diffusers_sequence_is_as_printed(n):
    assert Diffuser(n_wells=n, design_hz=500, well_m=0.05).sequence == SEQUENCES[n]


def test_a_diffusers_depths_are_as_printed():
    # A published web page: N = 7, half a wave over seven times 21 cm: 0 3 12 6 6 12 3 cm.
    diffuser = Diffuser(n_wells=7, design_hz=343.2 / 0.42, well_m=0.05)
    assert [round(100 * one, 1) for one in diffuser.depths_m] == [0, 3, 12, 6, 6, 12, 3]


def test_a_period_of_seven_wells_of_forty_millimetres_works_from_where_it_is_printed():
    # The same page: 7 x 40 mm = 0.28 m, about 1225 Hz.
    diffuser = Diffuser(n_wells=7, design_hz=500, well_m=0.0399, fin_m=0.0001)
    assert diffuser.lowest_hz == pytest.approx(1225, rel=0.002)


# ------------------------------------------------------------------ computed

COMPUTED = [
    (10_000, 0.050, 0.0, "miki", (0.064, 0.190, 0.483, 0.882, 0.981, 0.971)),
    (10_000, 0.050, 0.0, "delany-bazley", (0.038, 0.180, 0.506, 0.890, 0.987, 0.975)),
    (10_000, 0.100, 0.0, "miki", (0.260, 0.620, 0.937, 0.947, 0.982, 0.991)),
    (10_000, 0.050, 0.050, "miki", (0.173, 0.493, 0.908, 0.966, 0.886, 0.998)),
    (10_000, 0.050, 0.100, "miki", (0.331, 0.753, 0.997, 0.766, 0.931, 0.996)),
    (20_000, 0.025, 0.0, "miki", (0.020, 0.064, 0.190, 0.483, 0.882, 0.981)),
    (20_000, 0.025, 0.0, "delany-bazley", (-0.002, 0.038, 0.180, 0.506, 0.890, 0.987)),
]


@pytest.mark.parametrize(("sigma", "thickness_m", "gap_m", "model", "computed"), COMPUTED)
def test_a_porous_layer_absorbs_from_the_front_as_computed(sigma, thickness_m, gap_m, model, computed):
    layers = [AirGap(thickness_m=gap_m)] if gap_m else []
    layers.append(Porous(thickness_m=thickness_m, flow_resistivity=sigma, model=model))
    assert absorption(layers, HZ) == pytest.approx(computed, abs=0.0006)


def test_the_impedance_of_a_layer_is_as_computed():
    layer = Porous(thickness_m=0.05, flow_resistivity=10_000)
    z = layer.surface(None, frequency_hz=np.array([500.0]), sin=np.zeros(1))[0] / AIR_IMPEDANCE
    assert (z.real, z.imag) == pytest.approx((0.5924, -1.5380), abs=0.0002)


@pytest.mark.parametrize(
    ("n", "computed_mm"),
    [
        (7, (0, 49.0, 196.0, 98.0, 98.0, 196.0, 49.0)),
        (11, (0, 31.2, 124.7, 280.6, 155.9, 93.5, 93.5, 155.9, 280.6, 124.7, 31.2)),
        (13, (0, 26.4, 105.5, 237.5, 79.2, 316.6, 263.8, 263.8, 316.6, 79.2, 237.5, 105.5, 26.4)),
    ],
)
def test_depths_for_five_hundred_hertz_are_as_computed(n, computed_mm):
    # Computed with c = 343 m/s and rounded step by step.
    depths_mm = [1000 * one for one in Diffuser(n_wells=n, design_hz=500, well_m=0.05).depths_m]
    assert depths_mm == pytest.approx(computed_mm, rel=0.001, abs=0.16)


@pytest.mark.parametrize(
    ("mass", "depth_m", "computed_hz"), [(3, 0.10, 109.5), (5, 0.05, 120.0), (10, 0.10, 60.0)]
)
def test_membranes_resonate_as_computed(mass, depth_m, computed_hz):
    assert Membrane(mass_kg_per_m2=mass).resonance_hz(depth_m) == pytest.approx(computed_hz, rel=0.002)


# ------------------------------------------------------------------ relations


def test_half_the_frequency_half_the_resistivity_and_twice_the_thickness_are_the_same():
    thin = Porous(thickness_m=0.025, flow_resistivity=20_000)
    thick = Porous(thickness_m=0.050, flow_resistivity=10_000)
    assert absorption([thin], HZ) == pytest.approx(absorption([thick], HZ / 2), rel=1e-9)


def test_a_diffuse_field_is_absorbed_as_the_mean_over_angles():
    layers = [AirGap(thickness_m=0.05), Porous(thickness_m=0.05, flow_resistivity=10_000)]
    angles = np.linspace(0.0, 90.0, 2001)[:-1]
    slow = np.array([absorption(layers, HZ, angle_deg=float(angle)) for angle in angles])
    weights = np.sin(2 * np.radians(angles))
    assert random_absorption(layers, HZ) == pytest.approx(weights @ slow / weights.sum(), abs=0.002)


@pytest.mark.parametrize("gap_m", [0.0, 0.05, 0.3])
def test_no_layer_gives_more_than_it_gets(gap_m):
    hz = np.geomspace(50, 10_000, 200)
    layers = [AirGap(thickness_m=gap_m)] if gap_m else []
    layers.append(Porous(thickness_m=0.05, flow_resistivity=12_000))
    for alpha in (absorption(layers, hz), random_absorption(layers, hz)):
        assert np.all((alpha >= 0.0) & (alpha <= 1.0))


def test_outside_its_range_the_older_model_is_withheld_and_the_newer_marked():
    older = porous_design(thickness_m=0.025, flow_resistivity=20_000, model="delany-bazley")
    newer = porous_design(thickness_m=0.025, flow_resistivity=20_000)

    assert list(older.valid[:3]) == [False, False, True]
    assert np.isnan(older.normal[:2]).all()
    assert np.nanmin(older.curve_normal) >= 0.0
    assert np.isfinite(newer.normal).all()
    assert not newer.valid[0]
    assert {"outside-validity"} < {one.code for one in newer.remarks}


@pytest.mark.parametrize(
    "sheet",
    [
        Perforated(thickness_m=0.012, hole_m=0.006, spacing_m=0.030),
        Slotted(thickness_m=0.020, slot_m=0.004, spacing_m=0.080),
        Membrane(mass_kg_per_m2=4.0),
    ],
)
def test_a_sheet_absorbs_most_near_its_resonance(sheet):
    design = sheet_design(sheet, depth_m=0.08, fill_m=0.03, flow_resistivity=8_000)
    peak_hz = design.frequency_hz[np.argmax(design.curve_normal)]
    # Filling and, for holes, the air's own friction shift it; a third of an octave either way.
    assert 0.75 < peak_hz / design.resonance_hz < 1.3
    assert design.curve_normal.max() > 0.6


def test_a_sheet_on_the_wall_itself_absorbs_nothing():
    assert absorption([Membrane(mass_kg_per_m2=3.0)], HZ) == pytest.approx(0.0, abs=1e-6)


def test_octaves_are_means_over_the_octave():
    layer = [Porous(thickness_m=0.05, flow_resistivity=10_000)]
    hz = np.geomspace(355.0, 708.0, 400)
    assert octave_values(layer, random=False)[3] == pytest.approx(absorption(layer, hz).mean(), abs=0.003)


def test_the_pieces_of_a_diffuser_fit_together():
    diffuser = Diffuser(n_wells=13, design_hz=600, well_m=0.06, fin_m=0.005, periods=2)
    cuts = {cut.part: cut for cut in cutting_list(diffuser, board_m=0.010)}

    assert cuts["fins"].count == 27
    assert cuts["back"].width_mm == pytest.approx(26 * 60 + 27 * 5)
    assert cuts["bottoms of wells"].count == 26
    spacers = [cut for part, cut in cuts.items() if part.startswith("spacers")]
    # Two strips carry each well that does not lie on the back.
    assert sum(cut.count for cut in spacers) == 2 * (26 - 2 * 2)
    for cut in spacers:
        assert cut.width_mm < cuts["fins"].width_mm


def test_a_diffuser_whose_wells_are_too_wide_for_its_frequency_is_refused():
    # c / 2w = 3432 Hz for wells of 50 mm.
    with pytest.raises(ParameterError, match="50 mm wide work below 3432 Hz"):
        Diffuser(n_wells=7, design_hz=5000, well_m=0.05)


def test_holes_further_across_than_apart_are_named_as_such():
    with pytest.raises(ParameterError, match="holes 5 mm wide do not fit 4 mm apart"):
        Perforated(thickness_m=0.006, hole_m=0.005, spacing_m=0.004)
