"""The results object of one comparison: every number that its page shows, in SI, in one JSON-ready object."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from generator import __version__
from generator.evaluation import (
    bench_sheet,
    cautions,
    predictions,
    report,
    simulation,
    story,
    trials,
    why,
    your_machine,
)
from generator.evaluation.numbers import to_json
from generator.evaluation.predictions import Hardware
from generator.evaluation.recall import Recall
from generator.evaluation.recordings import evaluate_recordings
from generator.evaluation.wording import describe_difference, describe_items
from generator.models import machine, motor
from generator.readers.limits import DEFAULT_LIMITS, Limits
from generator.records.candidate import Candidate
from generator.records.comparison import Comparison
from generator.records.findings import Measurement, Prediction

SCHEMA = 1
MODELS = "2"
"""Version of the models and statistics together; raised when a figure may change for the same file."""
DRAWS = DEFAULT_LIMITS.draws


def evaluate(
    comparison: Comparison,
    files: Mapping[str, bytes],
    recall: Recall | None = None,
    draws: int = DRAWS,
    limits: Limits = DEFAULT_LIMITS,
) -> dict[str, Any]:
    """Predict, measure, compare and explain one comparison.

    Parameters
    ----------
    comparison : Comparison
    files : mapping of str to bytes
        The comparison's cleaned files by their path in its folder.
    recall : Recall, optional
        Keeps expensive results; by default nothing is kept.
    draws : int
        Monte Carlo draws.
    limits : Limits
        What the readers accept.

    Returns
    -------
    dict
        The results object, JSON-ready, figures rounded to 9 significant digits. Its shape is results.schema.json.

    Raises
    ------
    FileProblems
        Where a recording cannot be read.
    """
    recall = recall or Recall()
    return to_json(_Evaluation(comparison, files, recall, draws, limits).results())


class _Evaluation:
    """One comparison on its way to results; sections share what is found once."""

    def __init__(
        self, comparison: Comparison, files: Mapping[str, bytes], recall: Recall, draws: int, limits: Limits
    ) -> None:
        self.limits = limits
        self.comparison = comparison
        self.files = files
        self.recall = recall
        self.hardware: Hardware = predictions.draw_hardware(comparison, draws)
        self.predictions: list[Prediction] = predictions.predict_trials(comparison, self.hardware)
        self.measured = trials.measure_trials(comparison)

    def results(self) -> dict[str, Any]:
        contrasts = trials.compare_trials(self.comparison, self.measured)
        agreement = trials.agree(self.predictions, self.measured)
        recorded = evaluate_recordings(self.comparison, self.files, self.hardware.nominal, self.recall, self.limits)
        every_contrast = [*contrasts, *recorded.contrasts]
        plans = bench_sheet.plan_bench(self.comparison, self.hardware, self.predictions, self.measured)
        verdict = story.find_story(self.comparison, every_contrast, self._items_measured(recorded.measurements))
        return {
            **self._head(),
            "answer": verdict.sentence,
            **self._predicted(),
            "measurements": [*self._measurements(), *(to_json(m) | {"runs": []} for m in recorded.measurements)],
            "agreement": agreement,
            "contrasts": every_contrast,
            "drift": trials.find_drifts(self.comparison),
            **why.find_why(self.comparison, self.hardware, self.measured, agreement, recorded.peaks, self.recall),
            "cautions": cautions.find_cautions(self.comparison, self.hardware, self.predictions, plans),
            **recorded.sections,
            "bench_sheet": plans,
            "report": report.report_facts(self.comparison),
            "your_machine": your_machine.describe_machines(self.comparison, self.hardware.nominal),
            "missing": list(self.comparison.missing),
            "verdict": verdict,
        }

    def _head(self) -> dict[str, Any]:
        comparison = self.comparison
        return {
            "schema": SCHEMA,
            "comparison": comparison.slug,
            "data": comparison.data,
            "title": comparison.title,
            "question": comparison.question,
            "date": comparison.date,
            "author": comparison.author,
            "language": comparison.language,
            "corrections": comparison.corrections,
            "publish": comparison.publish,
            "made_with": {
                "stallmark": __version__,
                "models": MODELS,
                "draws": self.hardware.draws,
                "seed": self.hardware.seed,
            },
            "candidates": [self._candidate(candidate) for candidate in comparison.candidates],
            "items": self._items(),
            "trials": [self._trial(trial) for trial in comparison.trials],
            "machine": {"axes": comparison.axes, "motor_map": comparison.candidates[0].motor_map_name},
        }

    def _candidate(self, candidate: Candidate) -> dict[str, Any]:
        setup = self.hardware.nominal[candidate.id]
        first, drive = setup.motors[0], setup.drive
        return {
            "id": candidate.id,
            "name": candidate.name,
            "motor_name": candidate.facts.get("motor.name"),
            "differs": describe_difference(candidate, self.comparison.candidates),
            "facts": {path: value for path, value in candidate.facts.items() if isinstance(value, str | int | float)},
            "rotor_teeth": first.rotor_teeth,
            "flux_linkage": motor.flux_linkage(first),
            "static_torque": motor.static_torque(first, drive.current_peak),
            "time_constant": motor.time_constant(first),
            "torque_stiffness": motor.torque_stiffness(first, drive.current_peak),
            "travel_per_turn": setup.transmissions[0].travel_per_turn,
            "available_voltage": motor.available_voltage(setup.supply, drive),
            "current_peak": drive.current_peak,
            "shaft_inertia": machine.shaft_inertia(setup, 0),
        }

    def _items(self) -> list[dict[str, Any]]:
        comparison = self.comparison
        kinds = {
            item.id: kind for kind in ("sound", "vibration", "surfaces", "panel") for item in getattr(comparison, kind)
        }
        described = describe_items(comparison)
        return [
            {"id": item, "kind": kinds.get(item, "trial"), "what": what, "weight": comparison.weights.get(item)}
            for item, what in described.items()
        ]

    def _trial(self, trial: Any) -> dict[str, Any]:
        return {
            "id": trial.id,
            "measures": trial.measures,
            "unit": trial.unit,
            "direction": dict(trial.direction_written),
            "speed": trial.speed,
            "acceleration": trial.acceleration,
            "stroke": trial.stroke,
            "hold_time": trial.hold_time,
            "ladder": trial.ladder,
            "note": trial.note,
        }

    def _predicted(self) -> dict[str, Any]:
        curves = predictions.predict_curves(self.comparison, self.hardware)
        climbs = simulation.simulate_climbs(self.comparison, self.hardware, self.predictions, self.recall)
        listed = [to_json(p) | {"simulated": climbs.get((p.trial, p.candidate))} for p in self.predictions]
        maps = simulation.map_stalls(self.comparison, self.hardware, curves, self.recall)
        inputs = report.list_inputs(self.comparison)
        return {"inputs": inputs, "curves": curves, "predictions": listed, "stall_maps": maps}

    def _measurements(self) -> list[dict[str, Any]]:
        by_id = {trial.id: trial for trial in self.comparison.trials}
        return [
            to_json(measurement) | {"runs": trials.listed_runs(by_id[measurement.item], measurement.candidate)}
            for by_candidate in self.measured.values()
            for measurement in by_candidate.values()
        ]

    def _items_measured(self, recorded: Sequence[Measurement]) -> set[str]:
        return {trial for trial, found in self.measured.items() if found} | {m.item for m in recorded}
