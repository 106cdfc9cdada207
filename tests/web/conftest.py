"""A page with an empty logbook, and what stands in for the reading."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence
from typing import Any

import pytest

pytest.importorskip("starlette", reason="the page needs the extra `page`")

from tests.web.served import Served, served


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    with served(tmp_path_factory.mktemp("page")) as one:
        yield one


@pytest.fixture
def reads_nothing(monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """Let nothing be read; what would have been is listed, and each lot is said to be kept."""
    asked: list[list[str]] = []

    async def run(module: str, arguments: Sequence[str], **_: Any) -> tuple[int, bytes, bytes]:
        assert module == "roomir"
        asked.append(list(arguments))
        return 0, json.dumps({"room": "r", "stage": "s", "takes": [{"outcome": "kept"}]}).encode(), b""

    monkeypatch.setattr("roomir.web.jobs.run_apart", run)
    return asked


@pytest.fixture
def answers_with(monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """Let the command line answer this."""

    def set_answer(status: int, out: str, err: str) -> None:
        async def run(*_: Any, **__: Any) -> tuple[int, bytes, bytes]:
            return status, out.encode(), err.encode()

        monkeypatch.setattr("roomir.web.jobs.run_apart", run)

    return set_answer
