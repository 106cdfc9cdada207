"""What else a decay shows, in words, in the document and as a picture. All values are invented."""

from __future__ import annotations

import json
from dataclasses import replace

from roomir.findings.findings import (
    Flutter,
    FlutterBand,
    HeardMode,
    Reflection,
    RoomFindings,
    RoomModes,
    SurfacePair,
    TwoSlopes,
)
from roomir.reading.codec import decode, encode
from roomir.report.document import to_json
from roomir.report.figures import finding_figure, page_figure
from roomir.report.text import render
from roomir.report.view import view
from roomir.rooms.modes import BoxMode
from tests.contract import check_document
from tests.drawn import axes_of, lines_of, texts_of
from tests.readings import reading

FLUTTER = Flutter(
    spacing_s=0.0199,
    beyond_chance=31.0,
    strength_db=-2.2,
    mean_strength_db=-1.9,
    bands=(
        FlutterBand(
            nominal_hz=1000.0, found=False, beyond_chance=1.1, strength_db=None, mean_strength_db=None
        ),
        FlutterBand(
            nominal_hz=2000.0, found=True, beyond_chance=20.0, strength_db=-2.2, mean_strength_db=-1.9
        ),
    ),
    distance_m=3.41,
    double_m=6.83,
    pairs=(SurfacePair(along="width", apart_m=3.4, midway=False),),
    likeness=tuple(8.0 if lag % 20 == 0 else -1.0 for lag in range(90)),
)
ECHO = Reflection(
    spot=1,
    take=1,
    delay_s=0.084,
    level_db=-11.8,
    over_decay_db=9.3,
    path_difference_m=28.8,
    claps=4,
    of_claps=5,
)
EARLY = replace(ECHO, delay_s=0.0123, level_db=-4.4, path_difference_m=4.2)
SLOPES = TwoSlopes(
    nominal_hz=500.0, first_s=0.52, second_s=1.13, second_level_db=-17.0, bend_s=0.27, bend_db=28.2
)
AXIAL = BoxMode(orders=(1, 0, 0), frequency_hz=37.3)
MODES = RoomModes(
    dimensions_m=(4.6, 3.4, 2.5),
    highest_hz=190.0,
    width_hz=2.2,
    modes=(AXIAL, BoxMode(orders=(1, 1, 0), frequency_hz=62.8)),
    heard=(
        HeardMode(frequency_hz=37.5, decay_time_s=1.21, level_db=0.0, modes=(AXIAL,)),
        HeardMode(frequency_hz=88.0, decay_time_s=0.9, level_db=-8.0, modes=()),
    ),
    spectrum_hz=(20.0, 37.5, 60.0, 88.0, 190.0),
    spectrum_db=(-30.0, 0.0, -25.0, -8.0, -28.0),
)
ALL = RoomFindings(flutter=FLUTTER, echoes=(ECHO,), two_slopes=(SLOPES,), reflections=(EARLY,), modes=MODES)


def said(findings, **which):
    return " ".join(render(view(reading(findings=findings)), **which).split())


def test_a_flutter_says_its_spacing_both_distances_and_the_walls():
    text = said(RoomFindings(flutter=FLUTTER))

    assert "Flutter echo every 19.9 ms at 2 kHz" in text
    assert "3.4 m apart, or 6.8 m if clap and phone were midway" in text
    assert "It fits the walls at the ends of its width (3.4 m)" in text
    assert "indicative" in text


def test_every_finding_has_its_sentence():
    text = said(ALL)

    assert "Late echo in spot 2 84 ms after the direct sound" in text
    assert "Two slopes at 500 Hz: first 0.52 s, then 1.1 s, from 28 dB down on" in text
    assert "One early reflection behind the clap's own sound" in text
    assert "has two modes; those closer than 2.2 Hz (2.2/T) merge, which leaves at most two peaks" in text
    assert "--full" in text


def test_the_full_text_goes_tone_by_tone():
    text = said(ALL, full=True)

    assert "37.5 Hz: 1.2 s, 0 dB re the strongest (axial 1-0-0 at 37.3 Hz)" in text
    assert "88.0 Hz: 0.90 s, -8 dB re the strongest (no mode of the box)" in text
    assert "12.3 ms -4 dB (4.2 m)" in text


def test_a_slope_that_the_flutter_explains_is_laid_at_its_door():
    text = said(RoomFindings(flutter=FLUTTER, two_slopes=(replace(SLOPES, nominal_hz=2000.0),)))

    assert "most likely the flutter" in text


def test_nothing_found_says_nothing():
    assert "What else" not in said(RoomFindings())


def test_the_document_keeps_its_contract_with_everything_found():
    found = json.loads(to_json(reading(findings=ALL)))
    check_document(found)

    assert found["findings"]["echoes"][0]["spot"] == 1
    assert found["findings"]["modes"]["heard"][0]["box"][0]["kind"] == "axial"


def test_findings_come_back_from_the_document_equal():
    whole = reading(findings=ALL)

    assert decode(json.loads(json.dumps(encode(whole)))) == whole


def test_a_document_from_before_there_were_findings_is_read():
    old = encode(reading())
    del old["findings"]

    assert decode(old).findings == RoomFindings()


def test_the_picture_marks_the_spacing_and_the_modes():
    figure = finding_figure(reading(findings=ALL))
    marks = [line.get_xdata()[0] for line in lines_of(axes_of(figure, "flutter"), "spacing")]

    assert [round(mark, 1) for mark in marks] == [19.9, 39.8, 59.7, 79.6]
    (heard,) = lines_of(axes_of(figure, "modes"), "heard")
    assert list(heard.get_xdata()) == [37.5, 88.0]
    assert "1.2 s" in texts_of(figure)


def test_the_page_has_the_picture_only_where_something_was_found():
    page = page_figure(reading(bands=(), findings=ALL), [])
    bare = page_figure(reading(bands=()), [])

    assert "flutter" in [axes.get_label() for axes in page.axes]
    assert "flutter" not in [axes.get_label() for axes in bare.axes]
