"""Planning in a real browser without script, on a phone: from the code to players that play.

Needs Chromium and playwright, which the project does not install; never runs in CI.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from roomir import api
from roomir.logbook.values import Size
from tests.web.served import Served, served

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
pytestmark = [
    pytest.mark.skipif("CI" in os.environ, reason="no browser in CI"),
    pytest.mark.skipif(CHROMIUM is None, reason="no Chromium here"),
]
sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")

BOARDS = "gypsum board 2 x 13 mm on steel frame"
WAIT_MS = 120_000


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory, sample_data: Path) -> Iterator[Served]:
    folder = tmp_path_factory.mktemp("plans")
    with api.open_logbook(folder / "book.sqlite", create=True) as book:
        size = Size(dimensions_m=(2.4, 2.0, 2.2))
        book.log([sample_data / "booth_1_bare.wav"], room="booth", stage="bare", size=size)
    with served(folder) as one:
        yield one


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"], headless=True
        )
        yield browser
        browser.close()


def test_a_phone_without_script_leads_from_the_code_to_players_that_play(page: Served, chromium: Any):
    plain = chromium.new_context(viewport={"width": 360, "height": 740}, java_script_enabled=False)
    complaints: list[str] = []
    tab = plain.new_page()
    tab.on("console", lambda message: complaints.append(message.text))
    tab.goto(page.url)
    tab.get_by_label("Code").fill(page.pairing.new_code())
    tab.get_by_role("button", name="Pair").click()
    tab.get_by_role("link", name="booth").click()
    tab.get_by_role("link", name="Plan what to hang").click()
    for name in ("West wall", "East wall", "South wall", "North wall", "Ceiling"):
        tab.get_by_label(name, exact=True).select_option(BOARDS)
    tab.get_by_label("Floor").select_option("wood floor on joists")
    tab.get_by_role("button", name="Keep this description").click()
    tab.get_by_role("heading", name="Prediction against reading").wait_for(timeout=WAIT_MS)
    tab.get_by_label("Target").select_option("voice booth")
    tab.get_by_label("Hear it too").check()
    tab.get_by_role("button", name="Work it out").click()
    tab.get_by_role("heading", name="Hear it before it hangs").wait_for(timeout=WAIT_MS)

    assert "bring every band inside" in tab.inner_text("section.next")
    assert complaints == []  # nothing that the page's own policy had to stop
    with_script = chromium.new_context(
        viewport={"width": 360, "height": 740}, storage_state=plain.storage_state()
    )
    other = with_script.new_page()
    other.goto(tab.url)
    other.wait_for_function("[...document.querySelectorAll('audio')].every((one) => one.duration > 5)")
    assert other.evaluate("[...document.querySelectorAll('img')].every((one) => one.naturalWidth > 0)")
    assert other.evaluate("document.documentElement.scrollWidth") <= 360
    assert other.locator("audio").count() == 2
    plain.close()
    with_script.close()
