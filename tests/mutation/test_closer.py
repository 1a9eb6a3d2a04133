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
from generator.analysis.attempts import Counts, _falls, _freedom, find_attempts_limit
from generator.analysis.bands import third_octave_bands
from generator.analysis.calibration import scale_from_calibrator
from generator.analysis.contrast import _why_undecided, find_relative_scatter
from generator.analysis.density import band_power, find_floor
from generator.analysis.difference import Difference, _join_intervals, _own_part, find_separate
from generator.analysis.drift import find_rank_correlation
from generator.analysis.light import find_overexposed
from generator.analysis.matching import match_tone, match_wavelength
from generator.analysis.panel import PairCount, find_strengths
from generator.analysis.repeats import find_repeated
from generator.analysis.sound import _matched, _segment
from generator.analysis.tinterval import find_scatter, find_t_factor
from generator.analysis.trend import find_order, remove_trend
from generator.models.calibration import RANGE, calibrate
from generator.models.envelope import limit_lines, predict_lines, predict_speed_limit
from generator.models.machine import motor_loads, motor_torque
from generator.models.motor import SQUARE_WAVE_FACTOR, pull_out_torque
from generator.models.plant import build_plant
from generator.models.profile import Moves
from generator.models.resonance import natural_frequencies, predict_shift
from generator.records.findings import Measurement, Prediction, Spread
from generator.records.hardware import Drive, Motor, Setup, Supply, Transmission
from generator.records.signals import Cause, Density, Waveform
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

    assert float(predict_lines(SETUP, trial).limits["static"]) == float(limit_lines(SETUP, (1.0,), 1.2).static)
    assert float(predict_lines(SETUP, trial).limits["static"]) < float(limit_lines(SETUP, (1.0,), 0.0).static)


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


def test_a_small_force_counts_as_driving_too() -> None:
    # T = J·a/r + (m·a + F)·r/η with η of the motor that drives, not of the load that does.
    radius = 0.04 / math.tau
    weak = replace(
        SETUP,
        friction=(0.5,),
        viscous=(0.0,),
        transmissions=(Transmission("belt", 0.04, 0.8, 0.5),),
        supply=Supply(48.0),
    )
    torque = float(pull_out_torque(MOTOR, 2.5, 48.0, 0.01 / radius * 50))
    expected = (torque - 0.5 * radius / 0.8) / (82e-7 / radius + 0.5 * radius / 0.8)
    (load,) = motor_loads(weak, (1.0,), 0.01)

    assert float(motor_torque(load, 0.0)) == pytest.approx(0.5 * radius / 0.8, rel=1e-12)
    assert float(limit_lines(weak, (1.0,), 0.01).static) == pytest.approx(expected, rel=1e-9)


def test_without_friction_the_motor_drives_the_mass() -> None:
    radius = 0.04 / math.tau
    free = replace(
        SETUP,
        friction=(0.0,),
        viscous=(0.0,),
        transmissions=(Transmission("belt", 0.04, 0.8, 0.5),),
        supply=Supply(48.0),
    )
    torque = float(pull_out_torque(MOTOR, 2.5, 48.0, 0.01 / radius * 50))

    expected = torque / (82e-7 / radius + 0.5 * radius / 0.8)

    assert float(limit_lines(free, (1.0,), 0.01).static) == pytest.approx(expected, rel=1e-9)


def test_the_carriage_takes_its_share_of_the_inertia() -> None:
    carried = 0.5 * (0.04 / math.tau) ** 2

    assert build_plant(SETUP, (1.0,), False).load_share.ravel() == pytest.approx(
        [carried / (carried + 82e-7)], rel=1e-9
    )


def test_dry_friction_on_springs_decays_as_fast_as_its_quickest_part() -> None:
    # near rest C/v_s: the carriage 4 N over 2 mm/s and 2 N·s/m on 0.5 kg, the shaft T·ρ/v_s on its own inertia
    quick = replace(SETUP, transmissions=(replace(SETUP.transmissions[0], drag_torque=0.02),))
    shaft = 0.02 * (0.04 / math.tau) / 0.002 / 82e-7

    assert build_plant(SETUP, (1.0,), elastic=True).friction_rate == pytest.approx((4.0 / 0.002 + 2.0) / 0.5)
    assert build_plant(quick, (1.0,), elastic=True).friction_rate == pytest.approx(shaft)


