"""Kept results are found again exactly where nothing that they depend on has changed."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

import generator
from generator.evaluation.recall import LAYERS, Recall

PACKAGE = Path(generator.__file__).parent


class Shelf:
    """A store in memory."""

    def __init__(self) -> None:
        self.kept: dict[str, bytes] = {}

    def get(self, key: str) -> bytes | None:
        return self.kept.get(key)

    def put(self, key: str, content: bytes) -> None:
        self.kept[key] = content


class Maker:
    """Makes a figure and counts how often."""

    def __init__(self) -> None:
        self.made = 0

    def __call__(self) -> dict[str, float]:
        self.made += 1
        return {"third": 1 / 3, "made": self.made}


def test_kept_once_and_the_same_when_found_again() -> None:
    recall, make = Recall(Shelf()), Maker()

    first, second = (recall.json("climb", [1.0, "x"], make) for _ in range(2))

    assert make.made == 1
    assert first == second == {"third": 0.333333333, "made": 1}


def test_without_a_store_it_is_made_each_time_in_the_same_form() -> None:
    make = Maker()

    assert [Recall().json("climb", [], make)["made"] for _ in range(2)] == [1, 2]
    assert Recall().json("climb", [], make)["third"] == 0.333333333


@pytest.mark.parametrize(
    ("name", "depends_on", "code"),
    [("stall map", [1.0], "a"), ("climb", [2.0], "a"), ("climb", [1.0, None], "a"), ("climb", [1.0], "b")],
)
def test_another_name_content_or_code_is_made_anew(name: str, depends_on: list[float], code: str) -> None:
    shelf, make = Shelf(), Maker()
    Recall(shelf, lambda layers: "a").json("climb", [1.0], make)

    Recall(shelf, lambda layers: code).json(name, depends_on, make)

    assert make.made == 2


def test_the_last_bits_of_a_figure_do_not_matter() -> None:
    recall, make = Recall(Shelf()), Maker()
    recall.json("climb", [0.1 + 0.2], make)
    recall.json("climb", [0.3], make)

    assert make.made == 1


def test_code_is_asked_for_by_layer() -> None:
    asked: list[tuple[str, ...]] = []

    def find_code(layers: tuple[str, ...]) -> str:
        asked.append(layers)
        return ""

    recall = Recall(Shelf(), find_code)
    recall.json("climb", [], Maker())
    recall.bytes("something else", [], lambda: b"")

    assert asked == [LAYERS["climb"], ()]


def test_every_layer_named_is_there() -> None:
    for layers in LAYERS.values():
        assert all((PACKAGE / layer).exists() for layer in layers)


MAKERS = {
    "climb": "evaluation/simulation.py",
    "stall map": "evaluation/simulation.py",
    "influences": "evaluation/influences.py",
    "charts": "charts/index.py",
    "preview picture": "charts/preview.py",
    "photo sizes": "readers/photos.py",
}
"""Where each kind of result is made: all that this module imports, and what that imports, is code it depends on."""
CARRIES_NOTHING = {"errors.py", "evaluation/recall.py"}


def find_imports(path: Path) -> set[Path]:
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == PACKAGE.name:
            place = PACKAGE.joinpath(*(node.module or "").split(".")[1:])
            inner = [place / f"{alias.name}.py" for alias in node.names]
            found |= {file for file in [*inner, place.with_suffix(".py")] if file.exists()}
    return found


def find_all_imports(path: Path) -> set[str]:
    seen: set[Path] = set()
    left = {path}
    while left:
        seen |= left
        left = set().union(*(find_imports(file) for file in left)) - seen
    return {file.relative_to(PACKAGE).as_posix() for file in seen}


def covers(layers: tuple[str, ...], file: str) -> bool:
    return any(file == layer or file.startswith(f"{layer}/") for layer in layers)


@pytest.mark.parametrize("name", LAYERS)
def test_a_result_depends_on_all_code_that_makes_it(name: str) -> None:
    needed = find_all_imports(PACKAGE / MAKERS[name]) - CARRIES_NOTHING

    assert len(needed) > 1
    assert [file for file in sorted(needed) if not covers(LAYERS[name], file)] == []


@pytest.mark.parametrize("name", LAYERS)
def test_a_result_depends_on_the_module_that_keeps_it(name: str) -> None:
    asked = re.compile(rf'recall\.(json|bytes|each)\(\s*"{name}"')
    files = [path.relative_to(PACKAGE).as_posix() for path in PACKAGE.rglob("*.py") if asked.search(path.read_text())]

    assert len(files) == 1
    assert covers(LAYERS[name], files[0])
