"""What a reader with other needs meets: axe-core on every page, wide and narrow, light and dark."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.web.browser.phones import NEEDS_BROWSER, Running, pair, start, stop

pytestmark = NEEDS_BROWSER


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 1200])
def test_axe_core_finds_nothing_serious(
    page: Running, phone: Callable[..., Any], source: Path, scheme: str, width: int
):
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
    context = phone(color_scheme=scheme, bypass_csp=True, viewport={"width": width, "height": 800})
    tab = context.new_page()
    tab.goto(page.url)
    _no_serious(tab, script)
    tab.get_by_label("Code").fill("wrong")
    tab.get_by_role("button", name="Pair").click()
    _no_serious(tab, script)
    tab.goto("about:blank")
    tab = pair(context, page.link)
    for path in ("/", "/record", "/room?room=Booth", "/room?room=Booth&target=0.3", "/room?room=Nowhere"):
        tab.goto(page.url + path)
        tab.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
        _no_serious(tab, script)
        assert tab.evaluate("document.documentElement.scrollWidth") <= width
    tab.goto(page.url)
    tab.get_by_role("button", name="Pair another browser").click()
    _no_serious(tab, script)
    # While it records, and while what was recorded waits for an answer.
    start(tab, page.url)
    _no_serious(tab, script)
    tab.evaluate("Way.row({ id: 'x', room: 'Booth', stage: 'bare' }, 'kept on this phone.')")
    stop(tab)
    _no_serious(tab, script)


def _no_serious(tab: Any, script: Path) -> None:
    tab.evaluate(script.read_text("utf-8"))
    found = tab.evaluate("axe.run()")["violations"]
    assert [
        (one["id"], one["nodes"][0]["html"]) for one in found if one["impact"] in ("serious", "critical")
    ] == []