def test_a_square_wave_has_the_fundamental_of_its_fourier_series() -> None:
    phase = (np.arange(1_000_000) + 0.5) * math.tau / 1_000_000

    assert 2 * np.mean(np.sign(np.sin(phase)) * np.sin(phase)) == pytest.approx(SQUARE_WAVE_FACTOR, rel=1e-9)


@pytest.mark.parametrize("what", ["mass", "belt", "motor"])
def test_draws_of_one_figure_alone_spread_the_frequencies(what: str) -> None:
    factors = np.array([0.8, 1.0, 1.3])

    def changed(factor: object) -> Setup:
        belt = replace(SETUP.transmissions[0], belt_stiffness=5e4 * (factor if what == "belt" else 1.0))  # type: ignore[operator]
        motor = replace(MOTOR, holding_torque=0.5 * (factor if what == "motor" else 1.0))  # type: ignore[operator]
        mass = 0.5 * (factor if what == "mass" else 1.0)  # type: ignore[operator]
        return replace(SETUP, transmissions=(belt,), motors=(motor,), moving_mass=(mass,))

    together = natural_frequencies(changed(factors), "x")

    assert together == pytest.approx(np.array([natural_frequencies(changed(f), "x") for f in factors]), rel=1e-12)


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
    assert "that a call needs does not" in _why_undecided(0.2, 3.0, False, None)
    assert "that a call needs does not" in _why_undecided(-3.0, -0.2, False, None)
    assert "includes zero" in _why_undecided(-0.2, 3.0, False, None)
    assert "includes zero" in _why_undecided(-0.2, 0.5, False, None)


def test_tones_match_at_the_edge_and_name_what_was_expected() -> None:
    cause = Cause("step", 100.5)
    slow = replace(cause, frequency=0.4)

    assert [match.expected for match in match_tone(100.0, [cause], 0.5)] == [100.5]
    assert match_tone(100.0, [replace(cause, frequency=100.54)], 0.1) == []
    assert [match.expected for match in match_tone(201.0, [cause], 0.5)] == [201.0]
    assert [match.harmonic for match in match_wavelength(0.1 / 100.5, [cause], 0.1, 1e-9)] == [1]
    assert [match.harmonic for match in match_wavelength(0.1 / 804.0, [cause], 0.1, 1e-9)] == [8]
    assert match_wavelength(0.1 / 904.5, [cause], 0.1, 1e-9) == []
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

    assert (found.count, found.degrees_of_freedom) == (4, 3)
    assert find_repeated("t", "a", "level", "dB", [50.0]).count == 1
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

    found = remove_trend(first, second, find_order({"a": first, "b": second}, "a", "b"), 1.0)

    assert found is not None
    assert found.value == pytest.approx(fit.params[1], rel=1e-9)
    assert found.parts[0] == pytest.approx((fit.bse[1], 5.0), rel=1e-9)


def test_a_share_that_rises_a_little_does_not_fall() -> None:
    rungs, tries = np.array([1.0, 1.1]), np.array([5, 5])

    assert not _falls(Counts(rungs, np.array([2, 3]), tries))
    assert _falls(Counts(rungs, np.array([3, 2]), tries))


def test_four_times_the_runs_halve_an_unsymmetrical_interval() -> None:
    assert Difference(1.0, ((1.0, 5.0),), below=2.0, above=4.0, count=4).half_width_with(16, 0.95) == pytest.approx(1.5)


def test_degrees_of_freedom_of_two_unequal_samples() -> None:
    # The scatter is the larger sample's alone, so Welch's freedom is n - 1 of it, bounded by the smaller sample's.
    blank = Measurement("t", "a", "speed", "m/s", "bracketed", 3, estimate=1.0, scatter=1e-9, rung=0.0)

    assert find_separate(_own_part(blank), _own_part(replace(blank, count=8, scatter=1.0)))[1] == pytest.approx(3.0)
    assert find_separate(_own_part(blank), _own_part(replace(blank, count=4, scatter=1.0)))[1] == pytest.approx(3.0)
    assert find_separate((1e-9, 4), (1.0, 6))[1] == pytest.approx(5.0)  # half as large again, and no more
    assert find_separate((1e-9, 4), (1.0, 7))[1] == pytest.approx(4.5)


