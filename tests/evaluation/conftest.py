"""Lets the tests of evaluation share the reference comparison and the demos' results."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from reading import measured, read_demo, reference

from generator.evaluation.comparison import evaluate
from generator.evaluation.predictions import Hardware, draw_hardware
from generator.evaluation.predictions import predict_trials as predict
from generator.records.comparison import Comparison
from generator.records.findings import Prediction

DRAWS = 1000
Case = tuple[Comparison, Hardware, list[Prediction]]


@pytest.fixture(scope="session")
def bare() -> Case:
    """The reference comparison before any measurement, its hardware and predictions."""
    comparison = reference()
    hardware = draw_hardware(comparison, DRAWS)
    return comparison, hardware, predict(comparison, hardware)


@pytest.fixture(scope="session")
def case() -> Callable[[Comparison], Case]:
    """Hardware and predictions of a comparison, by few draws."""

    def make(comparison: Comparison) -> Case:
        hardware = draw_hardware(comparison, 200)
        return comparison, hardware, predict(comparison, hardware)

    return make


@pytest.fixture(scope="session")
def results() -> dict[str, Any]:
    """Results of the reference comparison with runs."""
    return evaluate(measured(), {}, draws=200)


@pytest.fixture(scope="session")
def demos() -> dict[str, dict[str, Any]]:
    """Results of the demos by slug, without stall maps, by few draws."""
    slugs = ("braille-plate-plotter", "herbarium-gantry", "tile-engraver")
    read = {slug: read_demo(slug) for slug in slugs}
    return {
        slug: evaluate(replace(comparison, stall_map=False), files, draws=200)
        for slug, (comparison, files) in read.items()
    }
