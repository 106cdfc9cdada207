"""The layers of the package hold, and reading a take loads nothing it can do without."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from importlinter.cli import EXIT_STATUS_SUCCESS, lint_imports

HEAVY = ("librosa", "matplotlib", "av", "scipy.signal", "pandas", "rich", "sqlite3")


def test_imports_point_down_and_numerics_stay_pure(checkout: Path, capsys: pytest.CaptureFixture[str]):
    status = lint_imports(config_filename=str(checkout / "pyproject.toml"), cache_dir=None)

    assert status == EXIT_STATUS_SUCCESS, capsys.readouterr().out


def _modules_after(code: str) -> set[str]:
    program = f"import sys\n{code}\nprint('\\n'.join(sys.modules), file=sys.stderr)"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    return set(done.stderr.splitlines())


def test_asking_for_help_does_not_even_load_numpy():
    loaded = _modules_after(
        "sys.argv = ['roomir', '--help']\n"
        "from roomir.cli.app import main\n"
        "try: main()\n"
        "except SystemExit: pass"
    )

    assert not loaded & {*HEAVY, "numpy", "soundfile"}


def test_importing_roomir_does_not_load_numpy():
    assert "numpy" not in _modules_after("import roomir")
