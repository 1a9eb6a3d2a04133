"""What was measured in the trials, set beside the predictions: measurements, agreement, contrasts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, TypeAlias

from generator.analysis import agreement, contrast, drift, limits
from generator.records.comparison import Comparison
from generator.records.findings import Agreement, Contrast, Drift, Measurement, Prediction
from generator.records.trial import Trial

Measured: TypeAlias = dict[str, dict[str, Measurement]]
"""Measured limits by trial and candidate."""


def measure_trials(comparison: Comparison) -> Measured:
    """Measured limits by trial and candidate; a candidate without a measurement is left out."""
    order = tuple(candidate.id for candidate in comparison.candidates)
    found = {trial.id: limits.find_limits(trial, order) for trial in comparison.trials}
    return {trial: {c: m for c, m in by_candidate.items() if m is not None} for trial, by_candidate in found.items()}


def compare_trials(comparison: Comparison, measured: Measured) -> list[Contrast]:
    """Every pair of candidates of every trial with a measurement, in file order."""
    found: list[Contrast] = []
    for trial in comparison.trials:
        matters = contrast.find_matters(comparison.matters, trial.id, trial.measures)
        elsewhere = contrast.find_relative_scatter(_same_kind(comparison, trial, measured))
        found += contrast.compare(trial, measured[trial.id], matters, elsewhere)
    return found


def _same_kind(comparison: Comparison, trial: Trial, measured: Measured) -> list[Measurement]:
    """Measurements of the other trials that measure the same quantity."""
    others = [other for other in comparison.trials if other.measures == trial.measures and other is not trial]
    return [measurement for other in others for measurement in measured[other.id].values()]


def agree(predictions: Sequence[Prediction], measured: Measured) -> list[Agreement]:
    """Each measured limit beside its prediction."""
    pairs = [(p, measured.get(p.trial, {}).get(p.candidate)) for p in predictions]
    found = [agreement.find_agreement(p, m) for p, m in pairs if m is not None]
    return [each for each in found if each is not None]


def listed_runs(trial: Trial, candidate: str) -> list[dict[str, Any]]:
    """The runs or attempts as recorded, for the page and results.json."""
    runs = [
        {
            "held": run.held,
            "lost": run.lost,
            "stopped": run.stopped,
            "order": run.order,
            "time": run.time,
            "note": run.note,
        }
        for run in trial.runs.get(candidate, ())
    ]
    tries = [{"at": a.at, "held": a.held, "lost": a.lost} for a in trial.attempts.get(candidate, ())]
    return runs or tries


def find_drifts(comparison: Comparison) -> list[Drift]:
    """Trend of the runs over their order, per trial and candidate."""
    return [
        drift.find_drift(trial.id, candidate, runs)
        for trial in comparison.trials
        for candidate, runs in trial.runs.items()
    ]
