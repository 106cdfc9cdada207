"""The picture of the decays shows, for every band, what was heard and what was fitted to it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from roomir.audio.recording import Recording
from roomir.errors import ParameterError
from roomir.reading.reading import Reading
from roomir.reading.take import take_reading
from roomir.report.figures import decay_figure
from roomir.synth.decay import Slope
from roomir.synth.takes import make_take
from tests.drawn import axes_of, lines_of, texts_of
from tests.readings import nothing_read, reading, unusable_band

OCTAVES = ("63 Hz", "125 Hz", "250 Hz", "500 Hz", "1 kHz", "2 kHz", "4 kHz", "8 kHz")


@pytest.fixture(scope="module")
def read_take() -> Callable[..., Reading]:
    """Make one take and read it, evidence kept. The room is invented."""

    def read_take(*, band_set: str = "octave", **changes) -> Reading:
        made = {"seed": 5, "sample_rate_hz": 48000, "decay_time_s": 0.6, "n_claps": 3, "source": "pop"}
        sound = make_take(**(made | changes)).sound
        recording = Recording(sound=sound, source_name="booth.wav")
        return take_reading([recording], band_set=band_set, with_evidence=True)

    return read_take


@pytest.fixture(scope="module")
def clean(read_take) -> Reading:
    return read_take(background_db=-80.0)


@pytest.fixture(scope="module")
def noisy(read_take) -> Reading:
    return read_take(background_db=-42.0, background_slope_db_per_octave=-6.0, source="clap")


def test_every_band_has_a_panel_with_its_name_its_trust_and_its_time(clean: Reading):
    figure = decay_figure(clean)
    told = texts_of(figure)

    assert [axes.get_label() for axes in figure.axes] == ["key", *OCTAVES]
    assert set(OCTAVES) <= set(told)
    (kilohertz,) = (one.figures for one in clean.bands if one.figures.band.nominal_hz == 1000.0)
    assert any(
        text.endswith(" s") and kilohertz.verdict in text and f"{kilohertz.decay_time_s:.2f}" in text
        for text in told
    )
    assert [axes.get_xlabel() for axes in figure.axes[-2:]] == ["time [s]", "time [s]"]
    assert figure.axes[1].get_yticklabels()[0].get_text() == "0 dB"


def test_third_octaves_have_a_panel_each(read_take):
    figure = decay_figure(read_take(background_db=-80.0, band_set="third-octave"))

    assert len(figure.axes) == 1 + 24


def test_the_clap_seen_farthest_down_stands_before_the_others(clean: Reading):
    axes = axes_of(decay_figure(clean), "1 kHz")
    (best,) = lines_of(axes, "best clap")
    column = OCTAVES.index("1 kHz")
    ranges_db = [clap.bands[column].decay_range_db for clap in clean.takes[0].claps if clap.used]
    (evidence,) = (
        one
        for one in clean.evidence
        if one.band.nominal_hz == 1000.0 and one.clap == int(np.argmax(ranges_db))
    )

    assert len(lines_of(axes, "other clap")) == len(ranges_db) - 1 == 2
    np.testing.assert_array_equal(best.get_ydata(), evidence.level_db)
    # Faint is told by lightness, for paper that is grey.
    others = lines_of(axes, "other clap")
    assert all(_lightness(other) > _lightness(best) + 0.2 for other in others)


def _lightness(line) -> float:
    red, green, blue = (int(line.get_color()[i : i + 2], 16) / 255.0 for i in (1, 3, 5))
    return 0.299 * red + 0.587 * green + 0.114 * blue


def test_the_fit_begins_where_it_is_marked_and_ends_in_the_background(clean: Reading):
    axes = axes_of(decay_figure(clean), "500 Hz")
    (start,), (crosspoint,) = lines_of(axes, "start"), lines_of(axes, "crosspoint")
    (fit,), (background,) = lines_of(axes, "fit"), lines_of(axes, "background")

    assert fit.get_xdata()[0] == start.get_xdata()[0]
    assert fit.get_ydata()[0] == pytest.approx(start.get_ydata()[0])
    noise_db = background.get_ydata()[0]
    assert crosspoint.get_ydata()[0] == noise_db
    # Where decay and background are equal, both together are 3 dB more.
    at_crosspoint = np.interp(crosspoint.get_xdata()[0], fit.get_xdata(), fit.get_ydata())
    assert at_crosspoint == pytest.approx(noise_db + 3.0, abs=0.3)
    assert start.get_marker() != crosspoint.get_marker()


def test_the_fit_falls_as_steeply_as_the_decay_that_was_made(clean: Reading):
    (fit,) = lines_of(axes_of(decay_figure(clean), "1 kHz"), "fit")
    part = fit.get_ydata() > -35.0
    slope_db_per_s = np.polyfit(fit.get_xdata()[part], fit.get_ydata()[part], 1)[0]

    # The take was made with 0.6 s.
    assert -60.0 / slope_db_per_s == pytest.approx(0.6, rel=0.1)


def test_stretches_are_drawn_only_for_figures_that_are_given(clean: Reading, noisy: Reading):
    def stretches(of: Reading, band: str) -> dict[str, list[float]]:
        axes = axes_of(decay_figure(of), band)
        return {
            name: list(line.get_ydata()) for name in ("EDT", "T20", "T30") for line in lines_of(axes, name)
        }

    # ISO 3382-1:2009, 3.6 and A.2.2: the levels between which the lines are fitted.
    assert stretches(clean, "1 kHz") == {"EDT": [0.0, -10.0], "T20": [-5.0, -25.0], "T30": [-5.0, -35.0]}
    figures = noisy.takes[0].claps[0].bands[OCTAVES.index("4 kHz")]
    assert figures.t30_s is None
    assert "T30" not in stretches(noisy, "4 kHz")


def test_a_band_without_a_decay_says_why_instead(noisy: Reading):
    figure = decay_figure(noisy)
    axes = axes_of(figure, "63 Hz")

    assert not axes.lines
    assert not axes.axison
    said = " ".join(text.get_text() for text in axes.texts)
    assert "63 Hz" in said
    assert "no decay stands out of the background" in said


def test_a_second_slope_bends_the_fit(read_take):
    bent = read_take(background_db=-85.0, second_slope=Slope(decay_time_s=2.0, level_db=-22.0))
    (fit,) = lines_of(axes_of(decay_figure(bent), "2 kHz"), "fit")
    falls = np.diff(fit.get_ydata()) / np.diff(fit.get_xdata())

    assert bent.bands[OCTAVES.index("2 kHz")].figures.slopes == 2
    assert falls[0] < 2.0 * falls[falls.size // 2] < 0.0


def test_a_decay_that_is_cut_off_ends_where_the_sound_ends(clean: Reading):
    (one,) = (
        one for one in clean.evidence if one.band.nominal_hz == 1000.0 and one.clap == clean.evidence[0].clap
    )
    cut = replace(one, crosspoint_s=0.2, cut_off=True)
    only = replace(clean, evidence=(cut,))
    (crosspoint,) = lines_of(axes_of(decay_figure(only), "1 kHz"), "crosspoint")

    assert crosspoint.get_xdata()[0] == 0.2
    assert crosspoint.get_ydata()[0] == pytest.approx(float(one.model_db(np.array([0.2]))[0]))


def test_a_reading_that_kept_no_evidence_says_how_to_keep_it():
    with pytest.raises(ParameterError, match="kept nothing to draw") as caught:
        decay_figure(reading())

    assert "with_evidence=True" in caught.value.remedy


def test_a_reading_without_any_decay_is_drawn_as_what_it_is():
    figure = decay_figure(reading(bands=(unusable_band(),)))
    assert "63 Hz" in [axes.get_label() for axes in figure.axes]

    assert texts_of(decay_figure(nothing_read())) == [
        "No clap was fit to be read, so there is no decay to show."
    ]
