"""A page, a Chromium and phones; tests that want them are skipped where they are not to be had."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.web.browser.phones import CHROMIUM, Running, arguments_of


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
    sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=CHROMIUM, args=arguments_of(played), headless=True
        )
        yield browser
        browser.close()


@pytest.fixture
def phone(chromium: Any) -> Iterator[Callable[..., Any]]:
    """Make a phone: 360 pixels wide, with cookies and storage of its own; nothing may go wrong on it."""
    contexts, troubles = [], []

    def make(**options: Any) -> Any:
        context = chromium.new_context(
            **{"viewport": {"width": 360, "height": 740}, "permissions": ["microphone"]} | options
        )
        context.on("weberror", lambda error: troubles.append(str(error.error)))
        contexts.append(context)
        return context

    yield make
    for context in contexts:
        context.close()
    assert troubles == []
