"""Every notebook runs from a clean kernel, shows what it promises, and ends with what it taught."""

from __future__ import annotations

import ast
from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient

NOTEBOOKS = sorted((Path(__file__).resolve().parent.parent / "notebooks").glob("*.ipynb"))


def _name(path: Path) -> str:
    return path.stem


def test_there_are_notebooks():
    assert NOTEBOOKS[0].name == "01_from_a_take_to_a_reading.ipynb"


@pytest.mark.parametrize("path", NOTEBOOKS, ids=_name)
def test_no_output_is_committed(path: Path):
    for cell in nbformat.read(path, as_version=4).cells:
        assert not cell.get("outputs")
        assert cell.get("execution_count") is None


@pytest.mark.parametrize("path", NOTEBOOKS, ids=_name)
def test_it_ends_by_asserting_what_it_taught(path: Path):
    *_, last = nbformat.read(path, as_version=4).cells

    assert last.cell_type == "code"
    assert sum(isinstance(statement, ast.Assert) for statement in ast.parse(last.source).body) >= 3


# The kernel lives in a process of its own; how the client talks to it is not ours to answer for.
@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("path", NOTEBOOKS, ids=_name)
def test_it_runs_from_a_clean_kernel_and_shows_pictures_and_tables(
    path: Path, checkout: Path, monkeypatch: pytest.MonkeyPatch
):
    notebook = nbformat.read(path, as_version=4)
    monkeypatch.setenv("PYTHONPATH", str(checkout))
    monkeypatch.setenv("PYTHONWARNINGS", "default")
    client = NotebookClient(notebook, timeout=120, resources={"metadata": {"path": str(path.parent)}})
    client.execute()

    outputs = [output for cell in notebook.cells for output in cell.get("outputs", ())]
    shown = [kind for output in outputs for kind in output.get("data", {})]
    assert shown.count("image/png") >= 3
    assert shown.count("text/html") >= 2
    complaints = [output.text for output in outputs if output.get("name") == "stderr"]
    assert not complaints
