"""Which inputs decide each predicted static limit."""

from __future__ import annotations

import functools
from dataclasses import replace
from typing import Any

from generator.evaluation.recall import Recall
from generator.models import uncertainty
from generator.models.envelope import predict_lines
from generator.records.candidate import Item
from generator.records.comparison import Comparison
from generator.records.hardware import Setup
from generator.records.trial import Trial

DRAWS = 1000
SHOWN = 6
"""Influences kept per trial and candidate, the largest first."""


def find_influences(comparison: Comparison, seed: int, recall: Recall) -> list[Any]:
    """Which inputs decide each predicted static limit, the largest share of variance first.

    Kept under the figures of all candidates with their owners and tolerances, and what the trials ask for.
    """
    figures = [replace(candidate, name="", item=Item()) for candidate in comparison.candidates]
    asked = [[t.id, t.measures, t.direction, t.speed, t.acceleration, t.stroke, t.hold_time] for t in comparison.trials]
    return recall.json("influences", [figures, asked, seed], lambda: _influences(comparison, seed))


def _influences(comparison: Comparison, seed: int) -> list[Any]:
    values = uncertainty.draw_values(comparison.candidates, DRAWS, seed)
    found: list[Any] = []
    for trial in comparison.trials:
        limit = functools.partial(_static_limit, trial)
        for candidate in comparison.candidates:
            found += uncertainty.find_influences(candidate, values[candidate.id], limit, trial.id)[:SHOWN]
    return found


def _static_limit(trial: Trial, setup: Setup) -> Any:
    return predict_lines(setup, trial, ("static",)).limits["static"]
