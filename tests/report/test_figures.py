"""Figures tell trust by shape and filling, and are objects that nobody has to close."""

from __future__ import annotations

import io
import math
import subprocess
import sys
from pathlib import Path

from roomir.report.figures import decay_time_figure
from tests.readings import reading, room_band, unusable_band


def test_every_band_with_a_time_is_drawn_with_its_interval():
    figure = decay_time_figure({"bare": reading()})
    (axes,) = figure.axes

    # Seven of eight bands have a time; 63 Hz has none and is not drawn, but keeps its place on the axis.
    assert len(axes.containers) == 7
    assert [tick.get_text() for tick in axes.get_xticklabels()][:2] == ["63 Hz", "125 Hz"]
    _, _, (bar,) = axes.containers[1].lines
    (segment,) = bar.get_segments()
    assert sorted(segment[:, 1]) == [0.8447, 0.9172]


def test_trust_is_told_without_colour():
    bands = tuple(
        room_band(hz, verdict=v)
        for hz, v in ((250.0, "reliable"), (500.0, "indicative"), (1000.0, "unusable"))
    )
    figure = decay_time_figure({"bare": reading(bands=bands)})
    (axes,), (legend,) = figure.axes, figure.legends
    looks = [
        (container.lines[0].get_marker(), container.lines[0].get_fillstyle()) for container in axes.containers
    ]

    assert len(set(looks)) == 3
    told = [text.get_text() for text in legend.get_texts()]
    assert told == ["bare", "reliable", "indicative", "unusable"]


def test_no_line_leads_through_a_band_that_is_unusable():
    bands = (room_band(250.0), room_band(500.0, verdict="unusable"), room_band(1000.0))
    (axes,) = decay_time_figure({"bare": reading(bands=bands)}).axes
    (line,) = (line for line in axes.lines if line.get_label() == "bare")

    assert [math.isnan(time_s) for time_s in line.get_ydata()] == [False, True, False]


def test_stages_differ_by_their_line():
    (axes,) = decay_time_figure({"bare": reading(), "panels": reading()}).axes
    dashes = {line.get_label(): line.get_linestyle() for line in axes.lines}

    assert dashes["bare"] != dashes["panels"]


def test_the_kind_of_interval_is_said_in_the_figure():
    assert "scatter between the spots" in decay_time_figure({"bare": reading()}).get_supxlabel()


def test_kinds_of_interval_that_differ_are_told_apart_by_name():
    by_theory = reading(bands=(room_band(500.0, spots=1, interval_from="prior"),))
    caption = decay_time_figure({"bare": reading(), "panels": by_theory}).get_supxlabel()

    assert "bare. Bars: 95 % interval for the room, from the scatter" in caption
    assert "panels. Bars: 95 % interval for the room, from theory" in caption


def test_a_figure_can_be_saved_even_of_a_reading_without_times():
    picture = io.BytesIO()
    decay_time_figure({"bare": reading(bands=(unusable_band(),))}).savefig(picture, format="png")

    assert picture.getvalue().startswith(b"\x89PNG")


def test_drawing_leaves_the_global_state_of_matplotlib_alone(checkout: Path):
    program = (
        "import sys\n"
        "from roomir.report.figures import decay_time_figure\n"
        "from tests.readings import reading\n"
        "decay_time_figure({'bare': reading()})\nassert 'matplotlib.pyplot' not in sys.modules"
    )

    subprocess.run([sys.executable, "-c", program], check=True, cwd=checkout)
