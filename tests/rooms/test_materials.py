"""The table of materials that comes with roomir."""

import tomllib
from pathlib import Path

import pytest

import roomir.rooms.materials as module
from roomir.errors import ParameterError
from roomir.rooms.materials import log_spread, standard_materials

ROWS = list(standard_materials())


def test_there_are_sixty_and_more_and_each_has_mounting_source_and_six_values():
    assert len(ROWS) >= 60
    for row in ROWS:
        assert row.mounting, row.name
        assert row.source, row.name
        assert all(value is not None for value in row.alpha[1:7]), row.name
        assert not row.own


def test_no_name_stands_twice():
    text = Path(module.__file__).with_name("materials.toml").read_text("utf-8")
    assert len(tomllib.loads(text)["materials"]) == len(ROWS)


def test_a_range_holds_its_value():
    ranged = [row for row in ROWS if row.low is not None]
    assert len(ranged) >= 6
    for row in ranged:
        for low, value, high in zip(row.low[1:7], row.alpha[1:7], row.high[1:7], strict=True):
            assert low <= value <= high, row.name


# Rows as printed, 125 Hz to 4 kHz; sources as in the table.
PRINTED = {
    # F. A. Everest, "The Master Handbook of Acoustics", p. 163.
    "acoustical tile 20 mm": (0.09, 0.28, 0.78, 0.84, 0.73, 0.64),
    # M. Vorlaender, "Auralization" (Springer, 2008), annex.
    "stone wool 50 mm, 40 kg/m3": (0.23, 0.59, 0.86, 0.86, 0.86, 0.86),
    "rough concrete": (0.02, 0.03, 0.03, 0.03, 0.04, 0.07),
    # R. F. Barron, "Industrial Noise Control and Acoustics" (2003), appendix D.
    "open-cell PU foam 50 mm": (0.16, 0.25, 0.57, 0.82, 0.86, 0.86),
    # T. J. Cox and P. D'Antonio, "Acoustic Absorbers and Diffusers", appendix A.
    "carpet, heavy, on felt or foam": (0.08, 0.24, 0.57, 0.69, 0.71, 0.73),
    # "Audio Engineering" (2009), table 29.3.
    "glass fibre 50 mm, 80 kg/m3": (0.20, 0.45, 0.70, 0.80, 0.80, 0.80),
}


@pytest.mark.parametrize("name", PRINTED)
def test_a_row_is_as_printed(name):
    assert standard_materials().get(name).alpha[1:7] == PRINTED[name]


def test_a_name_is_found_whatever_its_case_spaces_and_hyphens():
    table = standard_materials()
    for name in ("Wood floor on joists", "wood-floor on  JOISTS", "woodfloor_on_joists"):
        assert table.get(name).name == "wood floor on joists"


def test_an_unknown_name_is_answered_with_the_nearest():
    with pytest.raises(ParameterError) as caught:
        standard_materials().get("stone wool 50mm")
    assert "stone wool 50 mm, 40 kg/m3" in caught.value.remedy


def test_panels_have_what_hanging_them_needs_and_two_sided_ones_their_other_side():
    panels = [row for row in ROWS if row.panel]
    assert len(panels) >= 12
    for row in panels:
        assert row.panel.thickness_mm > 0
        assert row.panel.weight_kg_per_m2 > 0
        if row.panel.reverse:
            assert row.panel.reverse in standard_materials()


def test_hard_walls_are_known_worst_and_thick_absorbers_best():
    assert log_spread(0.02) > log_spread(0.1) > log_spread(0.8) > 0.09
    assert log_spread(0.0) == 0.0
    # Everest and a handbook's table for one and the same board at 125 Hz: 0.29 and 0.10.
    board = standard_materials().get("gypsum board 13 mm on studs")
    assert board.log_spread[1] > 0.5
