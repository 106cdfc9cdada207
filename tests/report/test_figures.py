"""Figures are objects that nobody has to close, and one page of them holds all there is to see."""

from __future__ import annotations

import io
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text

from roomir.audio.recording import Recording, SoundInMemory
from roomir.reading.reading import Reading
from roomir.reading.take import take_reading
from roomir.report.figures import decay_figure, decay_time_figure, page_figure, take_figure
from roomir.report.figures.page import MOST_TAKES
from roomir.report.figures.sheet import FONT, broken, shortened, width_of
from roomir.synth.takes import make_take
from tests.drawn import texts_of
from tests.readings import failure, nothing_read, reading, take

HOSTILE = "take $\\alpha_$ \x1b[2J\n_{^.wav"


@pytest.fixture(scope="module")
def recordings() -> list[Recording]:
    """A take that can be read and one that cannot, under a name that is hard to draw. Both invented."""
    made = make_take(
        seed=8,
        sample_rate_hz=16000,
        decay_time_s=0.5,
        n_claps=3,
        background_db=-70.0,
        distractors=("speech",),
    )
    hiss = SoundInMemory(
        samples=np.random.default_rng(2).standard_normal(64000).astype(np.float32), sample_rate_hz=16000
    )
    return [
        Recording(sound=made.sound, source_name=HOSTILE),
        Recording(sound=hiss, source_name="hiss.wav"),
    ]


@pytest.fixture(scope="module")
def read(recordings: list[Recording]) -> Reading:
    return take_reading(recordings, with_evidence=True)


@pytest.fixture(scope="module")
def page(read: Reading, recordings: list[Recording]) -> Figure:
    return page_figure(read, recordings)


def test_the_page_says_the_answer_first_and_then_shows_everything(page: Figure, read: Reading):
    told = texts_of(page)
    axes = [axes.get_label() for axes in page.axes]

    assert told[0].startswith(("Rings for", "No answer"))
    assert axes.index("decay times") < axes.index("1 kHz") < axes.index("spectrogram")
    assert axes.count("spectrogram") == axes.count("events") == 2
    assert any("not a measurement" in text for text in told)
    assert any("hiss.wav: no clap" in text for text in told)
    assert told.count(f"roomir {read.roomir_version}") == 1


def test_the_page_is_as_wide_as_a_phone_and_nothing_on_it_is_too_small_to_read(page: Figure):
    width_in, height_in = page.get_size_inches()
    renderer = FigureCanvasAgg(page).get_renderer()
    page.draw(renderer)
    texts = [text for text in page.findobj(Text) if text.get_text().strip() and text.get_visible()]

    assert width_in * page.dpi == pytest.approx(1080.0)
    assert height_in > width_in
    # 1080 pixels are about 360 of a phone's own units; body text there is 14 to 16 of them, the least 8.
    assert min(text.get_fontsize() for text in texts) * page.dpi / 72.0 >= 24.0
    inked = page.get_tightbbox(renderer)
    assert inked.x0 >= 0.0
    assert inked.x1 <= width_in


def test_no_text_of_the_page_is_ever_taken_for_a_formula(page: Figure):
    assert not any(text.get_parse_math() for text in page.texts)
    shown = [text for text in texts_of(page) if "alpha" in text]

    assert shown
    assert all(text.isprintable() for text in texts_of(page))
    assert any("$\\alpha_$" in text for text in shown)


@pytest.mark.parametrize(("kind", "begins"), [("png", b"\x89PNG"), ("svg", b"<?xml"), ("pdf", b"%PDF")])
def test_the_page_can_be_saved_as(kind: str, begins: bytes, page: Figure):
    picture = io.BytesIO()
    page.savefig(picture, format=kind)

    assert picture.getvalue().startswith(begins)
    assert picture.tell() < 2e6


