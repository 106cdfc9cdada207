"""The layers of the package hold, and reading a take loads nothing it can do without."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from importlinter.cli import EXIT_STATUS_SUCCESS, lint_imports

HEAVY = ("librosa", "matplotlib", "av", "scipy.signal", "pandas", "rich", "sqlite3")


def test_imports_point_down_and_numerics_stay_pure(checkout: Path, capsys: pytest.CaptureFixture[str]):
    status = lint_imports(config_filename=str(checkout / "pyproject.toml"), cache_dir=None)

    assert status == EXIT_STATUS_SUCCESS, capsys.readouterr().out


def test_only_the_figures_draw(checkout: Path):
    drawing = {"matplotlib", "librosa", "numba", "IPython"}
    found = {
        str(file.relative_to(checkout))
        for file in (checkout / "roomir").rglob("*.py")
        for name in _imported_when_run(ast.parse(file.read_text("utf-8")))
        if name.split(".")[0] in drawing
    }

    assert found
    assert all(file.startswith("roomir/report/figures/") for file in found)


def _imported_when_run(tree: ast.AST) -> Iterator[str]:
    """Every module that is imported, apart from those that only the type checker sees."""
    if isinstance(tree, ast.If) and ast.unparse(tree.test) == "TYPE_CHECKING":
        return
    if isinstance(tree, ast.Import):
        yield from (alias.name for alias in tree.names)
    elif isinstance(tree, ast.ImportFrom):
        yield tree.module or ""
    for child in ast.iter_child_nodes(tree):
        yield from _imported_when_run(child)


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
