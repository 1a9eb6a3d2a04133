"""Stall maps and simulated climbs: where the time-domain model loses steps, and in which phase of the move."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from generator.evaluation.predictions import Hardware, directions, write_direction
from generator.evaluation.recall import Recall
from generator.models import stall
from generator.records.comparison import Comparison
from generator.records.findings import Prediction
from generator.records.simulation import StallMap
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
    cases = [(hardware.nominal[p.candidate], trials[p.trial], p.static.high) for p in predictions]
    bare = [
        [setup, trial.measures, trial.direction, trial.speed, trial.acceleration, trial.stroke,
         stall.list_rungs(trial, limit)]
        for setup, trial, limit in cases
    ]  # fmt: skip
    climbs = recall.each("climb", bare, lambda places: stall.climb_ladders([cases[k] for k in places]))
    return {
        (p.trial, p.candidate): climb | {"trial": p.trial, "candidate": p.candidate}
        for p, climb in zip(predictions, climbs, strict=True)
    }


def map_stalls(
    comparison: Comparison, hardware: Hardware, curves: Sequence[Mapping[str, Any]], recall: Recall
) -> list[Any]:
    """One map per direction of an acceleration trial and candidate; empty where the file leaves it out.

    A direction in which no candidate can move at all has no map: its corridor shows that.
    """
    if not comparison.stall_map:
        return []
    mapped = [d for d in directions(comparison) if any(_is_mapped(t, d) for t in comparison.trials)]
    wanted = [d for d in mapped if min(_top(comparison, curves, d)) > 0]
    count = len(wanted) * len(comparison.candidates)
    grids = [
        stall.choose_grid(
            setup, direction, _top(comparison, curves, direction), _stroke(comparison.trials, direction), count
        )
        for direction in wanted
        for setup in hardware.nominal.values()
    ]

    def make(places: list[int]) -> list[dict[str, Any]]:
        return [_entry(one) for one in stall.predict_stall_maps([grids[k] for k in places])]

    written = [write_direction(comparison, grid.direction) for grid in grids]
    maps = recall.each("stall map", grids, make)
    return [{"direction": direction} | entry for direction, entry in zip(written, maps, strict=True)]


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
    own = [curve for curve in curves if curve["direction"] == write_direction(comparison, direction)]
    speed = max(float(curve["speed"][-1]) for curve in own)
    highest = max(float(np.nanmax(curve["static"]["nominal"])) for curve in own)
    return speed, HEADROOM * highest


def _entry(found: StallMap) -> dict[str, Any]:
    """A map as it stands in the results, but for its direction."""
    return {
        "candidate": found.candidate,
        "speed": found.speeds,
        "acceleration": found.accelerations,
        "stroke": found.stroke,
        "state": found.state,
        "elastic": found.elastic,
        "note": found.note,
        "message": found.message,
    }
