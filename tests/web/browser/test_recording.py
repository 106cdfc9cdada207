"""In a real browser with a microphone that plays a prepared take: from the link to the logbook.

Needs Chromium and playwright, which the project does not install; never runs in CI.
"""

from __future__ import annotations

import signal
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from roomir import api
from roomir.audio.load import open_recording
from roomir.report.document import document
from tests.web.browser.phones import NEEDS_BROWSER, SOURCE_S, WAIT_MS, Running, lands, pair, start, stop

pytestmark = NEEDS_BROWSER


def test_from_the_link_to_the_logbook(page: Running, phone: Callable[..., Any], source: Path):
    tab = pair(phone(), page.link)
    start(tab, page.url)
    time.sleep(SOURCE_S + 2)
    assert "echo cancellation off, noise suppression off, automatic gain off" in tab.inner_text("#treated")
    assert tab.inner_text("#claps").startswith("4, falling ")
    stop(tab)
    lands(tab)

    assert "Kept: A." in tab.inner_text("main")
    (take,) = page.takes()
    with api.open_logbook(page.logbook) as book:
        logged, recording = book.reading_of(take), book.recording(take)
    again = api.read(recording)
    assert logged is not None
    told, told_again = document(logged), document(again)
    assert told["bands"] == told_again["bands"]
    assert told["takes"][0]["claps"] == told_again["takes"][0]["claps"]
    assert again.takes[0].sample_rate_hz in (44100, 48000)
    truth = api.read(source)
    for mine, true in zip(logged.bands, truth.bands, strict=True):
        if mine.figures.band.nominal_hz in (500, 1000):
            assert mine.figures.decay_time_s == pytest.approx(true.figures.decay_time_s, rel=0.01)
    # The decays are drawn when they come into sight.
    drawn = tab.locator("img[src^='/decays']")
    drawn.scroll_into_view_if_needed()
    tab.wait_for_function(
        "(one) => one.complete && one.naturalWidth > 0", arg=drawn.element_handle(), timeout=WAIT_MS
    )
    assert tab.evaluate("document.documentElement.scrollWidth") <= 360


def test_a_reload_in_the_middle_loses_nothing(page: Running, phone: Callable[..., Any]):
    tab = pair(phone(), page.link)
    tab.on("dialog", lambda dialog: dialog.accept())
    start(tab, page.url)
    time.sleep(SOURCE_S)
    heard_s = int(tab.inner_text("#time").split()[0])
    tab.reload()
    lands(tab)

    (take,) = page.takes()
    with api.open_logbook(page.logbook) as book:
        assert open_recording(book.recording(take)).duration_s > heard_s - 1
    assert take.failure is None


def test_a_computer_that_is_gone_when_the_take_ends_gets_it_later(page: Running, phone: Callable[..., Any]):
    tab = pair(phone(), page.link)
    start(tab, page.url)
    page.end(signal.SIGKILL)
    time.sleep(SOURCE_S)
    stop(tab)
    tab.get_by_text("trying again").wait_for()
    page.start()
    lands(tab)

    assert len(page.takes()) == 1


def test_a_computer_that_is_killed_while_it_reads_keeps_the_take_once(
    page: Running, phone: Callable[..., Any]
):
    tab = pair(phone(), page.link)
    start(tab, page.url)
    time.sleep(SOURCE_S)
    stop(tab)
    tab.get_by_text("the computer has it").wait_for(timeout=WAIT_MS)
    page.end(signal.SIGKILL)
    tab.get_by_text("trying again").wait_for(timeout=WAIT_MS)
    page.start()
    lands(tab)

    assert len(page.takes()) == 1


def test_another_tab_leaves_a_take_in_progress_alone(page: Running, phone: Callable[..., Any]):
    context = phone()
    tab = pair(context, page.link)
    start(tab, page.url)
    other = context.new_page()
    other.goto(f"{page.url}/record")
    other.get_by_text("in another tab").wait_for()
    tab.bring_to_front()
    time.sleep(SOURCE_S)
    assert not page.logbook.exists() or page.takes() == ()
    stop(tab)
    lands(tab)

    assert len(page.takes()) == 1
    other.wait_for_function("document.querySelectorAll('#waiting li').length === 0")


