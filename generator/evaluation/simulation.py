"""Stall maps and simulated climbs: where the time-domain model loses steps, and in which phase of the move."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from generator.evaluation.predictions import Hardware, directions
from generator.evaluation.recall import Recall
from generator.models import stall
from generator.records.comparison import Comparison
from generator.records.findings import Prediction
from generator.records.hardware import Setup
from generator.records.trial import ACCELERATION, Trial

HEADROOM = 1.15
"""How far a map reaches above the highest static limit of its direction."""


def simulate_climbs(
    comparison: Comparison, hardware: Hardware, predictions: Sequence[Prediction], recall: Recall
) -> dict[tuple[str, str], dict[str, Any]]:
    """Each trial's ladder climbed in simulation, by trial and candidate; empty where the file leaves it out."""
    if not comparison.stall_map:
        return {}
    trials = {trial.id: trial for trial in comparison.trials}
    found = {}
    for prediction in predictions:
        trial, setup = trials[prediction.trial], hardware.nominal[prediction.candidate]
        limit = prediction.static.high
        bare = [trial.measures, trial.direction, trial.speed, trial.acceleration, trial.stroke, trial.ladder]
        climb = recall.json(
            "climb", [setup, bare, limit], lambda t=trial, s=setup, m=limit: stall.climb_ladder(s, t, m)
        )
        climb |= {"trial": prediction.trial, "candidate": prediction.candidate}
        found[prediction.trial, prediction.candidate] = climb
    return found


def map_stalls(
    comparison: Comparison, hardware: Hardware, curves: Sequence[Mapping[str, Any]], recall: Recall
) -> list[Any]:
    """One map per direction of an acceleration trial and candidate; empty where the file leaves it out."""
    if not comparison.stall_map:
        return []
    wanted = [d for d in directions(comparison) if any(_is_mapped(t, d) for t in comparison.trials)]
    count = len(wanted) * len(comparison.candidates)
    maps = []
    for direction in wanted:
        stroke = _stroke(comparison.trials, direction)
        top = _top(comparison, curves, direction)
        for setup in hardware.nominal.values():
            depends_on = [setup, direction, stroke, top, count]
            maps.append(
                recall.json(
                    "stall map", depends_on, lambda s=setup, d=direction, r=stroke, t=top: _map(s, d, r, t, count)
                )
            )
    return maps


def _is_mapped(trial: Trial, direction: tuple[float, ...]) -> bool:
    return trial.direction == direction and trial.measures == ACCELERATION


def _stroke(trials: Sequence[Trial], direction: tuple[float, ...]) -> float | None:
    """The longest stroke of that direction's acceleration trials."""
    strokes = [trial.stroke for trial in trials if _is_mapped(trial, direction) and trial.stroke]
    return max(strokes, default=None)


def _top(
    comparison: Comparison, curves: Sequence[Mapping[str, Any]], direction: tuple[float, ...]
) -> tuple[float, float]:
    """Upper ends of the map: the corridor chart's own, so that map and corridor can be read side by side."""
    named = {axis: share for axis, share in zip(comparison.axes, direction, strict=True) if share}
    own = [curve for curve in curves if curve["direction"] == named]
    speed = max(float(curve["speed"][-1]) for curve in own)
    highest = max(float(np.nanmax(curve["static"]["nominal"])) for curve in own)
    return speed, HEADROOM * highest


def _map(
    setup: Setup, direction: tuple[float, ...], stroke: float | None, top: tuple[float, float], count: int
) -> dict[str, Any]:
    speeds, accelerations, note = stall.choose_grid(setup, direction, top, stroke, maps=count)
    found = stall.predict_stall_map(setup, direction, speeds, accelerations, stroke)
    return {
        "candidate": setup.candidate,
        "direction": {axis: share for axis, share in zip(setup.axes, direction, strict=True) if share},
        "speed": found.speeds,
        "acceleration": found.accelerations,
        "stroke": stroke,
        "state": found.state,
        "elastic": found.elastic,
        "note": note,
        "message": found.message,
    }
