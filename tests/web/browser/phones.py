"""A page as a process, and phones: Chromium without a window, with a microphone that plays a take."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from roomir import api
from roomir.logbook.values import Take

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
NEEDS_BROWSER = [
    pytest.mark.skipif("CI" in os.environ, reason="no browser in CI"),
    pytest.mark.skipif(CHROMIUM is None, reason="no Chromium here"),
]
SOURCE_S = 7.5
WAIT_MS = 45_000


def arguments_of(played: Path) -> list[str]:
    """Options of a Chromium whose microphone plays a file once."""
    return [
        *("--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"),
        *("--disable-component-update", "--disable-sync", "--use-fake-ui-for-media-stream"),
        *("--use-fake-device-for-media-stream", f"--use-file-for-fake-audio-capture={played}%noloop"),
    ]


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


def pair(context: Any, link: str) -> Any:
    tab = context.new_page()
    tab.goto(link)
    tab.get_by_role("link", name="Record claps in a room").wait_for()
    assert "#" not in tab.url
    return tab


def start(tab: Any, url: str, spot: str = "A") -> None:
    tab.goto(f"{url}/record")
    tab.locator("#room").fill("Booth")
    tab.locator("#stage").fill("bare")
    tab.locator("#spot").fill(spot)
    tab.get_by_role("button", name="Start recording").click()
    tab.get_by_role("button", name="Stop and send").wait_for()


def stop(tab: Any) -> None:
    tab.get_by_role("button", name="Stop and send").click()


def lands(tab: Any) -> None:
    tab.wait_for_url("**/room?**", timeout=WAIT_MS)
    tab.get_by_role("heading", name="Booth").wait_for()
