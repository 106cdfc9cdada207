"""In a real browser with a microphone that plays a prepared take: from the link to the logbook.

Needs Chromium and playwright, which the project does not install; never runs in CI.
"""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from roomir import api
from roomir.audio.load import open_recording
from roomir.logbook.values import Take
from roomir.report.document import document

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
pytestmark = [
    pytest.mark.skipif("CI" in os.environ, reason="no browser in CI"),
    pytest.mark.skipif(CHROMIUM is None, reason="no Chromium here"),
]
sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")

SOURCE_S = 7.5
WAIT_MS = 45_000


class Running:
    """``roomir page`` as a process, which can be killed and started again on the same port."""

    def __init__(self, folder: Path) -> None:
        self.logbook = folder / "book.sqlite"
        self.port = 0
        self.start()

    def start(self) -> None:
        command = [sys.executable, "-m", "roomir", "page", "--no-open", f"--port={self.port}"]
        self.process = subprocess.Popen(
            [*command, f"--logbook={self.logbook}"],
            stdout=subprocess.PIPE,
            stdin=subprocess.DEVNULL,
            text=True,
        )
        assert self.process.stdout is not None
        self.link = next(line.strip() for line in self.process.stdout if line.startswith("http"))
        self.url = self.link.partition("#")[0].rstrip("/")
        self.port = int(self.url.rpartition(":")[2])

    def end(self, how: int = signal.SIGTERM) -> None:
        self.process.send_signal(how)
        self.process.wait()
        assert self.process.stdout is not None
        self.process.stdout.close()

    def takes(self) -> tuple[Take, ...]:
        with api.open_logbook(self.logbook) as book:
            return book.takes()


@pytest.fixture
def page(tmp_path: Path) -> Iterator[Running]:
    one = Running(tmp_path)
    yield one
    one.end()


@pytest.fixture(scope="module")
def source(sample_data: Path) -> Path:
    return sample_data / "booth_1_bare.wav"


@pytest.fixture(scope="module")
def played(source: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The take as the browser's own microphone takes it: 16 bit."""
    import soundfile

    samples, rate_hz = soundfile.read(source)
    path = tmp_path_factory.mktemp("played") / "played.wav"
    soundfile.write(path, samples, rate_hz, subtype="PCM_16")
    return path


@pytest.fixture(scope="module")
def chromium(played: Path) -> Iterator[Any]:
    arguments = [
        *("--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"),
        *("--disable-component-update", "--disable-sync", "--use-fake-ui-for-media-stream"),
        *("--use-fake-device-for-media-stream", f"--use-file-for-fake-audio-capture={played}%noloop"),
    ]
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=arguments, headless=True)
        yield browser
        browser.close()


@pytest.fixture
def phone(chromium: Any) -> Iterator[Callable[..., Any]]:
    """Make a phone: 360 pixels wide, with cookies and storage of its own; nothing may go wrong on it."""
    contexts, troubles = [], []

    def make(**options: Any) -> Any:
        context = chromium.new_context(
            viewport={"width": 360, "height": 740}, permissions=["microphone"], **options
        )
        context.on("weberror", lambda error: troubles.append(str(error.error)))
        contexts.append(context)
        return context

    yield make
    for context in contexts:
        context.close()
    assert troubles == []


def _pair(context: Any, link: str) -> Any:
    tab = context.new_page()
    tab.goto(link)
    tab.get_by_role("link", name="Record claps in a room").wait_for()
    assert "#" not in tab.url
    return tab


def _start(tab: Any, url: str, spot: str = "A") -> None:
    tab.goto(f"{url}/record")
    tab.locator("#room").fill("Booth")
    tab.locator("#stage").fill("bare")
    tab.locator("#spot").fill(spot)
    tab.get_by_role("button", name="Start recording").click()
    tab.get_by_role("button", name="Stop and send").wait_for()


def _stop(tab: Any) -> None:
    tab.get_by_role("button", name="Stop and send").click()


def _lands(tab: Any) -> None:
    tab.wait_for_url("**/room?**", timeout=WAIT_MS)
    tab.get_by_role("heading", name="Booth").wait_for()


def test_from_the_link_to_the_logbook(page: Running, phone: Callable[..., Any], source: Path):
    tab = _pair(phone(), page.link)
    _start(tab, page.url)
    time.sleep(SOURCE_S + 2)
    assert "echo cancellation off, noise suppression off, automatic gain off" in tab.inner_text("#treated")
    assert tab.inner_text("#claps").startswith("4, falling ")
    _stop(tab)
    _lands(tab)

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
    tab = _pair(phone(), page.link)
    tab.on("dialog", lambda dialog: dialog.accept())
    _start(tab, page.url)
    time.sleep(SOURCE_S)
    heard_s = int(tab.inner_text("#time").split()[0])
    tab.reload()
    _lands(tab)

    (take,) = page.takes()
    with api.open_logbook(page.logbook) as book:
        assert open_recording(book.recording(take)).duration_s > heard_s - 1
    assert take.failure is None


