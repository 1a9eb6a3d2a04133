"""The bench sheet: what to do at the bench for each trial, before and between measurements."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from generator.analysis import contrast, planning
from generator.evaluation.predictions import Hardware
from generator.evaluation.wording import describe_trial
from generator.models import energy, ramps
from generator.records.comparison import Comparison
from generator.records.findings import Measurement, Prediction
from generator.records.hardware import Setup
from generator.records.trial import ACCELERATION, Trial
from generator.units import format_quantity, format_stated

EXPECTED_SCATTER = 0.03
"""Scatter of single runs as a share of the limit where no run tells: common practice, no source."""
EXPECTED_MATTERS = 0.05
"""The smallest difference worth acting on, as a share, where the file states none."""
PAUSE = 5.0
"""Seconds between moves, for checking the position: common practice, no source."""


MOST_RUNGS = 5000
"""Fine rungs in the expected range from which no ladder is proposed: nobody climbs them [1]."""
NO_PLAN: Mapping[str, Any] = {
    "ladder": None,
    "why": "no limit is predicted here, so no ladder can be proposed",
    "expected_low": None,
    "expected_high": None,
    "stroke_needed": None,
    "stroke_enough": None,
    "stroke_beyond": None,
    "reachable": None,
    "ramp_peak": None,
    "duration": None,
    "rail_rung": None,
    "cautions": (),
}


def plan_bench(
    comparison: Comparison,
    hardware: Hardware,
    predictions: Sequence[Prediction],
    measured: Mapping[str, Mapping[str, Measurement]],
) -> list[dict[str, Any]]:
    """One plan per trial: ladder, moves, minutes, stroke, runs, order, and figures to heed.

    A ladder keeps to the rungs of the trial's own, from its start to its stop, to what its stroke reaches, and to what
    a ramp with the candidate's jerk reaches.
    """
    return [_plan(trial, comparison, hardware, predictions, measured.get(trial.id, {})) for trial in comparison.trials]


def _plan(
    trial: Trial,
    comparison: Comparison,
    hardware: Hardware,
    predictions: Sequence[Prediction],
    measured: Mapping[str, Measurement],
) -> dict[str, Any]:
    own = [prediction for prediction in predictions if prediction.trial == trial.id]
    plans = {prediction.candidate: _candidate_plan(trial, prediction, comparison, hardware) for prediction in own}
    runs = _runs_needed(trial, comparison, own, measured)
    ids = [candidate.id for candidate in comparison.candidates]
    return {
        "trial": trial.id,
        "what": describe_trial(trial),
        "measured": sorted(measured, key=ids.index),
        "unit": trial.unit,
        "candidates": plans,
        **runs,
        "order": planning.plan_order(ids, runs["runs"]) if runs["runs"] else None,
    }


def _candidate_plan(
    trial: Trial, prediction: Prediction, comparison: Comparison, hardware: Hardware
) -> Mapping[str, Any]:
    """Ladder and its cost for one candidate, with the figures that its bench should heed."""
    setup = hardware.nominal[prediction.candidate]
    moves = int(comparison.bench.get("moves_per_rung") or 1)
    low, high = _expected(prediction)
    if low is None or high is None or high <= 0:
        return NO_PLAN
    resolution = trial.ladder.rung if trial.ladder else _round_rung(0.02 * high)
    missed = _missed(trial, resolution, setup.jerk)
    if missed:
        return {**NO_PLAN, "why": missed}
    expected = {"expected_low": low, "expected_high": high}
    low, high = max(low, resolution), max(high, 2 * resolution)
    count = (high - low) / resolution
    if count > MOST_RUNGS:
        return {**NO_PLAN, "why": f"the expected range holds {count:.2g} rungs; a coarser rung gives a ladder to climb"}
    ladder = planning.plan_ladder(low, high, resolution, moves, *_find_ends(trial, resolution, setup.jerk))
    reach = _reach(trial, ladder, setup.jerk)
    cost = _cost(trial, ladder, reach, setup.jerk)
    return {"ladder": ladder, "why": None, **expected, **reach, **cost, **_cautions(trial, setup, ladder)}


def _missed(trial: Trial, resolution: float, jerk: float | None) -> str:
    """Why a move misses its speed or its acceleration on every rung; empty where some rung may have both."""
    if trial.measures != ACCELERATION or trial.speed is None:
        return ""
    if trial.stroke is not None and trial.stroke <= trial.speed * trial.hold_time:
        return "the time at top speed takes the whole stroke, so no ramp is left"
    peak = _ramp_peak(trial, jerk)
    if peak is None:
        return ""
    speed, lowest = format_stated(trial.speed, "m/s"), trial.ladder.start if trial.ladder else resolution
    if _reachable(trial, jerk) == math.inf:
        needed = float(ramps.stroke_needed(trial.speed, peak, trial.hold_time, jerk))
        return f"with this jerk no rung reaches {speed} on a stroke of less than {format_quantity(needed, 'm')}"
    if lowest > peak * (1 + planning.CLOSE):
        most, least = format_quantity(peak, "m/s^2"), format_stated(lowest, "m/s^2")
        return f"with this jerk a ramp to {speed} reaches {most} at most, and the lowest rung is {least}"
    return ""


def _find_ends(trial: Trial, resolution: float, jerk: float | None) -> tuple[float | None, float | None]:
    """First and last rung that the trial's own ladder, its stroke and the jerk allow [unit]; None where unbounded.

    Where no rung has all three, the first is one of the ladder that its stroke is too short for.
    """
    first, last = (trial.ladder.start, trial.ladder.stop) if trial.ladder else (None, None)
    reachable = _reachable(trial, jerk)
    if trial.measures == ACCELERATION:
        last = _smaller(last, _ramp_peak(trial, jerk))
        if reachable is None:
            return first, last
        start = resolution if first is None else first
        rungs = max(0, math.ceil((reachable - start) / resolution - 1e-9))
        if last is not None:
            rungs = min(rungs, max(0, math.floor((last - start) / resolution + planning.CLOSE)))
        return start + rungs * resolution, last
    return first, _smaller(last, reachable)


def _smaller(one: float | None, other: float | None) -> float | None:
    """The smaller of two bounds; None bounds nothing."""
    return min((bound for bound in (one, other) if bound is not None), default=None)


def _ramp_peak(trial: Trial, jerk: float | None) -> float | None:
    """The acceleration that the ramp of an acceleration trial never exceeds [m/s²]; None where no jerk limits it."""
    if jerk is None or trial.measures != ACCELERATION or trial.speed is None:
        return None
    return float(ramps.ramp_peak(trial.speed, jerk))


def _expected(prediction: Prediction) -> tuple[float | None, float | None]:
    """From the any-timing low line to the static high line: where the limit is expected."""
    low, high = prediction.any_timing.low, prediction.static.high
    return (low if low is not None and math.isfinite(low) else None), (
        high if high is not None and math.isfinite(high) else None
    )


def _round_rung(value: float) -> float:
    """A handy rung: 1, 2 or 5 times a power of ten, not above ``value``."""
    power = 10.0 ** math.floor(math.log10(value))
    return max(step * power for step in (1.0, 2.0, 5.0) if step * power <= value * (1 + 1e-9))


def _move(trial: Trial, rung: float) -> tuple[float | None, float | None]:
    """Speed and acceleration of the move at one rung."""
    return (trial.speed, rung) if trial.measures == ACCELERATION else (rung, trial.acceleration)


def _reach(trial: Trial, ladder: planning.LadderPlan, jerk: float | None) -> dict[str, Any]:
    """Stroke that the ladder needs: an acceleration ladder at its first rung, a speed ladder at its last.

    stroke_beyond is what one fine rung more would need, where the stroke and not the author ends the ladder.
    """
    rung, step = (ladder.start, -ladder.fine) if trial.measures == ACCELERATION else (ladder.stop, ladder.fine)
    needed, beyond = _stroke_at(trial, rung, jerk), _stroke_at(trial, rung + step, jerk)
    found = {"stroke_needed": needed, "ramp_peak": _ramp_peak(trial, jerk)}
    if needed is None or trial.stroke is None:
        return {**found, "stroke_enough": None, "stroke_beyond": None, "reachable": None}
    longest = trial.stroke * (1 + 1e-9)
    ends = (trial.ladder.start, trial.ladder.stop) if trial.ladder else (None, None)
    own = ends[0 if trial.measures == ACCELERATION else 1]
    is_own = own is not None and abs(rung - own) < 1e-6 * ladder.fine
    return {
        **found,
        "stroke_enough": needed <= longest,
        "stroke_beyond": beyond if beyond is not None and beyond > longest and not is_own else None,
        "reachable": _reachable(trial, jerk),
    }


def _stroke_at(trial: Trial, rung: float, jerk: float | None) -> float | None:
    """Stroke of the move at one rung [m]; None where the trial leaves speed or acceleration open."""
    speed, acceleration = _move(trial, rung)
    if speed is None or not acceleration or acceleration < 0:
        return None
    return float(ramps.stroke_needed(speed, acceleration, trial.hold_time, jerk))


def _reachable(trial: Trial, jerk: float | None) -> float | None:
    """The gentlest acceleration [m/s²] or the fastest speed [m/s] that the stroke allows; None where open."""
    if trial.stroke is None:
        return None
    if trial.measures == ACCELERATION:
        speed, stroke = trial.speed, trial.stroke
        return None if speed is None else ramps.lowest_acceleration(speed, stroke, trial.hold_time, jerk)
    if not trial.acceleration:
        return None
    return ramps.stroke_speed(trial.acceleration, trial.stroke, trial.hold_time, jerk)


def _cost(trial: Trial, ladder: planning.LadderPlan, reach: Mapping[str, Any], jerk: float | None) -> dict[str, Any]:
    """Expected time of one run [s]."""
    speed, acceleration = _move(trial, ladder.stop)
    stroke = trial.stroke or reach["stroke_needed"]
    if speed is None or not acceleration or stroke is None:
        return {"duration": None}
    reached = min(speed, ramps.stroke_speed(acceleration, stroke, jerk=jerk))
    move = float(ramps.move_time(stroke, reached, acceleration, jerk))
    return {"duration": planning.find_duration(ladder.expected_moves, move, PAUSE)}


def _cautions(trial: Trial, setup: Setup, ladder: planning.LadderPlan) -> dict[str, Any]:
    """Energy, voltages and losses at the top rung, and the stopping distance where it is longest on the ladder."""
    speed, acceleration = _move(trial, ladder.stop)
    if speed is None:
        return {"rail_rung": None, "cautions": []}
    gentlest = ladder.start if trial.measures == ACCELERATION else acceleration
    path = energy.find_path(setup, trial.direction, trial.stroke)
    return {
        "rail_rung": _rail_rung(trial, ladder, energy.find_rail_speed(setup, trial.direction, path)),
        "cautions": energy.find_cautions(setup, trial.direction, speed, gentlest, trial.stroke),
    }


def _rail_rung(trial: Trial, ladder: planning.LadderPlan, speed: float | None) -> float | None:
    """The last rung of a speed trial's ladder from which a stop keeps the rail within the drive's limit [m/s].

    None where the first does not, in an acceleration trial, and where it is not known.
    """
    if speed is None or trial.measures == ACCELERATION or speed < ladder.start:
        return None
    rungs = math.floor((min(speed, ladder.stop) - ladder.start) / ladder.fine + planning.CLOSE)
    return ladder.start + rungs * ladder.fine


def _runs_needed(
    trial: Trial, comparison: Comparison, own: Sequence[Prediction], measured: Mapping[str, Measurement]
) -> dict[str, Any]:
    """Runs per candidate that tell what matters from the expected scatter, and on what that rests."""
    levels = [p.start.median for p in own if p.start.median and math.isfinite(p.start.median)]
    known = [m for m in measured.values() if m.scatter is not None]
    level = sum(levels) / len(levels) if levels else None
    stated = contrast.find_matters(comparison.matters, trial.id, trial.measures)
    value, relative = stated or (EXPECTED_MATTERS, True)
    matters = value * level if relative and level else (None if relative else value)
    scatter = max(m.scatter or 0.0 for m in known) if known else (EXPECTED_SCATTER * level if level else None)
    rung = trial.ladder.rung if trial.ladder else 0.0
    runs = planning.find_runs_needed(matters, scatter, rung) if matters and scatter is not None else None
    if runs is not None:
        runs += runs % 2  # an even number, for the order to average out a drift
    called = None
    if runs is not None and matters and scatter is not None:
        called = planning.find_called_difference(matters, scatter, runs, rung)
    return {
        "runs": runs,
        "called_from": called,
        "scatter": scatter,
        "scatter_origin": "measured" if known else "assumed",
        "matters": matters,
        "matters_origin": "file" if stated else "assumed",
        "power": planning.POWER,
    }