def test_two_phones_at_once(page: Running, phone: Callable[..., Any]):
    first = pair(phone(), page.link)
    first.get_by_role("button", name="Pair another browser").click()
    link = first.locator(".link").first.inner_text()
    second = pair(phone(), link)
    start(first, page.url, spot="A")
    start(second, page.url, spot="B")
    time.sleep(SOURCE_S)
    stop(first)
    stop(second)
    lands(first)
    lands(second)

    assert sorted(take.about.spot for take in page.takes()) == ["A", "B"]


def test_a_take_that_is_refused_stays_on_the_phone_until_it_is_mended(
    page: Running, phone: Callable[..., Any]
):
    tab = pair(phone(), page.link)
    tab.goto(f"{page.url}/record")
    tab.get_by_label("Length x width x height").fill("very large")
    tab.locator("#room").fill("Booth")
    tab.locator("#stage").fill("bare")
    tab.get_by_role("button", name="Start recording").click()
    tab.get_by_role("button", name="Stop and send").wait_for()
    time.sleep(SOURCE_S)
    stop(tab)
    tab.get_by_text("kept on this phone").wait_for(timeout=WAIT_MS)
    tab.get_by_role("button", name="Send again").wait_for(timeout=WAIT_MS)
    tab.reload()
    tab.get_by_role("button", name="Send again").wait_for(timeout=WAIT_MS)
    tab.locator("#room").fill("Booth")
    tab.locator("#stage").fill("bare")
    tab.get_by_label("Length x width x height").fill("3x2x2.4")
    tab.get_by_role("button", name="Send again").click()
    lands(tab)

    assert len(page.takes()) == 1


def _as(path: Path, source: Path, codec: str) -> Path:
    import av
    import soundfile

    samples, rate_hz = soundfile.read(source, dtype="float32")
    with av.open(str(path), "w") as out:
        stream = out.add_stream(codec, rate=rate_hz, layout="mono")
        frame = av.AudioFrame.from_ndarray(samples[None, :], format="fltp", layout="mono")
        frame.sample_rate = rate_hz
        fifo = av.AudioFifo()
        fifo.write(frame)
        while piece := fifo.read(1024, partial=True):
            out.mux(stream.encode(piece))
        out.mux(stream.encode(None))
    return path


@pytest.mark.parametrize(("ending", "codec"), [("wav", ""), ("m4a", "aac"), ("mov", "aac")])
@pytest.mark.parametrize("script", [True, False])
def test_a_file_is_sent_with_and_without_script(
    page: Running,
    phone: Callable[..., Any],
    source: Path,
    tmp_path: Path,
    ending: str,
    codec: str,
    script: bool,
):
    if script and ending != "wav":
        pytest.skip("the form is the same")
    sent = source if ending == "wav" else _as(tmp_path / f"memo.{ending}", source, codec)
    tab = phone(java_script_enabled=script).new_page()
    tab.goto(page.url)
    tab.get_by_label("Code").fill(page.link.rpartition("#")[2])
    tab.get_by_role("button", name="Pair").click()
    tab.get_by_role("link", name="Record claps in a room").click()
    tab.locator("#room").fill("Booth")
    tab.locator("#stage").fill("bare")
    tab.get_by_label("Voice memo").set_input_files(sent)
    tab.get_by_role("button", name="Send").click()
    lands(tab)

    (take,) = page.takes()
    assert take.name.endswith(f".{ending}")
    assert take.mid is not None
    assert take.mid.decay_time_s == pytest.approx(_mid_s(source), rel=0.02)


def _mid_s(path: Path) -> float:
    times_s = [
        one.figures.decay_time_s for one in api.read(path).bands if one.figures.band.nominal_hz in (500, 1000)
    ]
    return sum(times_s) / 2


def test_it_goes_by_keyboard_alone(page: Running, phone: Callable[..., Any]):
    tab = pair(phone(), page.link)
    tab.goto(f"{page.url}/record")
    for text in ("Booth", "bare", "A", ""):
        _tab_to(tab, "input")
        tab.keyboard.type(text)
    _tab_to(tab, "#start")
    tab.keyboard.press("Enter")
    tab.get_by_role("button", name="Stop and send").wait_for()
    time.sleep(SOURCE_S)
    # Focus went along to the button that took the place of the first one.
    tab.keyboard.press("Enter")
    lands(tab)

    assert [take.about.spot for take in page.takes()] == ["A"]


def _tab_to(tab: Any, selector: str) -> None:
    for _ in range(12):
        tab.keyboard.press("Tab")
        if tab.evaluate("(what) => document.activeElement.matches(what)", selector):
            return
    raise AssertionError(f"no way to {selector}")