def test_a_computer_that_is_gone_when_the_take_ends_gets_it_later(page: Running, phone: Callable[..., Any]):
    tab = _pair(phone(), page.link)
    _start(tab, page.url)
    page.end(signal.SIGKILL)
    time.sleep(SOURCE_S)
    _stop(tab)
    tab.get_by_text("trying again").wait_for()
    page.start()
    _lands(tab)

    assert len(page.takes()) == 1


def test_a_computer_that_is_killed_while_it_reads_keeps_the_take_once(
    page: Running, phone: Callable[..., Any]
):
    tab = _pair(phone(), page.link)
    _start(tab, page.url)
    time.sleep(SOURCE_S)
    _stop(tab)
    tab.get_by_text("the computer has it").wait_for(timeout=WAIT_MS)
    page.end(signal.SIGKILL)
    tab.get_by_text("trying again").wait_for(timeout=WAIT_MS)
    page.start()
    _lands(tab)

    assert len(page.takes()) == 1


def test_another_tab_leaves_a_take_in_progress_alone(page: Running, phone: Callable[..., Any]):
    context = phone()
    tab = _pair(context, page.link)
    _start(tab, page.url)
    other = context.new_page()
    other.goto(f"{page.url}/record")
    other.get_by_text("in another tab").wait_for()
    tab.bring_to_front()
    time.sleep(SOURCE_S)
    assert not page.logbook.exists() or page.takes() == ()
    _stop(tab)
    _lands(tab)

    assert len(page.takes()) == 1
    other.wait_for_function("document.querySelectorAll('#waiting li').length === 0")


def test_two_phones_at_once(page: Running, phone: Callable[..., Any]):
    first = _pair(phone(), page.link)
    first.get_by_role("button", name="Pair another browser").click()
    link = first.locator(".link").first.inner_text()
    second = _pair(phone(), link)
    _start(first, page.url, spot="A")
    _start(second, page.url, spot="B")
    time.sleep(SOURCE_S)
    _stop(first)
    _stop(second)
    _lands(first)
    _lands(second)

    assert sorted(take.about.spot for take in page.takes()) == ["A", "B"]


def test_a_take_that_is_refused_stays_on_the_phone_until_it_is_mended(
    page: Running, phone: Callable[..., Any]
):
    tab = _pair(phone(), page.link)
    tab.goto(f"{page.url}/record")
    tab.get_by_label("Length x width x height").fill("very large")
    tab.locator("#room").fill("Booth")
    tab.locator("#stage").fill("bare")
    tab.get_by_role("button", name="Start recording").click()
    tab.get_by_role("button", name="Stop and send").wait_for()
    time.sleep(SOURCE_S)
    _stop(tab)
    tab.get_by_text("kept on this phone").wait_for(timeout=WAIT_MS)
    tab.get_by_role("button", name="Send again").wait_for(timeout=WAIT_MS)
    tab.reload()
    tab.get_by_role("button", name="Send again").wait_for(timeout=WAIT_MS)
    tab.locator("#room").fill("Booth")
    tab.locator("#stage").fill("bare")
    tab.get_by_label("Length x width x height").fill("3x2x2.4")
    tab.get_by_role("button", name="Send again").click()
    _lands(tab)

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
    _lands(tab)

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
    tab = _pair(phone(), page.link)
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
    _lands(tab)

    assert [take.about.spot for take in page.takes()] == ["A"]


def _tab_to(tab: Any, selector: str) -> None:
    for _ in range(12):
        tab.keyboard.press("Tab")
        if tab.evaluate("(what) => document.activeElement.matches(what)", selector):
            return
    raise AssertionError(f"no way to {selector}")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_core_finds_nothing_serious(page: Running, phone: Callable[..., Any], source: Path, scheme: str):
    script = Path(os.environ.get("ROOMIR_AXE", "axe.min.js"))
    if not script.is_file():
        pytest.skip("set ROOMIR_AXE to the file axe.min.js of axe-core")
    for stage in ("bare", "lined"):
        take = source if stage == "bare" else source.with_name("booth_2_lined.wav")
        subprocess.run(
            [
                *(sys.executable, "-m", "roomir", "log", take, "--room=Booth", f"--stage={stage}"),
                *(f"--logbook={page.logbook}", "--json"),
            ],
            check=True,
            stdout=subprocess.DEVNULL,
        )
    context = phone(color_scheme=scheme, bypass_csp=True)
    tab = context.new_page()
    tab.goto(page.url)
    _no_serious(tab, script)
    tab.goto("about:blank")
    tab = _pair(context, page.link)
    for path in ("/", "/record", "/room?room=Booth", "/room?room=Booth&target=0.3", "/room?room=Nowhere"):
        tab.goto(page.url + path)
        tab.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
        _no_serious(tab, script)
        assert tab.evaluate("document.documentElement.scrollWidth") <= 360


def _no_serious(tab: Any, script: Path) -> None:
    tab.evaluate(script.read_text("utf-8"))
    found = tab.evaluate("axe.run()")["violations"]
    assert [
        (one["id"], one["nodes"][0]["html"]) for one in found if one["impact"] in ("serious", "critical")
    ] == []
