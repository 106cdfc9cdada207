"""Running the command line as a user does, and with readings made by hand."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest

from roomir import api
from roomir.cli.app import main
from roomir.reading.reading import Reading


@dataclass(frozen=True)
class Run:
    """What came out of one call."""

    status: int
    out: str
    err: str


@pytest.fixture
def roomir(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Callable[..., Run]:
    """Run ``roomir`` in this process; both streams are no terminals."""

    def run(*arguments: object) -> Run:
        monkeypatch.setattr(sys, "argv", ["roomir", *map(str, arguments)])
        with pytest.raises(SystemExit) as left:
            main()
        out, err = capsys.readouterr()
        return Run(status=int(left.value.code or 0), out=out, err=err)

    return run


@pytest.fixture
def reads_as(monkeypatch: pytest.MonkeyPatch) -> Callable[[Reading], None]:
    """Let whatever is named give this reading."""

    def reads_as(made: Reading) -> None:
        def read(*_: Any, **__: Any) -> Reading:
            return made

        monkeypatch.setattr(api, "read", read)

    return reads_as


@pytest.fixture(scope="session")
def roomir_process() -> Callable[..., Run]:
    """Run ``python -m roomir`` in a process of its own."""

    def run(*arguments: object, env: dict[str, str] | None = None, **options: Any) -> Run:
        command = [sys.executable, "-m", "roomir", *map(str, arguments)]
        done = subprocess.run(
            command, capture_output=True, text=True, env=env, stdin=subprocess.DEVNULL, check=False, **options
        )
        return Run(status=done.returncode, out=done.stdout, err=done.stderr)

    return run
