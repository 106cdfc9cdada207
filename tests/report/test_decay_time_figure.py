"""The picture of decay times tells trust by shape and filling, and intervals by bars."""

from __future__ import annotations

import math

from roomir.bands.band import THIRD_OCTAVES
from roomir.reading.reading import RoomBand
from roomir.report.figures import decay_time_figure
from tests.drawn import axes_of, texts_of
from tests.readings import figures, nothing_read, reading, room_band, unusable_band


def _plot(figure):
    return axes_of(figure, "decay times")


def test_every_band_with_a_time_is_drawn_with_its_interval():
    axes = _plot(decay_time_figure({"bare": reading()}))

    # Seven of eight bands have a time; 63 Hz has none and is not drawn, but keeps its place on the axis.
    assert len(axes.containers) == 7
    names = [tick.get_text() for tick in axes.get_xticklabels()]
    assert names[:3] == ["63 Hz\n-", "125 Hz\n0.93", "250 Hz\n0.88"]
    assert axes.get_ylabel() == "decay time [s]"
    _, _, (bar,) = axes.containers[1].lines
    (segment,) = bar.get_segments()
    assert sorted(segment[:, 1]) == [0.8447, 0.9172]


def test_trust_is_told_without_colour():
    bands = tuple(
        room_band(hz, verdict=v)
        for hz, v in ((250.0, "reliable"), (500.0, "indicative"), (1000.0, "unusable"))
    )
    figure = decay_time_figure({"bare": reading(bands=bands)})
    looks = [
        (container.lines[0].get_marker(), container.lines[0].get_fillstyle())
        for container in _plot(figure).containers
    ]

    assert len(set(looks)) == 3
    assert {"reliable", "indicative", "unusable"} <= set(texts_of(figure))


def test_no_line_leads_through_a_band_that_is_unusable():
    bands = (room_band(250.0), room_band(500.0, verdict="unusable"), room_band(1000.0))
    axes = _plot(decay_time_figure({"bare": reading(bands=bands)}))
    (line,) = (line for line in axes.lines if line.get_gid() == "decay times")

    assert [math.isnan(time_s) for time_s in line.get_ydata()] == [False, True, False]


def test_a_wild_interval_of_an_unusable_band_does_not_flatten_the_others():
    wild = room_band(63.0, verdict="unusable", decay_time_s=0.9, ci95_s=(0.2, 9.0))
    figure = decay_time_figure({"bare": reading(bands=(wild, room_band(500.0)))})

    assert _plot(figure).get_ylim()[1] < 1.2
    assert any("leaves the picture" in text for text in texts_of(figure))
    assert not any("leaves the picture" in text for text in texts_of(decay_time_figure({"": reading()})))


def test_stages_differ_by_their_line_and_are_named_beside_it():
    figure = decay_time_figure({"bare": reading(), "panels $2 to $3": reading(), "_later": nothing_read()})
    dashes = [line.get_linestyle() for line in _plot(figure).lines if line.get_gid() == "decay times"]

    assert len(dashes) == len(set(dashes)) == 3
    assert {"bare", "panels $2 to $3", "_later (no decay time)"} <= set(texts_of(figure))


def test_the_kind_of_interval_is_said_in_the_figure():
    told = " ".join(texts_of(decay_time_figure({"bare": reading()})))

    assert "Bars: 95 % interval for the room, from the scatter between the spots" in told


def test_kinds_of_interval_that_differ_are_told_apart_by_name():
    by_theory = reading(bands=(room_band(500.0, spots=1, interval_from="prior"),))
    told = " ".join(texts_of(decay_time_figure({"bare": reading(), "panels": by_theory})))

    assert "bare. Bars: 95 % interval for the room, from the scatter" in told
    assert "panels. Bars: 95 % interval for the room, from theory" in told


def test_third_octaves_are_named_where_there_is_room():
    bands = tuple(
        RoomBand(figures=figures(band), claps_used=4, effective_claps=4.0, spots=4, interval_from="scatter")
        for band in THIRD_OCTAVES
    )
    figure = decay_time_figure({"": reading(bands=bands, band_set="third-octave")})
    axes = _plot(figure)

    assert "Decay time in every third-octave band" in texts_of(figure)
    assert len(axes.containers) == 24
    assert [tick.get_text() for tick in axes.get_xticklabels()] == [
        *("63 Hz", "125 Hz", "250 Hz", "500 Hz", "1 kHz", "2 kHz", "4 kHz", "8 kHz")
    ]


def test_a_reading_without_times_is_drawn_as_what_it_is():
    none_known = decay_time_figure({"bare": reading(bands=(unusable_band(),))})
    assert not _plot(none_known).containers

    told = texts_of(decay_time_figure({"bare": nothing_read()}))
    assert told == ["No clap was fit to be read, so there is no decay time."]