def test_joined_intervals_have_the_smaller_freedom() -> None:
    side = Measurement("t", "a", "speed", "m/s", "attempts", 9, 1.0, 0.1, 5.0, low=0.8, high=1.2, method="attempts")
    found = _join_intervals(side, replace(side, degrees_of_freedom=9.0))

    assert found is not None and found.parts[0] == (pytest.approx(math.hypot(0.1, 0.1)), 5.0)


def test_three_runs_tell_a_scatter() -> None:
    three = Measurement("t", "a", "speed", "m/s", "bracketed", 3, 10.0, 0.1, 2.0, scatter=0.5, rung=0.1)
    found = find_relative_scatter([three])

    assert found is not None and found.value == pytest.approx(0.05)
    assert find_relative_scatter([replace(three, count=2, degrees_of_freedom=1.0)]) is None


def test_two_groups_have_a_rank_correlation() -> None:
    # Spearman's coefficient by a general library.
    from scipy.stats import spearmanr

    found, _ = find_rank_correlation([1, 1, 2, 2], [1, 2, 3, 4])

    assert found == pytest.approx(spearmanr([1, 1, 2, 2], [1, 2, 3, 4]).statistic, rel=1e-12)
    assert find_rank_correlation([1, 1, 1], [1, 2, 3]) == (None, None)


def test_a_floor_follows_a_slope_and_power_is_whole() -> None:
    frequency = np.arange(1.0, 4097.0)
    density = Density(np.arange(0.0, 10.0, 0.5), np.full(20, 3.0), 1.0, 1.0)

    assert find_floor(frequency, 1 / frequency)[400:3600] == pytest.approx(1 / frequency[400:3600], rel=0.05)
    assert float(band_power(density, 0.0, 0.1)) == pytest.approx(0.1 / 0.25 * 3.0 * 0.5, rel=1e-12)
    assert float(band_power(density, 0.0, 9.75)) == pytest.approx(20 * 3.0 * 0.5, rel=1e-12)


def test_bands_lie_below_the_highest_frequency() -> None:
    assert third_octave_bands(1000.0).nominal[-1] == 800.0
    assert third_octave_bands(1000.0).middle[-1] < 800.0
    assert third_octave_bands(1000.1).nominal[-1] == 1000.0


@pytest.mark.parametrize(("beside", "impurity"), [(200.0, -20.0), (1030.0, -40.0)])
def test_what_stands_beside_a_calibrator_tone_is_its_impurity(beside: float, impurity: float) -> None:
    # A tenth of the amplitude is a hundredth of the power, 20 dB less; within 5 % of the tone it is part of the tone.
    time = np.arange(5 * 48_000) / 48_000
    samples = 0.5 * np.sin(math.tau * 1000 * time) + 0.05 * np.sin(math.tau * beside * time)
    found = scale_from_calibrator(Waveform("c.wav", 48_000.0, samples), 94.0)

    assert found.impurity is not None
    assert found.impurity == pytest.approx(impurity, abs=0.3) if beside < 900 else found.impurity < impurity


@pytest.mark.parametrize("channel", [0, 1, 2])
def test_one_full_colour_is_overexposed(channel: int) -> None:
    pixels = np.zeros((4, 4, 3), np.uint8)
    pixels[:2, :, channel] = 255

    assert find_overexposed(pixels, 1) == 0.5


def test_bands_that_the_background_lacks_are_silent_in_it() -> None:
    assert _matched(np.array([10.0]), 3).tolist() == [10.0, -math.inf, -math.inf]


def test_a_shift_leaves_detent_out_unless_it_is_asked_for() -> None:
    belt = replace(SETUP.transmissions[0], belt_stiffness=5e4)
    light = replace(SETUP, transmissions=(belt,), moving_mass=(0.05,))
    heavy = replace(light, motors=(replace(MOTOR, rotor_inertia=3e-5),))
    peak = float(natural_frequencies(light, "x")[0])

    plain = predict_shift(light, heavy, "x", peak)

    assert plain == pytest.approx(predict_shift(light, heavy, "x", peak, detents=(0.0, 0.0)), rel=1e-12)
    assert abs(plain - predict_shift(light, heavy, "x", peak, detents=(1.0, 0.0))) > 1e-3
    assert abs(plain - predict_shift(light, heavy, "x", peak, detents=(0.0, 1.0))) > 1e-3
