"""Docstrings tell what they must, and the two guides name only what is there."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "generator"
MODULES = sorted(PACKAGE.rglob("*.py"))
GUIDES = ("README.md", "DEVELOPERS.md")
NUMERIC = re.compile(r"(?!.*(?:Callable|bool_|intp)).*\b(?:float|Value|Array|NDArray)\b")
UNIT = re.compile(r"\[[^\]]+\]|[Uu]nit vector|(?:[Ss]ee|[Aa]s|[Aa]s in) ``\w+``")
"""A unit in square brackets, a unit vector, or a reference to where the parameter is described."""
Node = ast.FunctionDef | ast.ClassDef


def public(path: Path) -> Iterator[Node]:
    """Public functions and classes of a module, and the public methods of its public classes."""
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if isinstance(node, Node) and not node.name.startswith("_"):
            yield node
            inner = node.body if isinstance(node, ast.ClassDef) else []
            yield from (m for m in inner if isinstance(m, ast.FunctionDef) and not m.name.startswith("_"))


def section(doc: str, title: str) -> str | None:
    """Text of one numpydoc section; None where there is none."""
    found = re.search(rf"^{title}\n-+\n(.*?)(?=^\w[\w ]*\n-+\n|\Z)", doc, re.MULTILINE | re.DOTALL)
    return found[1] if found else None


def entries(text: str) -> dict[str, str]:
    """What a section says by name; ``a, b : float`` says it of both."""
    found: dict[str, str] = {}
    names: list[str] = []
    for line in text.splitlines():
        if head := re.fullmatch(r"(\w+(?:, \w+)*)(?: :.*)?", line):
            names = head[1].split(", ")
        elif line and not line.startswith(" "):
            names = []
        found |= {name: found.get(name, "") + line for name in names}
    return found


def parameters(node: ast.FunctionDef) -> dict[str, str]:
    """Annotation of every parameter but self."""
    arguments = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
    return {a.arg: ast.unparse(a.annotation) if a.annotation else "" for a in arguments if a.arg not in ("self", "cls")}


def name_of(path: Path) -> str:
    return path.relative_to(PACKAGE).as_posix()


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_every_public_name_has_a_docstring(path: Path) -> None:
    assert ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
    assert [node.name for node in public(path) if not ast.get_docstring(node)] == []


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_listed_parameters_are_those_of_the_function(path: Path) -> None:
    for node in public(path):
        listed = section(ast.get_docstring(node) or "", "Parameters")
        if isinstance(node, ast.FunctionDef) and listed is not None:
            assert sorted(entries(listed)) == sorted(parameters(node)), node.name


SCIENCE = [path for path in MODULES if path.parent.name in ("models", "analysis")]


@pytest.mark.parametrize("path", SCIENCE, ids=name_of)
def test_functions_of_figures_name_units(path: Path) -> None:
    # where parameters are listed each numeric one has its unit; elsewhere the sentence names at least one
    for node in public(path):
        doc = ast.get_docstring(node) or ""
        if not isinstance(node, ast.FunctionDef):
            continue
        numeric = [name for name, annotation in parameters(node).items() if NUMERIC.match(annotation)]
        listed = entries(section(doc, "Parameters") or "")
        without = [name for name in numeric if name in listed and not UNIT.search(listed[name])]
        assert without == [], f"{node.name}: no unit for {without}"
        assert not numeric or UNIT.search(doc), f"{node.name}: no unit"


# --- the guides -------------------------------------------------------------------------------------------------------

MADE = ("site/", ".site.work/", "archive/assets/", "archive/pages/", "site/archive/", ".venv", "dist/")
"""Places that the program or the set-up makes."""
EXAMPLES = ("comparisons/two-pulleys/",)
"""Names that a reader is asked to choose."""
PATH = re.compile(r"(?:[\w.-]+/)*[\w.-]+\.(?:py|md|json|yaml|sh|toml|html|css|js)|(?:[\w.-]+/)+")


def paths_named(text: str) -> set[str]:
    """Everything in code type or behind a link that is written like a path of the repository."""
    marked = re.findall(r"`([^`\n]+)`", text) + re.findall(r"\]\(([^)#\s]+)\)", text)
    return {token for token in marked if PATH.fullmatch(token)}


@pytest.mark.parametrize("guide", GUIDES)
def test_guides_name_only_paths_that_are_there(guide: str) -> None:
    named = paths_named((ROOT / guide).read_text(encoding="utf-8"))
    checked = {path for path in named if not path.startswith((*MADE, *EXAMPLES))}
    # modules are named from the package on, or by their name alone where the row says in which package
    places = (ROOT, PACKAGE, *(folder for folder in PACKAGE.iterdir() if folder.is_dir()))

    assert len(named) > 4
    assert sorted(path for path in checked if not any((place / path).exists() for place in places)) == []
