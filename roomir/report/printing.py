"""A page printed to PDF by a browser that is on this machine; nothing is sent anywhere."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

from roomir.errors import RoomirError

BROWSERS = (
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
    "microsoft-edge",
    "chrome",
)
"""Programs that print a page without a window when called with ``--headless``."""

_TIMEOUT_S = 120.0


def print_page(page: Path) -> bytes:
    """Print a page.

    Parameters
    ----------
    page : Path
        An HTML file.

    Returns
    -------
    bytes
        A PDF file.

    Raises
    ------
    RoomirError
        ``no-browser`` where none is found, ``cannot-print`` where it prints nothing.
    """
    browser = next((found for name in BROWSERS if (found := shutil.which(name))), None)
    if browser is None:
        raise RoomirError(
            "no browser was found that prints a page by itself",
            code="no-browser",
            remedy="open the page in any browser and print it to a PDF file",
        )
    with tempfile.TemporaryDirectory(prefix="roomir-print-", ignore_cleanup_errors=True) as folder:
        out = Path(folder) / "page.pdf"
        command = [
            browser,
            "--headless",
            "--disable-gpu",
            "--disable-extensions",
            "--no-first-run",
            f"--user-data-dir={folder}/profile",
            "--no-pdf-header-footer",
            f"--print-to-pdf={out}",
            page.resolve().as_uri(),
        ]
        if hasattr(os, "geteuid") and os.geteuid() == 0:
            command.insert(1, "--no-sandbox")  # as root there is none; the page is our own
        try:
            subprocess.run(command, check=False, capture_output=True, timeout=_TIMEOUT_S)  # noqa: S603
            return out.read_bytes()
        except (OSError, subprocess.TimeoutExpired) as error:
            raise RoomirError(
                f"{Path(browser).name} did not print the page",
                code="cannot-print",
                remedy="open the page in any browser and print it to a PDF file",
            ) from error
