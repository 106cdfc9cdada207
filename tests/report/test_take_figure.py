"""The picture of a take shows its sound, its claps, and what was turned down and why."""

from __future__ import annotations

import inspect
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from numpy.typing import NDArray

from roomir.audio.recording import Recording, SoundInMemory
from roomir.claps import echoes, find, verdict
from roomir.reading.reading import ClapReading
from roomir.remarks import Remark
from roomir.report.figures import take_figure
from roomir.report.figures.sheet import SMALL_PT, width_of
from roomir.report.figures.spectrum import LOWEST_HZ, MOST_COLUMNS, spectrogram
from roomir.report.figures.take import short_words
from tests.drawn import axes_of, lines_of, texts_of
from tests.readings import SPEECH, take

RATE_HZ = 16000


def _sound(samples: NDArray[np.floating], rate_hz: int = RATE_HZ) -> SoundInMemory:
    return SoundInMemory(samples=np.asarray(samples, dtype=np.float32), sample_rate_hz=rate_hz)


def _recording(duration_s: float = 8.0) -> Recording:
    noise = np.random.default_rng(1).standard_normal(round(duration_s * RATE_HZ))
    return Recording(sound=_sound(1e-3 * noise), source_name="x")


def _clap(at_s: float, *, because: str | None = None) -> ClapReading:
    remark = Remark(code=because, says="") if because else None
    return ClapReading(onset_s=at_s, stop_s=at_s + 1.5, peak_dbfs=-3.0, set_aside_because=remark)


# ------------------------------------------------------------------ marks


def test_claps_and_what_was_turned_down_are_told_apart_by_shape_and_word():
    figure = take_figure(_recording(), take(duration_s=8.0))
    events = axes_of(figure, "events")
    (read,), (turned_down,) = lines_of(events, "read"), lines_of(events, "turned down")

    assert list(read.get_xdata()) == [1.516]
    assert list(turned_down.get_xdata()) == [6.25]
    assert read.get_marker() != turned_down.get_marker()
    # How long the decay was free: from the clap to its stop.
    (decay,) = lines_of(events, "decay")
    assert list(decay.get_xdata()) == [1.516, 4.0]
    assert events.get_xlabel() == "time [s]"
    assert SPEECH.code.replace("-", " ") in texts_of(figure)


def test_every_reason_has_a_row_of_its_own_with_all_its_events():
    claps = (
        _clap(0.5),
        _clap(1.0, because="too-dull"),
        _clap(2.0, because="struck-twice"),
        _clap(3.0, because="struck-twice"),
    )
    figure = take_figure(_recording(), take(claps=claps))
    marks = lines_of(axes_of(figure, "events"), "turned down")
    rows = {}
    for mark in marks:
        rows.setdefault(float(mark.get_ydata()[0]), []).append(float(mark.get_xdata()[0]))

    assert list(rows.values()) == [[2.0, 3.0], [1.0]]
    told = texts_of(figure)
    assert told.index("struck twice") < told.index("only bass: a step, a bump or a door")
    assert any("one clap read, three sounds turned down" in text for text in told)


def test_every_reason_of_the_clap_finder_fits_into_its_row():
    codes = {
        code
        for module in (echoes, find, verdict)
        for code in re.findall(r'code="([a-z-]+)"', inspect.getsource(module))
    }

    assert {"too-dull", "struck-twice"} <= codes
    for code in codes:
        assert width_of(short_words(code), size_pt=SMALL_PT) < 6.0, code


def test_a_take_without_any_event_says_so():
    told = texts_of(take_figure(_recording(), take(claps=())))

    assert "no clap fit to be read" in told


def test_a_name_with_signs_of_formulas_and_control_characters_is_only_a_name():
    figure = take_figure(_recording(1.0), take("/home/someone/a_$x^2$ \\frac{1}\x1b[2J録.wav"))
    (name, *_) = figure.texts
    figure.draw_without_rendering()

    # As it is, apart from what cannot be drawn; and without the folders it lies in.
    assert name.get_text() == "a_$x^2$ \\frac{1}\\x1b[2J\\u9332.wav"
    assert not name.get_parse_math()


def test_a_long_name_is_cut_in_its_middle_to_the_width_of_the_page():
    figure = take_figure(_recording(1.0), take("W" * 200 + " spot 3.wav"))
    (name, *_) = figure.texts
    box = name.get_window_extent(FigureCanvasAgg(figure).get_renderer())

    assert name.get_text().endswith("spot 3.wav")
    assert "…" in name.get_text()
    assert box.x1 < 1080


