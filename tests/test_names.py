"""House rules that a tool can hold: names of modules, lengths of files and functions, words that do not belong here."""

from __future__ import annotations

import ast
import re
import statistics
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
MODULES = sorted((ROOT / "generator").rglob("*.py"))
CODE = sorted([*MODULES, *(ROOT / "tests").rglob("*.py"), *(ROOT / "comparisons").rglob("*.py")])
VAGUE = {"util", "utils", "helper", "helpers", "data", "manager", "misc", "common", "stuff", "base", "core", "tools"}
"""Names that say nothing of what a module owns."""
LONGEST_FILE, LONGEST_FUNCTION = 400, 40

FOLDERS = ("generator", "templates", "comparisons", "tests", ".ci")
GUESSED = ROOT / "tests" / "fuzz"
"""Inputs that a fuzzer made up may hold any word."""
_HOMES = "|".join(("home", "root", "Users", "work"))
_HOSTS = "|".join((r"py" r"pi\.org", "python" r"hosted\.org", r"npm" r"js\.", r"golang\." "org/x", r"debian\." "org"))
FORBIDDEN = {
    "a path of one machine": re.compile(rf"(?<![\w.])/(?:{_HOMES})/\w"),
    "a registry's host": re.compile(_HOSTS),
    "a note to oneself": re.compile(r"\b(?:TO" r"DO|FIX" r"ME|XX" r"X)\b"),
}  # fmt: skip
"""Written in pieces, so that this file does not hold them either."""


def name_of(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def text_files() -> list[Path]:
    """Every text file of the repository that people wrote."""
    inside = [path for folder in FOLDERS for path in (ROOT / folder).rglob("*") if path.is_file()]
    above = [path for path in ROOT.iterdir() if path.is_file()]
    kept = [p for p in (*inside, *above) if "__pycache__" not in p.parts and not p.is_relative_to(GUESSED)]
    return sorted(path for path in kept if is_text(path))


def is_text(path: Path) -> bool:
    try:
        return "\0" not in path.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        return False


def functions(path: Path) -> list[tuple[str, int]]:
    """Name and length in lines of every function, its docstring left out."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return [(node.name, length(node)) for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]


def length(node: ast.FunctionDef) -> int:
    first = node.body[0]
    words = isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant) and isinstance(first.value.value, str)
    return lines(node) - (lines(first) if words else 0)


def lines(node: ast.stmt) -> int:
    return (node.end_lineno or node.lineno) - node.lineno + 1


@pytest.mark.parametrize("path", CODE, ids=name_of)
def test_module_names_say_what_they_own(path: Path) -> None:
    assert path.stem not in VAGUE
    assert re.fullmatch(r"[a-z][a-z0-9_]*|__\w+__", path.stem)


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_files_and_functions_stay_short(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= LONGEST_FILE
    assert [found for found in functions(path) if found[1] > LONGEST_FUNCTION] == []


def test_most_functions_are_very_short() -> None:
    assert statistics.median(size for path in MODULES for _, size in functions(path)) < 10


@pytest.mark.parametrize("what", FORBIDDEN)
def test_no_word_that_does_not_belong_here(what: str) -> None:
    files = text_files()
    found = [
        f"{name_of(path)}: {match[0]}"
        for path in files
        for match in FORBIDDEN[what].finditer(path.read_text(encoding="utf-8"))
    ]

    assert len(files) > 200
    assert found == []


@pytest.mark.parametrize(
    ("what", "text"),
    [
        ("a path of one machine", "/ho" "me/someone/file"),
        ("a path of one machine", "see /wo" "rk/place"),
        ("a registry's host", "https://py" "pi.org/simple"),
        ("a note to oneself", "# TO" "DO"),
    ],
)  # fmt: skip
def test_the_search_finds_what_it_is_for(what: str, text: str) -> None:
    assert FORBIDDEN[what].search(text)
