"""The figures that a bench should heed, for the worst move that a candidate's trials or its bench sheet ask for."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from generator.evaluation.predictions import Hardware
from generator.models import energy
from generator.records.comparison import Comparison
from generator.records.findings import Caution, Prediction
from generator.records.trial import ACCELERATION, SPEED, UNITS, Trial


def find_cautions(
    comparison: Comparison,
    hardware: Hardware,
    predictions: Sequence[Prediction],
    plans: Sequence[Mapping[str, Any]],
) -> list[dict[str, Any]]:
    """Per candidate and kind the worst figure over all trials and over the ladders that are still to be climbed.

    Each names its trial, and the rung [the trial's unit] where a ladder of the bench sheet gives it. The axes that a
    steady force moves come first, of no trial: one entry each.
    """
    worst: dict[tuple[str, str], dict[str, Any]] = {}
    for entry in (*_of_trials(comparison, hardware, predictions), *_of_ladders(comparison, plans)):
        known = worst.get((entry["candidate"], entry["kind"]))
        if known is None or (entry["value"] or 0.0) > (known["value"] or 0.0):
            worst[entry["candidate"], entry["kind"]] = entry
    return [*_of_axes(comparison, hardware), *worst.values()]


def _of_axes(comparison: Comparison, hardware: Hardware) -> Iterator[dict[str, Any]]:
    for candidate in comparison.candidates:
        for caution in energy.find_falling(hardware.nominal[candidate.id]):
            yield vars(caution) | {"trial": None, "rung": None}


def _of_trials(
    comparison: Comparison, hardware: Hardware, predictions: Sequence[Prediction]
) -> Iterator[dict[str, Any]]:
    for prediction in predictions:
        trial = next(trial for trial in comparison.trials if trial.id == prediction.trial)
        for caution in _of_trial(trial, prediction, hardware):
            yield vars(caution) | {"trial": trial.id, "rung": None}


def _of_ladders(comparison: Comparison, plans: Sequence[Mapping[str, Any]]) -> Iterator[dict[str, Any]]:
    """The figures of the bench sheet's ladders, of trials that are not measured for every candidate."""
    for plan in plans:
        if len(plan["measured"]) < len(comparison.candidates):
            for own in plan["candidates"].values():
                for caution in own["cautions"]:
                    gentlest = caution.kind == "stopping distance" and plan["unit"] == UNITS[ACCELERATION]
                    rung = own["ladder"].start if gentlest else own["ladder"].stop
                    yield vars(caution) | {"trial": plan["trial"], "rung": rung}


def _of_trial(trial: Trial, prediction: Prediction, hardware: Hardware) -> tuple[Caution, ...]:
    speed, acceleration = fastest_move(trial, prediction)
    if speed is None:
        return ()
    setup = hardware.nominal[prediction.candidate]
    return energy.find_cautions(setup, trial.direction, speed, acceleration, trial.stroke)


def fastest_move(trial: Trial, prediction: Prediction) -> tuple[float | None, float | None]:
    """Top speed [m/s] that the trial reaches, and its gentlest stop [m/s²] for the run-out; None where unbounded.

    An acceleration trial moves at its stated speed and stops hardest at its limit; the stopping distance is given
    for the ladder's first rung, where it is longest. A speed trial climbs to what was held, or to its static limit.
    """
    if trial.measures != SPEED:
        first = trial.ladder.start if trial.ladder else prediction.any_timing.nominal
        return trial.speed, first or None
    held = [run.held for run in trial.runs.get(prediction.candidate, ()) if run.held is not None]
    nominal = prediction.static.nominal
    top = max([*held, *([nominal] if nominal is not None and math.isfinite(nominal) else [])], default=None)
    return top, trial.acceleration
