"""Causes of a mismatch: a fault put into the machine must be found with its own value."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from generator.models.envelope import predict_lines
from generator.models.explanation import CAUSES, explain_measurement, find_target
from generator.records.findings import Measurement
from generator.records.trial import Trial

DIAGONAL = (math.sqrt(0.5), math.sqrt(0.5))
SLOW = Trial("slow", "acceleration", DIAGONAL, {}, speed=0.3)
FAST = Trial("fast", "acceleration", DIAGONAL, {}, speed=1.5)
NAMES = [cause.name for cause in CAUSES]


def between(trial, low, high):
    middle = (low + high) / 2
    return Measurement(
        trial.id, "reference", "acceleration", "m/s^2", "bracketed", 3, estimate=middle, low=low, high=high
    )


@pytest.fixture
def setup(make_setup, motors):
    return make_setup(motors["P"], 2.5)


def fault(setup, name, value):
    return next(cause for cause in CAUSES if cause.name == name).apply(setup, value)


def found_by_name(setup, trial, measurement):
    return {explanation.cause: explanation for explanation in explain_measurement(setup, trial, measurement)}


@pytest.mark.parametrize(
    ("name", "trial", "value", "line"),
    [
        ("RMS current taken for peak", SLOW, 3.1, "static"),
        ("peak current taken for RMS", SLOW, 1.9, "any_timing"),
        ("moving mass", SLOW, 0.75, "static"),
        ("moving mass", FAST, 1.25, "any_timing"),
        ("wave shape (k_v)", FAST, 1.2, "static"),
        ("motor torque", SLOW, 1.3, "static"),
        ("motor torque", FAST, 0.7, "any_timing"),
        ("supply sag", FAST, 41.0, "any_timing"),
        ("hot winding", FAST, 370.0, "any_timing"),
    ],
)
def test_a_fault_is_found_with_its_value(setup, name, trial, value, line):
    limit = float(predict_lines(fault(setup, name, value), trial).limits[line])
    measurement = between(trial, limit, 1.05 * limit) if line == "static" else between(trial, 0.95 * limit, limit)
    explanation = found_by_name(setup, trial, measurement)[name]

    assert explanation.line == line
    assert explanation.needed == pytest.approx(value, rel=1e-8)
    assert 0 < explanation.share < 1


def test_every_cause_stands_there_once_with_its_range(setup):
    explanations = explain_measurement(setup, SLOW, between(SLOW, 90.0, 95.0))

    assert sorted(explanation.cause for explanation in explanations) == sorted(NAMES)
    for explanation in explanations:
        assert explanation.low <= explanation.stated <= explanation.high
        assert explanation.needed is None or explanation.low <= explanation.needed <= explanation.high


def test_printed_ranges(setup):
    ranges = {e.cause: (e.low, e.high) for e in explain_measurement(setup, SLOW, between(SLOW, 90.0, 95.0))}

    assert ranges["RMS current taken for peak"] == pytest.approx((2.5, 2.5 * math.sqrt(2)))
    assert ranges["hot winding"] == pytest.approx((293.15, 393.15))
    assert ranges["moving mass"] == pytest.approx((0.7, 1.3))
    assert ranges["wave shape (k_v)"] == pytest.approx((1.0, 4 / math.pi))
    assert ranges["motor torque"] == pytest.approx((0.5, 1.5))


def test_the_least_stretched_cause_comes_first_and_the_idle_ones_last(setup):
    explanations = explain_measurement(setup, SLOW, between(SLOW, 90.0, 95.0))
    shares = [explanation.share for explanation in explanations if explanation.share is not None]
    kinds = [(explanation.needed is None) + (not explanation.has_effect) for explanation in explanations]

    assert shares == sorted(shares)
    assert kinds == sorted(kinds)
    assert kinds[0] == 0
    assert kinds[-1] == 2


def test_what_has_no_effect_is_said_to_have_none(setup):
    # 0.3 m/s lies under the corner: the voltage and the winding's resistance do not bind
    by_name = found_by_name(setup, SLOW, between(SLOW, 90.0, 95.0))

    assert {name for name in NAMES if not by_name[name].has_effect} == {"hot winding", "wave shape (k_v)", "supply sag"}
    fast = found_by_name(setup, FAST, between(FAST, 60.0, 65.0))
    assert all(fast[name].has_effect for name in NAMES if name != "RMS current taken for peak")


def test_an_effect_of_the_wrong_sign_explains_nothing(setup):
    by_name = found_by_name(setup, FAST, between(FAST, 60.0, 65.0))

    assert by_name["supply sag"].has_effect
    assert by_name["supply sag"].needed is None
    assert by_name["hot winding"].needed is None


def test_too_far_a_measurement_is_explained_by_nothing(setup):
    explanations = explain_measurement(setup, SLOW, between(SLOW, 500.0, 510.0))

    assert explanations and all(explanation.needed is None for explanation in explanations)


def test_inside_the_corridor_there_is_nothing_to_explain(setup):
    lines = predict_lines(setup, SLOW).limits

    assert explain_measurement(setup, SLOW, between(SLOW, float(lines["start"]), float(lines["static"]))) == ()


def test_bounds_count_as_the_ends_of_what_was_measured(setup):
    lines = predict_lines(setup, SLOW).limits
    at_least = Measurement("slow", "reference", "acceleration", "m/s^2", "lower bound", 1, at_least=200.0)
    at_most = replace(at_least, kind="upper bound", at_least=None, at_most=5.0)

    assert find_target(lines, at_least) == ("static", 200.0)
    assert find_target(lines, at_most) == ("any_timing", 5.0)
