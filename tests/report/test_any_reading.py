"""Whatever a reading holds, it can be shown: on the screen, as document, table and figure, in a notebook."""

from __future__ import annotations

import json
from dataclasses import fields
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.text import Text

from roomir.bands.band import OCTAVES
from roomir.reading.reading import BandFigures, MidFigures, Reading, RoomBand
from roomir.remarks import Remark
from roomir.report.document import to_json
from roomir.report.figures import decay_time_figure
from roomir.report.room import advise_room
from roomir.report.table import to_csv
from roomir.report.text import render
from roomir.report.view import view
from tests.contract import check_document
from tests.readings import failure, take

TIMES = {"edt_s", "t20_s", "t30_s", "decay_time_s", "ts_s"}
texts = st.text(max_size=120)
remarks = st.lists(st.builds(Remark, code=st.just("some-code"), says=texts, remedy=texts), max_size=3).map(
    tuple
)
positive = st.floats(min_value=1e-3, max_value=60.0)
intervals = st.tuples(positive, positive).map(lambda ends: (min(ends), max(ends)))


def _values(name: str) -> st.SearchStrategy[Any]:
    if name in TIMES:
        return st.none() | positive
    if name.endswith("ci95_s"):
        return st.none() | intervals
    if name == "slopes":
        return st.sampled_from([None, 1, 2])
    return st.none() | st.floats(min_value=-99.0, max_value=9999.0)


figures = st.fixed_dictionaries(
    {
        **{one.name: _values(one.name) for one in fields(BandFigures)},
        "band": st.sampled_from(OCTAVES),
        "verdict": st.sampled_from(["reliable", "indicative", "unusable"]),
        "reasons": remarks,
    }
).map(lambda values: BandFigures(**values))
room_bands = st.builds(
    RoomBand,
    figures=figures,
    claps_used=st.integers(0, 99),
    effective_claps=st.none() | positive,
    spots=st.integers(0, 20),
    interval_from=st.sampled_from([None, "prior", "scatter"]),
)
readings = st.builds(
    Reading,
    roomir_version=st.just("0.1.0"),
    band_set=st.just("octave"),
    takes=st.lists(st.builds(take, texts, concerns=remarks, notes=remarks), max_size=2).map(tuple),
    failures=st.lists(st.builds(failure, texts), max_size=2).map(tuple),
    bands=st.lists(room_bands, max_size=9).map(tuple),
    mid=st.builds(MidFigures, decay_time_s=st.none() | positive, ci95_s=st.none() | intervals),
    bass_ratio=st.none() | positive,
)


@settings(max_examples=60, deadline=None)
@given(readings, st.floats(min_value=0.5, max_value=1e5))
def test_any_reading_fits_on_the_screen_and_does_nothing_to_it(what: Reading, volume_m3: float):
    shown = view(what, room=advise_room(what, volume_m3=volume_m3))
    for full in (False, True):
        lines = render(shown, full=full).split("\n")

        assert max(map(len, lines)) <= 80
        assert all(line.isprintable() for line in lines)
        assert not any(word in {"nan", "None", "inf"} for line in lines for word in line.split())


@settings(max_examples=60, deadline=None)
@given(readings)
def test_any_reading_is_a_document_and_a_table(what: Reading):
    check_document(json.loads(to_json(what)))
    assert to_csv(what).count("\n") == 1 + len(what.bands)


@settings(max_examples=60, deadline=None)
@given(readings)
def test_any_reading_is_shown_in_a_notebook(what: Reading):
    html = what._repr_html_()

    assert html.isprintable()
    assert html.count("<tr>") == (1 + len(what.bands) if what.bands else 0)
    assert len(what.to_frame()) == len(what.bands)


@settings(max_examples=15, deadline=None)
@given(st.dictionaries(texts, readings, min_size=1, max_size=5))
def test_any_readings_can_be_drawn_side_by_side_under_any_names(what: dict[str, Reading]):
    figure = decay_time_figure(what)
    figure.draw_without_rendering()

    shown = [text.get_text() for text in figure.findobj(Text)]
    assert any(shown)
    assert all(line.isprintable() for text in shown for line in text.split("\n"))
