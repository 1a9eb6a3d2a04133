"""Predicted corridors: curves for the charts and limits for the trials, nominal and with the spread of the draws."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from generator.models import envelope, machine, uncertainty
from generator.records.comparison import Comparison
from generator.records.findings import Prediction
from generator.records.hardware import Setup
from generator.records.trial import ACCELERATION, Trial

CURVE_POINTS = 121
Array = NDArray[np.float64]


@dataclass(frozen=True)
class Hardware:
    """Every candidate's set-up, once at its nominal figures and once with draws of shape (draws, 1)."""

    nominal: Mapping[str, Setup]
    drawn: Mapping[str, Setup]
    seed: int
    draws: int


def draw_hardware(comparison: Comparison, draws: int) -> Hardware:
    """Nominal and drawn set-ups."""
    drawn = uncertainty.draw_setups(comparison.candidates, draws, uncertainty.SEED)
    nominal = {candidate.id: candidate.setup() for candidate in comparison.candidates}
    return Hardware(nominal, drawn, uncertainty.SEED, draws)


# --- trials -------------------------------------------------------------------------------------------------------


def predict_trials(comparison: Comparison, hardware: Hardware) -> list[Prediction]:
    """One prediction per trial and candidate, in file order."""
    return [
        predict_trial(trial, candidate.id, hardware)
        for trial in comparison.trials
        for candidate in comparison.candidates
    ]


def predict_trial(trial: Trial, candidate: str, hardware: Hardware) -> Prediction:
    """The three lines of one trial and candidate, and whether torque or the stroke bounds them."""
    nominal = envelope.predict_lines(hardware.nominal[candidate], trial)
    drawn = envelope.predict_lines(hardware.drawn[candidate], trial).limits
    lines = {
        line: uncertainty.spread(float(np.ravel(limit)[0]), np.ravel(drawn[line]))
        for line, limit in nominal.limits.items()
    }
    swings = _ramp_swings(trial, hardware.nominal[candidate], lines["static"].nominal)
    return Prediction(
        trial.id, candidate, trial.measures, trial.unit, **lines, bound_by=nominal.bound_by, ramp_swings=swings
    )


def _ramp_swings(trial: Trial, setup: Setup, limit: float | None) -> float | None:
    """Swings of the rotor in one ramp at the limit; None where speed or acceleration is open or nothing moves."""
    speed, acceleration = (trial.speed, limit) if trial.measures == ACCELERATION else (limit, trial.acceleration)
    if not speed or not acceleration or not (math.isfinite(speed) and math.isfinite(acceleration)):
        return None
    swings = envelope.ramp_swings(setup, trial.direction, speed, acceleration)
    return swings if math.isfinite(swings) else None


# --- curves -------------------------------------------------------------------------------------------------------


def predict_curves(comparison: Comparison, hardware: Hardware) -> list[dict[str, Any]]:
    """Corridor over speed per candidate, for every direction of an acceleration trial (or the first axis)."""
    return [
        {"direction": write_direction(comparison, direction)}
        | _curve(candidate.id, direction, _speeds(comparison, hardware, direction), hardware)
        for direction in directions(comparison)
        for candidate in comparison.candidates
    ]


def directions(comparison: Comparison) -> list[tuple[float, ...]]:
    """The distinct directions of the trials, in file order; the first axis where there is no trial."""
    found: list[tuple[float, ...]] = []
    for trial in comparison.trials:
        if trial.direction not in found:
            found.append(trial.direction)
    first_axis = tuple(1.0 if k == 0 else 0.0 for k in range(len(comparison.axes)))
    return found or [first_axis]


def write_direction(comparison: Comparison, direction: tuple[float, ...]) -> dict[str, float]:
    """A direction by axis as its first trial writes it, without resting axes."""
    named = dict(zip(comparison.axes, direction, strict=True))
    written = (trial.direction_written for trial in comparison.trials if trial.direction == direction)
    return {axis: share for axis, share in next(written, named).items() if share}


def _speeds(comparison: Comparison, hardware: Hardware, direction: tuple[float, ...]) -> Array:
    """A common speed axis: past every trial of that direction, and to where the slowest corridor has faded."""
    trials = [trial for trial in comparison.trials if trial.direction == direction]
    stated = [trial.speed for trial in trials if trial.speed] + _measured_speeds(trials)
    probe = np.geomspace(0.01, 20.0, 400)
    fades = []
    for setup in hardware.nominal.values():
        static = np.asarray(envelope.limit_lines(setup, direction, probe).static)
        alive = probe[static > 0.12 * static[0]]
        fades.append(float(alive[-1]) if alive.size else 0.5)
    top = max([1.25 * max(stated)] if stated else [0.0], default=0.0)
    top = max(top, min(float(np.median(fades)), 3.0 * top) if top else float(np.median(fades)))
    return np.linspace(0.0, _rounded_up(top), CURVE_POINTS)


def _measured_speeds(trials: Sequence[Trial]) -> list[float]:
    runs = [run for trial in trials if trial.measures != ACCELERATION for group in trial.runs.values() for run in group]
    return [value for run in runs for value in (run.held, run.lost) if value is not None]


def _rounded_up(value: float) -> float:
    """The next of 1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8 times a power of ten."""
    power = 10.0 ** np.floor(np.log10(value))
    steps = (1, 1.2, 1.4, 1.6, 1.8, 2, 2.5, 3, 3.5, 4, 5, 6, 8, 10)
    return float(next(step * power for step in steps if step * power >= value * (1 - 1e-9)))


def _curve(candidate: str, direction: tuple[float, ...], speeds: Array, hardware: Hardware) -> dict[str, Any]:
    setup, drawn = hardware.nominal[candidate], hardware.drawn[candidate]
    nominal = envelope.limit_lines(setup, direction, speeds)
    draws = envelope.limit_lines(drawn, direction, speeds)
    curve: dict[str, Any] = {
        "candidate": candidate,
        "speed": speeds,
        "torque": _torque(setup, direction, speeds),
    }
    for line in envelope.LINES:
        low, median, high = uncertainty.percentiles(getattr(draws, line))
        curve[line] = {"nominal": getattr(nominal, line), "low": low, "median": median, "high": high}
    square = envelope.limit_lines(envelope.square_wave_setup(setup), direction, speeds).static
    return curve | {"square_wave_static": square, "corner_speed": envelope.corner_tool_speed(setup, direction)}


def _torque(setup: Setup, direction: tuple[float, ...], speeds: Array) -> Array:
    """Pull-out torque of the motor that turns fastest, over tool speed [N·m]."""
    tops = [float(np.max(speed)) for speed in machine.electrical_speeds(setup, direction, speeds)]
    fastest = tops.index(max(tops))
    return np.asarray(envelope.pull_out_torques(setup, direction, speeds)[fastest])
