"""Tests that survivors of the mutation run called for: each names the formula that a mutant broke unseen.

Kept here and not beside the other tests, so that the run shows what they add. Sources are named where a figure comes
from outside; the rest is arithmetic done by hand.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import statsmodels.api as sm

from generator.analysis.agreement import ABOVE, BETWEEN, INSIDE, find_agreement
from generator.analysis.attempts import Counts, _freedom, find_attempts_limit
from generator.analysis.contrast import _why_undecided
from generator.analysis.matching import match_tone, match_wavelength
from generator.analysis.panel import PairCount, find_strengths
from generator.analysis.repeats import find_repeated
from generator.analysis.sound import _segment
from generator.analysis.tinterval import find_scatter, find_t_factor
from generator.analysis.trend import remove_trend
from generator.models.calibration import RANGE, calibrate, predict_lines
from generator.models.envelope import limit_lines, predict_speed_limit
from generator.models.profile import Moves
from generator.models.resonance import natural_frequencies
from generator.records.findings import Measurement, Prediction, Spread
from generator.records.hardware import Drive, Motor, Setup, Supply, Transmission
from generator.records.signals import Cause, Waveform
from generator.records.trial import Attempts, Run, Trial

MOTOR = Motor(50, math.radians(1.8), 0.5, 2.5, 1.2, 1.5e-3, 82e-7, detent_torque=0.02)
SETUP = Setup(
    "one", ("x",), ((1.0,),), (0.5,), (4.0,), (2.0,), (0.0,), (None,), (MOTOR,),
    (Transmission("belt", 0.04, drag_torque=0.01, belt_stiffness=1e12),), (1,), Supply(24.0), Drive(2.5),
)  # fmt: skip


# --- models -------------------------------------------------------------------------------------------------------


def test_a_move_slows_down_before_its_end() -> None:
    moves = Moves(np.array([1.0]), np.array([10.0]), np.array([0.1]), np.array([0.2]))
    times = np.array([0.05, 0.1, 0.3, 0.35, 0.4])
    step = 1e-6

    slope = (moves.position(times[:, None] + step) - moves.position(times[:, None] - step)) / (2 * step)

    assert moves.speed_bound(times) == pytest.approx([0.5, 1.0, 1.0, 0.5, 0.0], abs=1e-12)
    assert slope[[0, 3], 0] == pytest.approx([0.5, 0.5], rel=1e-6)


def test_detent_holds_with_four_times_its_torque_per_tooth() -> None:
    # With a stiff belt the axis is one mass on the torque's spring: f = √(4·N_r·T_d/(J + m·r²))/2π without a current.
    radius = 0.04 / math.tau
    expected = math.sqrt(4 * 50 * 0.02 / (82e-7 + 0.5 * radius**2)) / math.tau

    assert natural_frequencies(SETUP, "x", 0.0, 1.0)[0] == pytest.approx(expected, rel=1e-4)


def test_an_acceleration_trial_is_predicted_at_its_speed() -> None:
    trial = Trial("fast", "acceleration", (1.0,), {}, speed=1.2, stroke=0.3)

    assert float(predict_lines(SETUP, trial)["static"]) == float(limit_lines(SETUP, (1.0,), 1.2).static)
    assert float(predict_lines(SETUP, trial)["static"]) < float(limit_lines(SETUP, (1.0,), 0.0).static)


def test_a_calibration_names_its_trial_and_its_range() -> None:
    trial = Trial("slow", "acceleration", (1.0,), {}, speed=0.3, stroke=0.3)
    huge = Measurement("slow", "one", "acceleration", "m/s^2", "bracketed", 3, estimate=1e6)

    missing = calibrate(SETUP, (trial,), [], used="other")
    outside = calibrate(SETUP, (trial,), [huge])

    assert (missing.trial, missing.factor) == ("other", None)
    assert f"between {RANGE[0]:g} and {RANGE[1]:g} times" in outside.message


@pytest.mark.parametrize("line", ["static", "start", "any_timing"])
def test_the_top_speed_is_where_each_line_ends(line: str) -> None:
    limit = float(predict_speed_limit(SETUP, (1.0,), lines=(line,))[line].torque)

    assert float(getattr(limit_lines(SETUP, (1.0,), limit * (1 - 1e-4)), line)) > 0
    assert float(getattr(limit_lines(SETUP, (1.0,), limit * (1 + 1e-4)), line)) == 0


# --- analysis -----------------------------------------------------------------------------------------------------


def predicted(nominal: float) -> Prediction:
    line = Spread(nominal, nominal * 0.9, nominal, nominal * 1.25)
    return Prediction("t", "a", "acceleration", "m/s^2", static=line, start=line, any_timing=line, bound_by="torque")


def test_touching_the_corridor_is_reaching_it() -> None:
    measured = Measurement("t", "a", "acceleration", "m/s^2", "bracketed", 3, estimate=1.3)
    at_top = find_agreement(predicted(1.0), replace(measured, low=1.25, high=1.4))
    over_top = find_agreement(predicted(1.0), replace(measured, low=1.2500001, high=1.4))
    apart = replace(predicted(1.0), any_timing=Spread(0.5, 0.4, 0.5, 0.6))
    at_start = find_agreement(apart, replace(measured, low=0.8, high=0.9))
    under_start = find_agreement(apart, replace(measured, low=0.8, high=0.8999999))

    assert at_top is not None and over_top is not None and at_start is not None and under_start is not None
    assert (at_top.place, over_top.place, at_start.place, under_start.place) == (INSIDE, ABOVE, INSIDE, BETWEEN)
    assert at_top.ratio == 1.3


def test_tries_that_tell_of_the_middle_are_counted() -> None:
    counts = Counts(np.arange(10.0, 17.0), np.array([5, 5, 3, 0, 0, 0, 0]), np.full(7, 5))

    assert _freedom(counts) == 13  # rungs 11, 12 and 13, five tries each, less two


def test_uncertainty_of_attempts_belongs_to_their_interval() -> None:
    blank = Measurement("t", "a", "acceleration", "m/s^2", "bracketed", 0)
    tries = [(40.0, 9, 1), (42.0, 7, 3), (44.0, 6, 4), (46.0, 2, 8), (48.0, 1, 9)]
    found = find_attempts_limit(blank, [Attempts(*each) for each in tries])

    assert found.low is not None and found.high is not None and found.degrees_of_freedom is not None
    half = (found.high - found.low) / 2
    assert found.standard_uncertainty == pytest.approx(half / find_t_factor(found.degrees_of_freedom), rel=1e-12)


def test_too_little_for_a_call_is_said_for_small_differences_too() -> None:
    assert "by too little" in _why_undecided(0.2, 3.0, False, None)
    assert "by too little" in _why_undecided(-3.0, -0.2, False, None)
    assert "includes zero" in _why_undecided(-0.2, 3.0, False, None)


def test_tones_match_at_the_edge_and_name_what_was_expected() -> None:
    cause = Cause("step", 100.5)
    slow = replace(cause, frequency=0.4)

    assert [match.expected for match in match_tone(100.0, [cause], 0.5)] == [100.5]
    assert match_tone(100.0, [replace(cause, frequency=100.54)], 0.1) == []
    assert [match.expected for match in match_tone(201.0, [cause], 0.5)] == [201.0]
    assert [match.expected for match in match_tone(0.4, [slow], 0.05)] == [0.4]
    assert [match.expected for match in match_wavelength(0.1 / 201.0, [cause], 0.1, 1e-9)] == [
        pytest.approx(0.1 / 201.0, rel=1e-12)
    ]


def test_two_against_each_other_have_the_odds_uncertainty() -> None:
    # The log-odds of 12 to 5 has the standard error √(1/12 + 1/5) (Agresti, Categorical Data Analysis, 3rd ed., 3.1).
    found = find_strengths([PairCount(("a", "b"), (12, 5), 0)], ("a", "b"))

    assert found.uncertainties[1] == pytest.approx(math.sqrt(1 / 12 + 1 / 5), rel=1e-9)


def test_one_that_never_won_is_not_fitted_with_the_others() -> None:
    pairs = [PairCount(("a", "b"), (5, 0), 0), PairCount(("a", "c"), (3, 2), 0)]
    found = find_strengths(pairs, ("a", "b", "c"))

    assert found.logs[:2] == (0.0, -math.inf)
    assert found.logs[2] == pytest.approx(math.log(2 / 3), rel=1e-9)


def test_repeats_have_one_freedom_less_than_values() -> None:
    found = find_repeated("t", "a", "level", "dB", [50.0, 51.0, 53.0, 52.0])

    assert found.degrees_of_freedom == 3
    assert found.high is not None and found.estimate is not None and found.standard_uncertainty is not None
    assert found.high - found.estimate == pytest.approx(3.182446305284263 * found.standard_uncertainty, rel=1e-9)


def test_two_values_have_a_scatter_and_one_has_none() -> None:
    assert find_scatter([3.0]) is None
    assert find_scatter([3.0, 5.0]) == pytest.approx(math.sqrt(2), rel=1e-12)


def test_a_short_recording_still_gives_four_segments() -> None:
    # Four segments that overlap by half span (4 + 1)/2 segments.
    wave = Waveform("a.wav", 48_000.0, np.zeros(24_000), 1, 1, "", ())

    assert _segment(wave) == 9600


def test_a_trend_is_taken_out_as_by_a_general_library() -> None:
    # Ordinary least squares of reading on group and place by statsmodels, with unequal counts.
    places = ([1, 2, 3, 4, 6], [5, 7, 8])
    readings = ([30.0, 31.5, 31.0, 32.5, 34.0], [36.0, 37.5, 39.5])
    first, second = (
        [Run(held=value - 0.5, lost=value + 0.5, order=place) for value, place in zip(values, at, strict=True)]
        for values, at in zip(readings, places, strict=True)
    )
    y = np.concatenate(readings)
    ranks = np.concatenate(places).astype(float) - 1
    fit = sm.OLS(y, np.column_stack([np.ones(8), np.repeat([1.0, 0.0], [5, 3]), ranks])).fit()

    found = remove_trend(first, second, 1.0)

    assert found is not None
    assert found.value == pytest.approx(fit.params[1], rel=1e-9)
    assert found.parts[0] == pytest.approx((fit.bse[1], 5.0), rel=1e-9)
