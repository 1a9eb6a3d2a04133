"""Kept results are found again exactly where nothing that they depend on has changed."""

from __future__ import annotations

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

    assert asked == [("records", "models"), ()]


def test_every_layer_named_is_there() -> None:
    for layers in LAYERS.values():
        assert all((PACKAGE / layer).exists() for layer in layers)
