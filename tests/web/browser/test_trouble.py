"""Phones in trouble: no microphone, no storage, locked, killed, files that are too large."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from roomir import api
from roomir.audio.load import open_recording
from roomir.web.body import MOST_BYTES
from tests.web.browser.phones import (
    CHROMIUM,
    NEEDS_BROWSER,
    SOURCE_S,
    WAIT_MS,
    Running,
    arguments_of,
    lands,
    pair,
    start,
    stop,
)

pytestmark = NEEDS_BROWSER

NO_STORAGE = "indexedDB.open = () => { throw new DOMException('', 'SecurityError'); };"
FULL = """
const put = IDBObjectStore.prototype.put;
IDBObjectStore.prototype.put = function (value) {
  if (value.n > 30) throw new DOMException('', 'QuotaExceededError');
  return put.call(this, value);
};"""
RATE = "MediaStreamTrack.prototype.getSettings = () => ({ sampleRate: RATE });"
REFUSED = """
if (window.MediaDevices)
  MediaDevices.prototype.getUserMedia = () => Promise.reject(new DOMException('', 'NAME'));"""
DEAF = """
const real = window.MediaDevices?.prototype.getUserMedia;
if (real) MediaDevices.prototype.getUserMedia = async function (asked) {
  const stream = await real.call(this, asked);
  stream.getAudioTracks()[0].enabled = false;
  return stream;
};"""
KEEP_CONTEXT = """
const Real = AudioContext;
window.AudioContext = class extends Real { constructor(...how) { super(...how); window.context = this; } };"""


def _with(phone: Callable[..., Any], script: str) -> Any:
    context = phone()
    context.add_init_script(script)
    return context


def _length_s(page: Running) -> float:
    (take,) = page.takes()
    with api.open_logbook(page.logbook) as book:
        return open_recording(book.recording(take)).duration_s


@pytest.mark.parametrize("trouble", [NO_STORAGE, FULL], ids=["a private window", "a full phone"])
def test_a_phone_that_keeps_nothing_sends_all_the_same_and_says_to_stay(
    page: Running, phone: Callable[..., Any], trouble: str
):
    tab = pair(_with(phone, trouble), page.link)
    tab.on("dialog", lambda dialog: dialog.accept())
    start(tab, page.url)
    time.sleep(SOURCE_S)
    assert "stay here until it is sent" in tab.inner_text("#kept")
    heard_s = int(tab.inner_text("#time").split()[0])
    stop(tab)
    lands(tab)

    assert _length_s(page) > heard_s - 0.2


@pytest.mark.parametrize("rate_hz", [44_100, 48_000, 96_000])
def test_sound_is_kept_at_the_rate_of_the_microphone(
    page: Running, phone: Callable[..., Any], source: Path, rate_hz: int
):
    tab = pair(_with(phone, RATE.replace("RATE", str(rate_hz))), page.link)
    start(tab, page.url)
    time.sleep(SOURCE_S + 1)
    stop(tab)
    lands(tab)

    (take,) = page.takes()
    with api.open_logbook(page.logbook) as book:
        assert api.read(book.recording(take)).takes[0].sample_rate_hz == rate_hz
    assert take.mid is not None
    truth = api.read(source).mid
    assert truth is not None
    assert take.mid.decay_time_s == pytest.approx(truth.decay_time_s, rel=0.01)


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("NotAllowedError", "may not use the microphone"),
        ("NotFoundError", "no microphone here"),
        ("NotReadableError", "Something else holds the microphone"),
        ("OddError", "No microphone: OddError"),
    ],
)
def test_a_microphone_that_is_not_to_be_had_is_told_with_what_to_do(
    page: Running, phone: Callable[..., Any], name: str, says: str
):
    tab = pair(_with(phone, REFUSED.replace("NAME", name)), page.link)
    tab.goto(f"{page.url}/record")
    tab.locator("#room").fill("Booth")
    tab.locator("#stage").fill("bare")
    tab.get_by_role("button", name="Start recording").click()
    tab.get_by_text(says).wait_for()

    assert "hoose a recording below" in tab.inner_text("#step")
    assert tab.get_by_role("button", name="Start recording").is_enabled()


@pytest.mark.parametrize(
    ("missing", "says"),
    [
        ("delete window.AudioWorkletNode;", "no bare sound (AudioWorklet)"),
        (
            "Object.defineProperty(navigator, 'mediaDevices', { value: undefined });",
            "hands over no microphone",
        ),
        ("Object.defineProperty(crypto, 'subtle', { value: undefined });", "https link"),
    ],
)
def test_a_browser_that_cannot_record_says_why_and_still_sends_files(
    page: Running, phone: Callable[..., Any], source: Path, missing: str, says: str
):
    tab = pair(_with(phone, missing), page.link)
    tab.goto(f"{page.url}/record")
    assert says in tab.inner_text("#cannot")
    assert not tab.get_by_role("button", name="Start recording").is_visible()
    tab.locator("#room").fill("Booth")
    tab.locator("#stage").fill("bare")
    tab.get_by_label("Voice memo").set_input_files(source)
    tab.get_by_role("button", name="Send", exact=True).click()
    lands(tab)

    assert len(page.takes()) == 1


def test_a_microphone_that_is_muted_is_noticed(page: Running, phone: Callable[..., Any]):
    tab = pair(_with(phone, DEAF), page.link)
    start(tab, page.url)
    told = tab.get_by_text("nothing but silence")
    told.wait_for(timeout=WAIT_MS)

    assert told.is_visible()


def test_what_comes_after_a_lock_is_not_put_behind_what_was_before(page: Running, phone: Callable[..., Any]):
    tab = pair(_with(phone, KEEP_CONTEXT), page.link)
    start(tab, page.url)
    time.sleep(SOURCE_S - 3)
    tab.evaluate("window.context.suspend()")
    heard_s = int(tab.inner_text("#time").split()[0])
    time.sleep(3)
    tab.evaluate("window.context.resume()")
    tab.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    tab.get_by_text("The phone was away").wait_for(timeout=WAIT_MS)
    lands(tab)

    assert heard_s - 0.2 < _length_s(page) < heard_s + 1.5


def test_a_look_elsewhere_that_loses_no_sound_goes_on(page: Running, phone: Callable[..., Any]):
    tab = pair(phone(), page.link)
    start(tab, page.url)
    for _ in range(3):
        time.sleep(1)
        tab.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    time.sleep(SOURCE_S - 2)
    heard_s = int(tab.inner_text("#time").split()[0])
    stop(tab)
    lands(tab)

    assert heard_s >= 7
    assert _length_s(page) > heard_s - 0.2


def test_a_phone_that_dies_loses_at_most_the_last_second(
    page: Running, chromium: Any, played: Path, tmp_path: Path
):
    phones = chromium.browser_type
    how = {"executable_path": CHROMIUM, "args": arguments_of(played), "headless": True}
    first = phones.launch_persistent_context(tmp_path / "phone", **how)
    tab = pair(first, page.link)
    # A browser that dies this young has not written down yet who it is.
    tab.get_by_role("button", name="Pair another browser").click()
    link = tab.locator(".link").first.inner_text()
    start(tab, page.url)
    time.sleep(SOURCE_S)
    heard_s = tab.evaluate("running.listener.seconds")
    # Not told to close: it is gone from one moment to the next, as when the battery is empty.
    _kill(tmp_path / "phone")
    with pytest.raises(Exception, match="closed"):
        tab.evaluate("1")
    again = phones.launch_persistent_context(tmp_path / "phone", **how)
    tab = again.new_page()
    tab.goto(link)
    lands(tab)
    again.close()

    assert _length_s(page) > heard_s - 1.0


def _kill(folder: Path) -> None:
    """Kill the browser that uses a profile, and nothing else."""
    for process in Path("/proc").glob("[0-9]*"):
        try:
            line = (process / "cmdline").read_bytes()
        except OSError:
            continue
        if f"--user-data-dir={folder}".encode() in line.split(b"\0") and b"--type=" not in line:
            os.kill(int(process.name), signal.SIGKILL)


def test_a_file_that_is_too_large_is_told_before_it_is_sent(
    page: Running, phone: Callable[..., Any], tmp_path: Path
):
    large = tmp_path / "long.wav"
    with large.open("wb") as file:
        file.truncate(MOST_BYTES + 1)
    tab = pair(phone(), page.link)
    tab.goto(f"{page.url}/record")
    tab.locator("#room").fill("Booth")
    tab.locator("#stage").fill("bare")
    tab.get_by_label("Voice memo").set_input_files(large)
    tab.get_by_text("That is 200 MB, and at most 200 MB go together").wait_for()
    tab.get_by_role("button", name="Send", exact=True).click()
    time.sleep(0.5)

    assert tab.url.endswith("/record")


def test_a_file_that_is_too_large_is_told_without_script_as_well(
    page: Running, phone: Callable[..., Any], tmp_path: Path
):
    large = tmp_path / "long.wav"
    with large.open("wb") as file:
        file.truncate(MOST_BYTES + (10 << 20))
    tab = phone(java_script_enabled=False).new_page()
    tab.goto(page.url)
    tab.get_by_label("Code").fill(page.link.rpartition("#")[2])
    tab.get_by_role("button", name="Pair").click()
    tab.goto(f"{page.url}/record")
    tab.locator("#room").fill("Booth")
    tab.locator("#stage").fill("bare")
    tab.get_by_label("Voice memo").set_input_files(large)
    tab.get_by_role("button", name="Send", exact=True).click()
    told = tab.get_by_text("That is more than 200 MB")
    told.wait_for(timeout=WAIT_MS)

    assert told.is_visible()
    assert not page.logbook.exists()
