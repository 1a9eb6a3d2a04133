"""What was measured in the trials, set beside the predictions: measurements, agreement, contrasts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from generator.analysis import agreement, contrast, drift, limits
from generator.records.comparison import Comparison, Matters
from generator.records.findings import Agreement, Contrast, Measurement, Prediction
from generator.records.trial import Trial


def measure_trials(comparison: Comparison) -> dict[str, dict[str, Measurement]]:
    """Measured limits by trial and candidate; a candidate without a measurement is left out."""
    order = tuple(candidate.id for candidate in comparison.candidates)
    found = {trial.id: limits.find_limits(trial, order) for trial in comparison.trials}
    return {trial: {c: m for c, m in by_candidate.items() if m is not None} for trial, by_candidate in found.items()}


def matters_for(matters: Matters, item: str, kind: str) -> tuple[float, bool] | None:
    """The smallest difference worth acting on: the item's own, else its kind's, else None."""
    return matters.items.get(item, matters.kinds.get(kind))


def compare_trials(
    comparison: Comparison, measured: dict[str, dict[str, Measurement]]
) -> list[Contrast]:
    """Every pair of candidates of every trial with a measurement, in file order."""
    order = tuple(candidate.id for candidate in comparison.candidates)
    return contrast.compare_trials(comparison.trials, order, measured, comparison.matters)


def agree(predictions: Sequence[Prediction], measured: dict[str, dict[str, Measurement]]) -> list[Agreement]:
    """Each measured limit beside its prediction."""
    pairs = [(p, measured.get(p.trial, {}).get(p.candidate)) for p in predictions]
    return [agreement.find_agreement(p, m) for p, m in pairs if m is not None]


def listed_runs(trial: Trial, candidate: str) -> list[dict[str, Any]]:
    """The runs or attempts as recorded, for the page and results.json."""
    runs = [
        {"held": run.held, "lost": run.lost, "stopped": run.stopped, "order": run.order, "time": run.time, "note": run.note}
        for run in trial.runs.get(candidate, ())
    ]
    tries = [{"at": a.at, "held": a.held, "lost": a.lost} for a in trial.attempts.get(candidate, ())]
    return runs or tries


def drifts(comparison: Comparison) -> list[dict[str, Any]]:
    """Trend of the runs over their order, per trial and candidate."""
    found = []
    for trial in comparison.trials:
        for candidate, runs in trial.runs.items():
            found.append({"trial": trial.id, "candidate": candidate, "drift": drift.find_drift(runs)})
    return found
