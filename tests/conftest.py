"""Fixtures for every test: where the recordings are that do not come with the tests."""

from __future__ import annotations

from pathlib import Path

import pytest

CHECKOUT = Path(__file__).resolve().parent.parent


@pytest.fixture(scope="session")
def checkout() -> Path:
    """The folder the project lies in."""
    return CHECKOUT


@pytest.fixture(scope="session")
def sample_data(checkout: Path) -> Path:
    """The recordings that come with the source."""
    return checkout / "sample_data"


@pytest.fixture(scope="session")
def shared_recordings(checkout: Path) -> Path:
    """Real recordings that stand beside the checkout and are no part of the project."""
    folder = checkout.parent / "shared" / "recordings"
    if not folder.is_dir():
        pytest.skip("the real recordings do not stand beside this checkout (../shared/recordings)")
    return folder
