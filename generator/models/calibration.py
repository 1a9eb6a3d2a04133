"""Owns the fit of one unknown of a candidate to one measured trial, and the prediction of its other trials.

The start line is matched: it lies inside the corridor and is the one line that a machine with ordinary damping meets
(from rest, one sudden step of load). Matching the static line would put the whole swing of the rotor into the unknown.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from generator.models.envelope import predict_lines
from generator.records.findings import Measurement
from generator.records.hardware import Setup, Value
from generator.records.simulation import CalibratedTrial, Calibration
from generator.records.trial import Trial

MATCHED_LINE = "start"
RANGE = (0.2, 2.5)
"""Factors searched: beyond them something else than the unknown is wrong."""

_POINTS = 33
_ROUNDS = 9

Array = NDArray[np.float64]


def scale_torque(setup: Setup, factor: Value) -> Setup:
    """The set-up with every motor's torque, and with it its back-EMF, times a factor [1] or factors."""
    motors = tuple(dataclasses.replace(m, holding_torque=m.holding_torque * factor) for m in setup.motors)
    return dataclasses.replace(setup, motors=motors)


def scale_mass(setup: Setup, factor: Value) -> Setup:
    """The set-up with every moving mass times a factor [1] or factors."""
    return dataclasses.replace(setup, moving_mass=tuple(mass * factor for mass in setup.moving_mass))


def scale_current(setup: Setup, factor: Value) -> Setup:
    """The set-up with the drive's current times a factor [1] or factors."""
    drive = dataclasses.replace(setup.drive, current_peak=setup.drive.current_peak * factor)
    return dataclasses.replace(setup, drive=drive)


UNKNOWNS: dict[str, Callable[[Setup, Any], Setup]] = {
    "torque derating": scale_torque,
    "moving mass": scale_mass,
    "current": scale_current,
}
"""What can be fitted, by the name that a page prints."""


def solve_nearest(function: Callable[[Array], Any], stated: float, end: float) -> float | None:
    """Where a function first passes through zero on the way from a stated value to an end; None where it does not.

    stated, end and the result are in the argument's own unit [any]; function takes an array of values at once; it may
    rise and fall again. The interval is narrowed 32-fold a round.
    """
    first, last = stated, end
    for _ in range(_ROUNDS):
        grid = np.linspace(first, last, _POINTS)
        positive = np.broadcast_to(function(grid), grid.shape) > 0
        crossings = np.flatnonzero(positive[1:] != positive[:-1])
        if not len(crossings):
            return None
        first, last = grid[crossings[0]], grid[crossings[0] + 1]
    return float((first + last) / 2)


def calibrate(
    setup: Setup,
    trials: Sequence[Trial],
    measurements: Sequence[Measurement],
    unknown: str = "torque derating",
    used: str | None = None,
) -> Calibration:
    """Fit one unknown of a candidate to one measured trial and predict its other trials with it.

    Parameters
    ----------
    setup : Setup
        The candidate at its nominal values.
    trials, measurements : sequence of Trial, sequence of Measurement
        All of the comparison, in the file's order; those of other candidates are passed over.
    unknown : str
        One of ``UNKNOWNS``.
    used : str or None
        Trial to fit to; None for the first with an estimate.

    Returns
    -------
    Calibration
        The factor on the input as stated, and every other trial with its lines [m/s² or m/s], its measured limit and
        the relative error of the start line; a message where nothing can be fitted.

    Assumes: the unknown acts as one factor at every speed; the transient share of the start line is right.
    Valid for: trials of one machine in one state. Source: one equation for one unknown; no statistics.
    Checked in tests/models/test_calibration.py.
    """
    measured = {m.item: m for m in measurements if m.candidate == setup.candidate}
    matched = _find_matched(trials, measured, used)
    bare = Calibration(setup.candidate, unknown, MATCHED_LINE, matched.id if matched else used or "", RANGE)
    if matched is None:
        return dataclasses.replace(bare, message="No trial of this candidate has a measured limit to fit to.")
    scale, target = UNKNOWNS[unknown], float(measured[matched.id].estimate or 0.0)
    factor = _fit(
        lambda factors: predict_lines(scale(setup, factors), matched, (MATCHED_LINE,)).limits[MATCHED_LINE] - target
    )
    if factor is None:
        text = f"No {unknown} between {RANGE[0]:g} and {RANGE[1]:g} times the stated one meets the measured limit."
        return dataclasses.replace(bare, message=text)
    others = [trial for trial in trials if trial.id in measured and trial.id != matched.id]
    predicted = tuple(_predict_trial(scale(setup, factor), trial, measured[trial.id]) for trial in others)
    return dataclasses.replace(bare, factor=factor, predicted=predicted)


def _find_matched(trials: Sequence[Trial], measured: Mapping[str, Measurement], used: str | None) -> Trial | None:
    """The trial to fit to: the named one, or the first; with an estimate in either case."""
    known = [trial for trial in trials if trial.id in measured and measured[trial.id].estimate is not None]
    return next((trial for trial in known if used in (None, trial.id)), None)


def _fit(missing: Callable[[Array], Any]) -> float | None:
    """The factor nearest to 1, by ratio, at which nothing is missing."""
    found = [factor for factor in (solve_nearest(missing, 1.0, end) for end in RANGE) if factor is not None]
    return min(found, key=lambda factor: abs(math.log(factor)), default=None)


def _predict_trial(setup: Setup, trial: Trial, measurement: Measurement) -> CalibratedTrial:
    """One trial at the fitted figures beside its measured limit."""
    lines = {name: float(value) for name, value in predict_lines(setup, trial).limits.items()}
    estimate = measurement.estimate
    error = None if not estimate else lines[MATCHED_LINE] / estimate - 1
    return CalibratedTrial(trial.id, trial.measures, trial.unit, measured=estimate, error=error, **lines)
