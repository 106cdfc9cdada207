"""What the manual says exists, and what exists the manual says."""

from __future__ import annotations

import ast
import contextlib
import doctest
import importlib
import io
import json
import pkgutil
import re
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import roomir
from tests.contract import check_document
from tests.golden.tour import with_tour

_CODE = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
_MODULES = sorted(
    module.name
    for module in pkgutil.walk_packages(roomir.__path__, "roomir.")
    if not module.name.endswith("__main__")
)


@pytest.fixture(scope="module")
def readme(checkout: Path) -> str:
    return (checkout / "README.md").read_text("utf-8")


@pytest.fixture(scope="module")
def messages(readme: str) -> set[str]:
    """The codes in the first column of the tables under Messages."""
    section = readme.split("\n## Messages\n")[1].split("\n## ")[0]
    first_cells = [line.split("|")[1] for line in section.splitlines() if line.startswith("| `")]
    return {code for cell in first_cells for code in re.findall(r"`([^`]+)`", cell)}


def _strings(node: ast.expr) -> Iterator[str]:
    """The values a ``code=`` can take, as far as they are written down."""
    for inner in ast.walk(node):
        if isinstance(inner, ast.Constant) and isinstance(inner.value, str) and _CODE.fullmatch(inner.value):
            yield inner.value


def _codes_in(tree: ast.Module) -> Iterator[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.keyword) and node.arg == "code" and not isinstance(node.value, ast.JoinedStr):
            yield from _strings(node.value)
        # A table of messages: code -> (says, remedy).
        if isinstance(node, ast.Dict):
            for key, value in zip(node.keys, node.values, strict=True):
                if isinstance(key, ast.Constant) and isinstance(value, ast.Tuple) and len(value.elts) == 2:
                    texts = [one for one in value.elts if isinstance(one, ast.Constant | ast.JoinedStr)]
                    if len(texts) == 2 and isinstance(key.value, str) and _CODE.fullmatch(key.value):
                        yield key.value


def _code_patterns_in(tree: ast.Module) -> Iterator[re.Pattern[str]]:
    for node in ast.walk(tree):
        if isinstance(node, ast.keyword) and node.arg == "code" and isinstance(node.value, ast.JoinedStr):
            parts = [
                one.value if isinstance(one, ast.Constant) else "[a-z0-9-]+" for one in node.value.values
            ]
            yield re.compile("".join(map(str, parts)))


@pytest.fixture(scope="module")
def trees(checkout: Path) -> dict[str, ast.Module]:
    files = sorted((checkout / "roomir").rglob("*.py"))
    return {str(file.relative_to(checkout)): ast.parse(file.read_text("utf-8")) for file in files}


def test_every_message_is_in_the_manual(trees: dict[str, ast.Module], messages: set[str]):
    missing = {
        (code, file) for file, tree in trees.items() for code in _codes_in(tree) if code not in messages
    }

    assert not missing, "describe these under Messages in README.md"


def test_the_manual_has_no_message_that_nothing_says(trees: dict[str, ast.Module], messages: set[str]):
    said = {code for tree in trees.values() for code in _codes_in(tree)}
    patterns = [pattern for tree in trees.values() for pattern in _code_patterns_in(tree)]
    stale = {code for code in messages - said if not any(pattern.fullmatch(code) for pattern in patterns)}

    assert not stale, "nothing in roomir says these; take them out of README.md"


def test_the_walk_finds_codes_where_there_are_some():
    tree = ast.parse(
        'Remark(code="one-thing", says="x")\nError("y", code="a" if b else "c")\nT = {"d-e": ("f", "g")}'
    )

    assert sorted(_codes_in(tree)) == ["a", "c", "d-e", "one-thing"]


def test_the_json_of_the_manual_keeps_the_contract(readme: str):
    (block,) = re.findall(r"```json\n(.*?)```", readme, flags=re.DOTALL)

    check_document(json.loads(block))


def test_the_tour_of_the_manual_shows_what_is_printed(readme: str, checkout: Path):
    assert "Rings for" in readme
    assert with_tour(readme, checkout=checkout) == readme, "python tests/golden/renew.py brings it up to date"


def test_every_option_and_command_is_in_the_manual(readme: str, trees: dict[str, ast.Module]):
    options = {
        node.value
        for file, tree in trees.items()
        if file.startswith("roomir/cli/")
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant)
        and isinstance(node.value, str)
        and re.fullmatch(r"--[a-z-]+", node.value)
    }

    assert {"--json", "--csv", "--full", "--debug"} <= options
    for option in options - {"--help", "--version"}:
        assert f"`{option}" in readme or f" {option}" in readme, option
    for option in ("--volume", "--dimensions", "--channel", "--bands"):
        assert option in readme
    assert "roomir demo" in readme


def test_every_exit_status_is_in_the_manual(readme: str):
    for status in (0, 1, 2, 70):
        assert f"\n| {status} | " in readme


def test_every_quantity_of_a_band_is_explained(readme: str):
    glossary = readme.split("\n## Glossary\n")[1].split("\n## ")[0]

    for term in (
        *("decay time", "EDT", "T20, T30", "decay range", "fitted range", "non-linearity", "curvature"),
        *("C50, C80", "D50", "centre time", "BT", "mid frequencies", "bass ratio", "Schroeder frequency"),
    ):
        assert f"| {term}" in glossary, term


def test_the_python_of_the_manual_runs(readme: str, checkout: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.chdir(checkout)
    for block in re.findall(r"```python\n(.*?)```", readme, flags=re.DOTALL):
        printed = io.StringIO()
        with contextlib.redirect_stdout(printed):
            exec(compile(block, "README.md", "exec"), {})
        assert printed.getvalue()


@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md", "CHANGELOG.md"])
def test_links_and_paths_of_the_documents_lead_somewhere(document: str, checkout: Path):
    text = (checkout / document).read_text("utf-8")
    links = [link for link in re.findall(r"\]\(([^)#]+)\)", text) if "//" not in link]
    paths = re.findall(r"`((?:roomir|tests|sample_data|bands|claps|decay|rooms|report)/[\w./]+)`", text)

    for link in links:
        assert (checkout / link).exists(), link
    contracts = {path for path in paths if re.fullmatch(r"roomir/[a-z-]+/\d+", path)}  # not files
    for path in set(paths) - contracts:
        assert (checkout / path).exists() or (checkout / "roomir" / path).exists(), path


def test_headings_that_are_linked_exist(readme: str):
    headings = {
        heading.lower().replace(" ", "-") for heading in re.findall(r"^#+ (.+)$", readme, flags=re.MULTILINE)
    }

    assert set(re.findall(r"\]\(#([^)]+)\)", readme)) <= headings


@pytest.mark.parametrize("name", _MODULES)
def test_the_examples_of_a_module_say_what_comes_out(name: str):
    module = importlib.import_module(name)
    failed, _ = doctest.testmod(module, optionflags=doctest.NORMALIZE_WHITESPACE)

    assert failed == 0


@pytest.mark.parametrize("name", _MODULES)
def test_public_names_of_a_module_say_what_they_are(name: str):
    module = importlib.import_module(name)
    bare = [
        public
        for public, value in vars(module).items()
        if not public.startswith("_")
        and getattr(value, "__module__", None) == name
        and callable(value)
        and not (value.__doc__ or "").strip()
    ]

    assert module.__doc__
    assert not bare


def test_what_roomir_offers_is_there():
    for name in roomir.__all__:
        assert getattr(roomir, name) is not None
    with pytest.raises(AttributeError, match="no attribute 'reed'"):
        roomir.reed  # noqa: B018
    assert sys.modules["roomir"] is roomir
