"""What earlier comparisons of the same machine showed about its motors' torque, for the next bench sheet."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from generator.evaluation import bench_sheet, predictions
from generator.evaluation.numbers import to_json
from generator.evaluation.trials import measure_trials
from generator.models.calibration import scale_torque
from generator.records.comparison import Comparison

UNKNOWN = "torque derating"


@dataclass(frozen=True)
class Derating:
    """Mean torque factor [1] over the calibrated candidates of earlier comparisons, and which these were."""

    factor: float
    count: int
    comparisons: tuple[str, ...]


def find_derating(results: Mapping[str, Any], others: Iterable[Mapping[str, Any]]) -> Derating | None:
    """The torque factor that earlier comparisons of the same machine showed; None where there is none.

    A machine is the same when every figure under ``machine`` is; an earlier comparison has an earlier date. Those
    with invented data serve only comparisons that are invented themselves.
    """
    machine = _machine(results)
    factors, slugs = [], []
    for other in others:
        fits = _machine(other) == machine and other["comparison"] != results["comparison"]
        if fits and other["date"] < results["date"] and other["data"] == results["data"]:
            found = [c["factor"] for c in other["calibration"] if c["unknown"] == UNKNOWN and c.get("factor")]
            factors += found
            slugs += [other["comparison"]] if found else []
    return Derating(sum(factors) / len(factors), len(factors), tuple(slugs)) if factors else None


def _machine(results: Mapping[str, Any]) -> list[tuple[str, str, float]]:
    """Every figure of the machine that all candidates share, and the arrangement of the motors."""
    rows = {(row["path"], row["unit"], row["value"]) for row in results["inputs"]
            if row["shared"] and row["path"].startswith("machine.")}  # fmt: skip
    return [*sorted(rows), (str(results["machine"]["motor_map"]), "", 0.0)]


def plan_with_derating(comparison: Comparison, derating: Derating, draws: int) -> Sequence[Any]:
    """The bench sheet's plans with every motor's torque times the factor."""
    hardware = predictions.draw_hardware(comparison, draws)
    derated = replace(
        hardware,
        nominal={name: scale_torque(setup, derating.factor) for name, setup in hardware.nominal.items()},
        drawn={name: scale_torque(setup, derating.factor) for name, setup in hardware.drawn.items()},
    )
    predicted = predictions.predict_trials(comparison, derated)
    plans: Sequence[Any] = to_json(bench_sheet.plan_bench(comparison, derated, predicted, measure_trials(comparison)))
    return plans
