"""What items are called, and what tells candidates apart."""

from __future__ import annotations

import pytest
from reading import COMPARISONS, read_demo, reference

from generator.evaluation.wording import describe_difference, describe_items
from generator.units import format_direction

TRIAL = "measures: acceleration\n    direction: {x: 1, y: 1}\n    speed: 500 mm/s"


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ({"x": 1.0}, "along x"),
        ({"x": 0.0, "y": -2.0}, "along −y"),
        ({"x": 1.0, "y": 1.0}, "along the diagonal of x and y"),
        ({"x": 0.70710678118, "y": -0.70710678119}, "along the diagonal of x and −y"),
        ({"x": 3, "y": 3, "z": 3}, "along the diagonal of x, y and z"),
        ({"x": 1.0, "y": 2.0}, "along x : y = 1 : 2"),
        ({"x": -0.6, "z": 0.8}, "along x : z = −1 : 1.33"),
        ({}, ""),
    ],
)
def test_directions(parts: dict[str, float], words: str) -> None:
    assert format_direction(parts) == words


@pytest.mark.parametrize(
    ("written", "words"),
    [
        (TRIAL, "acceleration at 500 mm/s along the diagonal of x and y"),
        ("measures: acceleration\n    direction: {y: 1}\n    speed: 1.5 m/s", "acceleration at 1500 mm/s along y"),
        ("measures: speed\n    direction: {x: 1}\n    acceleration: 11 m/s²", "top speed along x at 11 m/s²"),
        ("measures: speed\n    direction: {x: 1}", "top speed along x"),
    ],
)
def test_trials(written: str, words: str) -> None:
    ladder = "    ladder: {start: 20 m/s², rung: 1 m/s²}\n"

    assert describe_items(reference((TRIAL, written), (ladder, "")))["diagonal"] == words


def test_every_item_of_a_demo_is_named_in_file_order() -> None:
    comparison, _ = read_demo("braille-plate-plotter")
    found = describe_items(comparison)
    text = (COMPARISONS / "braille-plate-plotter" / "comparison.yaml").read_text(encoding="utf-8")

    assert (
        list(found) == [line.split("id: ")[1].strip() for line in text.splitlines() if line.startswith("  - id: ")][2:]
    )
    assert found["traverse-100"] == "sound level at 100 mm/s along x"
    assert found["along-x"] == "vibration along x"
    assert found["plate"] == "surface ripple along the diagonal of x and y"
    assert found["smoother-plate"] == "the blind panel on plate"


def test_no_two_items_share_words() -> None:
    for slug in ("braille-plate-plotter", "herbarium-gantry", "tile-engraver"):
        found = describe_items(read_demo(slug)[0])
        assert len(set(found.values())) == len(found)


def test_candidates_differ_by_what_the_file_states() -> None:
    comparison = reference()
    p, q = (describe_difference(candidate, comparison.candidates) for candidate in comparison.candidates)

    assert p == "2.5 A peak, 1.8°, 0.5 N·m holding, 2.5 A rated, 1.2 Ω, 1.5 mH"
    assert q == "2 A peak, 0.9°, 0.44 N·m holding, 2 A rated, 1.7 Ω, 3.2 mH"


def test_a_figure_that_one_alone_states_tells_it_apart() -> None:
    comparison = reference(("rotor_inertia: 82 g·cm²}\n", "rotor_inertia: 82 g·cm², winding_temperature: 60 degC}\n"))
    p, q = (describe_difference(candidate, comparison.candidates) for candidate in comparison.candidates)

    assert p.endswith("60 °C") and "°C" not in q