@pytest.mark.parametrize(
    ("duration_s", "length", "ticks"),
    [
        (400.0, "6 min 40 s", ["0:00", "1:00", "2:00", "3:00", "4:00", "5:00", "6:00"]),
        (3600.0, "60 min 0 s", ["0:00", "10:00", "20:00", "30:00", "40:00", "50:00", "60:00"]),
        (72000.0, "1200 min 0 s", ["0:00", "1200:00"]),
    ],
)
def test_a_long_take_is_timed_in_minutes(duration_s: float, length: str, ticks: list[str]):
    sound = _sound(np.zeros(round(duration_s * 10)), rate_hz=10)
    figure = take_figure(Recording(sound=sound, source_name="x"), take(duration_s=duration_s, claps=()))
    events = axes_of(figure, "events")

    assert events.get_xlabel() == "time [min:s]"
    assert [tick.get_text() for tick in events.get_xticklabels()] == ticks
    assert any(text.startswith(f"{length}, no claps read") for text in texts_of(figure))


# ------------------------------------------------------------------ the spectrogram


@pytest.mark.parametrize("rate_hz", [8000, 44100, 192000])
@pytest.mark.parametrize("hz", [100.0, 1000.0, 3150.0])
def test_a_tone_is_dark_at_its_frequency_only(rate_hz: int, hz: float):
    tone = np.sin(2.0 * np.pi * hz * np.arange(2 * rate_hz) / rate_hz)
    spectrum = spectrogram(_sound(tone, rate_hz))
    n_rows, n_columns = spectrum.level_db.shape
    middle_db = spectrum.level_db[:, n_columns // 2]
    loudest_hz = LOWEST_HZ * 2.0 ** ((middle_db.argmax() + 0.5) * spectrum.octaves / n_rows)

    assert n_columns <= MOST_COLUMNS + 1
    # A bin of the window (23 Hz at these rates) or a twelfth of an octave, whichever is more.
    assert loudest_hz == pytest.approx(hz, abs=max(16.0, 0.06 * hz))
    far = (
        np.abs(np.log2(loudest_hz / LOWEST_HZ) - (np.arange(n_rows) + 0.5) * spectrum.octaves / n_rows) > 1.5
    )
    assert middle_db[far].max() < -40.0


def test_a_click_is_dark_at_its_time_however_long_the_take():
    for n in (RATE_HZ, 60 * RATE_HZ, 300 * RATE_HZ):
        clicked = np.zeros(n)
        clicked[round(0.7 * n)] = 1.0
        spectrum = spectrogram(_sound(clicked))
        n_columns = spectrum.level_db.shape[1]

        assert n_columns <= MOST_COLUMNS + 1
        loud = np.flatnonzero(spectrum.level_db.max(axis=0) > -60.0)
        width_s = spectrum.duration_s / n_columns
        assert loud.mean() * width_s == pytest.approx(0.7 * n / RATE_HZ, abs=0.05 + width_s)
        assert loud.size * width_s <= 0.15 + 2.0 * width_s


@dataclass(frozen=True)
class _LongSound:
    """Ten minutes of two channels, made while they are listened to."""

    asked: list[int]
    sample_rate_hz: int = 8000
    n_frames: int = 600 * 8000
    n_channels: int = 2

    def blocks(self, *, n_frames: int) -> Iterator[NDArray[np.float32]]:
        self.asked.append(n_frames)
        block = np.full((n_frames, 2), 1e-3, dtype=np.float32)
        for start in range(0, self.n_frames, n_frames):
            yield block[: self.n_frames - start]

    def stretch(self, **_: int) -> NDArray[np.float32]:
        raise AssertionError("a spectrogram goes through the sound once, from its start")


def test_a_long_take_is_drawn_from_short_blocks():
    sound = _LongSound(asked=[])
    spectrum = spectrogram(sound)

    assert spectrum.level_db.shape[1] <= MOST_COLUMNS + 1
    assert spectrum.duration_s == 600.0
    assert len(sound.asked) == 1
    assert sound.asked[0] < 10 * sound.sample_rate_hz


def test_channels_of_opposite_sign_do_not_cancel():
    tone = np.sin(2.0 * np.pi * 1000.0 * np.arange(RATE_HZ) / RATE_HZ)
    both = spectrogram(_sound(np.stack([tone, -tone], axis=1)))

    assert np.ptp(both.level_db) > 60.0


def test_silence_and_a_single_sample_are_no_trouble():
    assert spectrogram(_sound(np.zeros(RATE_HZ))).level_db.max() == -90.0
    assert spectrogram(_sound(np.ones(1))).level_db.size


def test_librosa_works_where_nothing_but_the_temporary_folder_is_writable(monkeypatch: pytest.MonkeyPatch):
    import librosa
    import numba

    class Homeless:
        """librosa as it is where its compiled parts find no place to be kept."""

        def __getattr__(self, name: str) -> object:
            if name == "stft" and not numba.config.CACHE_DIR:
                raise RuntimeError("cannot cache function '__o_fold': no locator available for file 'x.py'")
            return getattr(librosa, name)

    monkeypatch.setitem(sys.modules, "librosa", Homeless())
    monkeypatch.setattr(numba.config, "CACHE_DIR", "")

    assert spectrogram(_sound(np.sin(np.arange(8000)))).level_db.max() == pytest.approx(0.0, abs=1e-5)