@pytest.mark.parametrize(
    "hopeless", [nothing_read(failure(HOSTILE)), nothing_read(), reading(bands=(), takes=(take(claps=()),))]
)
def test_a_page_about_nothing_says_why(hopeless: Reading, recordings: list[Recording]):
    figure = page_figure(hopeless, recordings[: len(hopeless.takes)])
    figure.draw_without_rendering()
    told = texts_of(figure)

    assert told[0].startswith("No reading")
    assert all(any(one.says.split()[-1] in text for text in told) for one in hopeless.failures)


def test_a_page_shows_so_many_takes_and_counts_the_rest(recordings: list[Recording]):
    names = [f"spot {i}.wav" for i in range(MOST_TAKES + 2)]
    many = reading(takes=tuple(take(name) for name in names), bands=())
    figure = page_figure(many, [recordings[1]] * len(names))

    assert [axes.get_label() for axes in figure.axes].count("spectrogram") == MOST_TAKES
    assert "two more recordings not shown." in texts_of(figure)


def test_every_picture_is_an_object_of_its_own(read: Reading, recordings: list[Recording]):
    made = [
        take_figure(recordings[0], read.takes[0]),
        decay_figure(read),
        decay_time_figure({"booth": read}),
        page_figure(read, recordings),
    ]

    assert all(type(figure) is Figure for figure in made)
    assert len({round(figure.get_size_inches()[0] * figure.dpi) for figure in made}) == 1


def test_nobodys_own_settings_change_what_is_drawn(read: Reading):
    import matplotlib as mpl

    def pixels() -> bytes:
        canvas = FigureCanvasAgg(decay_time_figure({"booth": read}))
        canvas.draw()
        return bytes(canvas.buffer_rgba())

    usual = pixels()
    dark = {
        "axes.facecolor": "black",
        "figure.facecolor": "black",
        "text.color": "white",
        "axes.labelcolor": "white",
        "font.family": "serif",
        "font.size": 30.0,
        "figure.autolayout": True,
        "lines.linewidth": 9.0,
    }
    with mpl.rc_context(dark):
        assert pixels() == usual


def test_drawing_leaves_the_global_state_of_matplotlib_alone(checkout: Path):
    program = (
        "import sys\n"
        "import numpy as np\n"
        "import matplotlib as mpl\n"
        "before = mpl.rcParams.copy()\n"
        "from roomir.report import figures\n"
        "from roomir.audio.recording import Recording, SoundInMemory\n"
        "from tests.readings import reading, take, unusable_band\n"
        "figures.decay_time_figure({'bare': reading()})\n"
        "figures.decay_figure(reading(bands=(unusable_band(),)))\n"
        "assert 'librosa' not in sys.modules\n"
        "sound = SoundInMemory(samples=np.ones(8000), sample_rate_hz=8000)\n"
        "figures.take_figure(Recording(sound=sound, source_name='a'), take())\n"
        "assert 'librosa' in sys.modules\n"
        "assert 'matplotlib.pyplot' not in sys.modules\n"
        "assert dict.__eq__(mpl.rcParams, before)\n"
    )

    subprocess.run([sys.executable, "-c", program], check=True, cwd=checkout)


# ------------------------------------------------------------------ text that fits


def test_text_is_broken_to_the_width_it_has():
    words = "switch the heater off, move closer, or pop a balloon " + "W" * 300
    lines = broken(words, size_pt=13.0, width_in=3.0)

    assert max(width_of(line, size_pt=13.0) for line in lines) <= 3.0
    assert "".join(lines).replace(" ", "") == words.replace(" ", "")
    assert broken("", size_pt=13.0, width_in=3.0) == [""]


def test_text_that_fits_is_not_shortened():
    assert shortened("spot 1.wav", size_pt=13.0, width_in=3.0) == "spot 1.wav"
    assert width_of(shortened("W" * 99, size_pt=13.0, width_in=1.0), size_pt=13.0) <= 1.0
    assert FONT == "DejaVu Sans"
