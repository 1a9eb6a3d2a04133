"""One unknown from one trial: what was put in must come back, and predict the rest."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from generator.models.calibration import UNKNOWNS, calibrate, scale_torque, solve_nearest
from generator.models.envelope import limit_lines, predict_lines
from generator.models.transient_limits import START
from generator.records.findings import Measurement
from generator.records.trial import Trial

DIAGONAL = (np.sqrt(0.5), np.sqrt(0.5))
TRIALS = (
    Trial("slow", "acceleration", DIAGONAL, {}, speed=0.5, stroke=0.3),
    Trial("fast", "acceleration", DIAGONAL, {}, speed=1.5, stroke=0.3),
    Trial("top", "speed", (1.0, 0.0), {}, acceleration=60.0, stroke=1.5),
)


def measured(trial, estimate, candidate="reference"):
    return Measurement(trial.id, candidate, trial.measures, trial.unit, "bracketed", 3, estimate=estimate)


@pytest.fixture
def setup(make_setup, motors):
    return make_setup(motors["P"], 2.5)


@pytest.mark.parametrize("unknown", sorted(UNKNOWNS))
@pytest.mark.parametrize("factor", [0.7, 1.0, 1.25])
def test_the_factor_put_in_comes_back_and_predicts_the_other_trials(setup, unknown, factor):
    truth = UNKNOWNS[unknown](setup, factor)
    values = [measured(trial, float(predict_lines(truth, trial).limits["start"])) for trial in TRIALS]
    found = calibrate(setup, TRIALS, values, unknown)

    assert found.factor == pytest.approx(factor, rel=1e-9)
    assert (found.trial, found.line, found.unknown) == ("slow", "start", unknown)
    assert [trial.trial for trial in found.predicted] == ["fast", "top"]
    assert [trial.error for trial in found.predicted] == pytest.approx([0.0, 0.0], abs=1e-9)


def test_the_factor_is_the_root_of_the_start_line(setup):
    found = calibrate(setup, TRIALS, [measured(TRIALS[0], 45.0)])
    root = brentq(lambda f: float(limit_lines(scale_torque(setup, f), DIAGONAL, 0.5).start) - 45.0, 0.2, 2.5)

    assert found.factor == pytest.approx(root, rel=1e-9)


def test_without_friction_it_is_a_plain_ratio(make_axis, motors):
    # all torque accelerates and the current limits it: limit = START·factor·T_0/inertia, worked by hand
    setup = make_axis(motors["P"], 2.5)
    radius = 0.04 / (2 * np.pi)
    static = 0.5 / np.sqrt(2) / (radius * 0.5 + 82e-7 / radius)
    trial = replace(TRIALS[0], direction=(1.0,), speed=0.2)
    found = calibrate(setup, (trial,), [measured(trial, 30.0)])

    assert found.factor == pytest.approx(30.0 / (START * static), rel=1e-9)


def test_the_error_is_relative_to_the_measured_limit(setup):
    truth = [float(predict_lines(setup, trial).limits["start"]) for trial in TRIALS]
    found = calibrate(setup, TRIALS, [measured(TRIALS[0], truth[0]), measured(TRIALS[1], truth[1] / 1.1)])

    assert found.predicted[0].error == pytest.approx(0.1, rel=1e-9)
    assert found.predicted[0].any_timing < found.predicted[0].start < found.predicted[0].static


def test_another_trial_may_be_named(setup):
    values = [measured(trial, float(predict_lines(setup, trial).limits["start"])) for trial in TRIALS]
    found = calibrate(setup, TRIALS, values, used="fast")

    assert found.trial == "fast"
    assert [trial.trial for trial in found.predicted] == ["slow", "top"]


def test_bounds_are_predicted_but_never_fitted(setup):
    bound = Measurement("slow", "reference", "acceleration", "m/s^2", "lower bound", 1, at_least=30.0)
    found = calibrate(setup, TRIALS, [bound, measured(TRIALS[1], 38.0)])

    assert found.trial == "fast"
    assert (found.predicted[0].measured, found.predicted[0].error) == (None, None)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ([], "No trial"),
        ([measured(TRIALS[0], 1e4)], "No torque derating"),
        ([measured(TRIALS[0], 9.0, "q")], "No trial"),
    ],
)
def test_it_says_why_nothing_can_be_fitted(setup, values, words):
    found = calibrate(setup, TRIALS, values)

    assert words in found.message
    assert found.factor is None
    assert found.predicted == ()


def test_the_nearest_root_is_found():
    def function(x):
        return (x - 0.3) * (x - 0.6) * (x - 0.9)

    assert solve_nearest(function, 1.0, 0.0) == pytest.approx(0.9, rel=1e-10)
    assert solve_nearest(function, 0.0, 1.0) == pytest.approx(0.3, rel=1e-10)
    assert solve_nearest(function, 0.95, 1.0) is None
