"""Natural frequencies against textbook two-mass systems, a general eigenvalue solver and their own inverse."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import scipy.linalg

from generator.models import resonance
from generator.records.hardware import Motor, Transmission


def textbook_axis(make_axis, motor_mass, motor_spring, carriage, belt):
    """One axis whose motor end has a given mass [kg] and spring to ground [N/m], carriage on a belt."""
    radius = 0.04 / (2 * math.pi)
    # N_r·T_0 = N_r·T_h·Î/(√2·I_r), so T_h follows from the spring wanted at 1 A
    torque = motor_spring * radius**2 / 50 * math.sqrt(2)
    motor = Motor(50, math.radians(1.8), torque, 1.0, 1.0, 1e-3, motor_mass * radius**2)
    belts = (Transmission("belt", 0.04, belt_stiffness=belt),)
    return make_axis(motor, 1.0, moving_mass=(carriage,), transmissions=belts)


@pytest.mark.parametrize(
    ("motor_mass", "motor_spring", "carriage", "belt", "expected"),
    [
        # M = diag(9, 1), K = [[27, −3], [−3, 3]]: √2 and 2 rad/s (Inman, Engineering Vibration, section 4.1, value
        # from memory; computed here by scipy.linalg.eigh)
        (9.0, 24.0, 1.0, 3.0, (math.sqrt(2), 2.0)),
        # two equal masses and springs, one end free, k/m = 1: 0.618034 and 1.618034 rad/s (golden ratio)
        (1.0, 1.0, 1.0, 1.0, ((math.sqrt(5) - 1) / 2, (math.sqrt(5) + 1) / 2)),
    ],
)
def test_two_masses_from_the_textbook(make_axis, motor_mass, motor_spring, carriage, belt, expected):
    setup = textbook_axis(make_axis, motor_mass, motor_spring, carriage, belt)
    found = 2 * math.pi * resonance.natural_frequencies(setup, "x")

    assert found == pytest.approx(expected, rel=1e-12)


def test_a_rotor_without_torque_leaves_the_free_pair(make_axis):
    # free-free torsion J1 = 2e-6, J2 = 8e-6 kg·m², k = 5 N·m/rad: 0 and √(k(1/J1 + 1/J2)) = 281.348849 Hz
    radius = 0.04 / (2 * math.pi)
    setup = textbook_axis(make_axis, 2e-6 / radius**2, 1e-9, 8e-6 / radius**2, 5 / radius**2)
    lower, upper = resonance.natural_frequencies(setup, "x")

    assert lower < 1e-2
    assert upper == pytest.approx(281.348849, rel=1e-8)


def crossed(make_setup, motors, stiffness=6e4, **changes):
    belts = (Transmission("belt", 0.04, belt_stiffness=stiffness, drag_torque=0.03),) * 2
    return make_setup(motors["P"], 2.5, transmissions=belts, **changes)


@pytest.mark.parametrize("axis", ["x", "y"])
def test_crossed_belts_decouple_into_axes(make_setup, motors, axis):
    # by hand with K_j = 2: carriage on 2·k_b, motor end 2·J/ρ² on 2·k_m, through a general eigenvalue solver
    setup = crossed(make_setup, motors)
    mass = {"x": 0.35, "y": 0.65}[axis]
    radius = 0.04 / (2 * math.pi)
    end_mass, end_spring = 2 * 82e-7 / radius**2, 2 * 50 * 0.5 / math.sqrt(2) / radius**2
    belt = 2 * 6e4
    squares = scipy.linalg.eigh(
        [[end_spring + belt, -belt], [-belt, belt]], np.diag([end_mass, mass]), eigvals_only=True
    )

    assert resonance.natural_frequencies(setup, axis) == pytest.approx(np.sqrt(squares) / (2 * math.pi), rel=1e-10)


def test_unequal_motors_keep_every_mode_of_the_machine(make_setup, motors):
    setup = crossed(make_setup, motors)
    setup = replace(setup, motors=(motors["P"], replace(motors["P"], rotor_inertia=150e-7)))
    radius = 0.04 / (2 * math.pi)
    mass = np.diag([82e-7 / radius**2, 150e-7 / radius**2, 0.35, 0.65])
    stretch = np.array([[-1, 0, 1, 1], [0, -1, 1, -1]])
    stiffness = 6e4 * stretch.T @ stretch + np.diag([50 * 0.5 / math.sqrt(2) / radius**2] * 2 + [0, 0])
    whole = np.sqrt(scipy.linalg.eigh(stiffness, mass, eigvals_only=True)) / (2 * math.pi)
    both = np.sort(np.concatenate([resonance.natural_frequencies(setup, axis) for axis in ("x", "y")]))

    assert both == pytest.approx(whole, rel=1e-10)


def test_the_clamped_rotor_is_an_upper_bound(make_setup, motors):
    setup = crossed(make_setup, motors)
    clamped = resonance.rotor_clamped_frequency(setup, "y")

    assert clamped == pytest.approx(math.sqrt(2 * 6e4 / 0.65) / (2 * math.pi), rel=1e-12)
    assert resonance.natural_frequencies(setup, "y")[0] < clamped
    stiff = crossed(make_setup, motors, stiffness=1e3)
    assert resonance.natural_frequencies(stiff, "y")[0] == pytest.approx(
        resonance.rotor_clamped_frequency(stiff, "y"), rel=0.01
    )


@pytest.mark.parametrize("stiffness", [2e3, 2e4, 6e4, 5e5])
@pytest.mark.parametrize("mode", [0, 1])
@pytest.mark.parametrize("unequal", [False, True])
def test_stiffness_is_found_back_from_either_mode(make_setup, motors, stiffness, mode, unequal):
    setup = crossed(make_setup, motors, stiffness)
    if unequal:
        setup = replace(setup, motors=(motors["P"], replace(motors["P"], rotor_inertia=90e-7)))
    peak = float(resonance.natural_frequencies(setup, "x")[mode])

    assert resonance.solve_belt_stiffness(setup, "x", peak) == pytest.approx(stiffness, rel=1e-6)


def test_no_stiffness_explains_a_peak_between_the_limits(make_setup, motors):
    # between √(k_m/(μ + m)) and √(k_m/μ), on axis quantities; both limits computed by hand
    setup = crossed(make_setup, motors)
    radius = 0.04 / (2 * math.pi)
    spring, end = 2 * 50 * 0.5 / math.sqrt(2) / radius**2, 2 * 82e-7 / radius**2
    low = math.sqrt(spring / (end + 0.35)) / (2 * math.pi)
    high = math.sqrt(spring / end) / (2 * math.pi)
    found = resonance.solve_belt_stiffness(setup, "x", np.array([0.99 * low, 1.01 * low, 0.99 * high, 1.01 * high]))

    assert np.isnan(found).tolist() == [False, True, True, False]
    record = resonance.predict_resonance(setup, "x", measured=(low + high) / 2)
    assert "No belt stiffness explains" in record.message
    assert record.frequencies is None


def test_sensitivity_grows_towards_the_limit(make_setup, motors):
    setup = crossed(make_setup, motors)
    radius = 0.04 / (2 * math.pi)
    limit = math.sqrt(2 * 50 * 0.5 / math.sqrt(2) / radius**2 / (2 * 82e-7 / radius**2 + 0.35)) / (2 * math.pi)
    soft = resonance.stiffness_sensitivity(setup, "x", 0.1 * limit)
    near = resonance.predict_resonance(
        replace(setup, transmissions=(Transmission("belt", 0.04),) * 2), "x", None, 0.97 * limit
    )

    assert soft == pytest.approx(2.0, rel=0.05)  # a soft belt alone: f ~ √k
    assert near.sensitivity > 5
    assert "too sensitive" in near.message


def test_a_given_stiffness_that_contradicts_the_peak_is_named(make_setup, motors):
    setup = crossed(make_setup, motors, stiffness=6e4)
    peak = float(resonance.natural_frequencies(setup, "x")[0])

    assert resonance.predict_resonance(setup, "x", measured=peak).message is None
    contradicted = resonance.predict_resonance(setup, "x", measured=0.5 * peak)
    needed = float(resonance.solve_belt_stiffness(setup, "x", 0.5 * peak))
    assert f"contradicts the peak, which asks for {needed / 1000:.4g} N/mm" in contradicted.message
    assert contradicted.frequencies[0] == pytest.approx(0.5 * peak, rel=1e-9)


def test_no_stiffness_at_all_is_said(make_setup, motors):
    record = resonance.predict_resonance(make_setup(motors["P"], 2.5), "x")

    assert record.frequencies is None
    assert "No belt stiffness is given" in record.message
    assert record.rotor_alone[0] == pytest.approx(math.sqrt(50 * 0.5 / math.sqrt(2) / 82e-7) / (2 * math.pi), rel=1e-12)


class TestShift:
    def test_the_same_candidate_does_not_move(self, make_setup, motors):
        setup = crossed(make_setup, motors)

        assert resonance.predict_shift(setup, setup, "y", 60.0) == pytest.approx(0.0, abs=1e-9)

    def test_halving_the_current_lowers_a_60_hz_peak_by_a_few_hertz(self, make_setup, motors):
        setup = crossed(make_setup, motors, moving_mass=(0.65, 0.65))

        assert -8.0 < resonance.predict_shift(setup, setup, "x", 60.0, (None, 1.25)) < -0.5

    def test_equals_the_difference_of_two_eigenproblems(self, make_setup, motors):
        first, second = crossed(make_setup, motors), crossed(make_setup, motors)
        second = replace(second, motors=(replace(motors["P"], rotor_inertia=160e-7),) * 2)
        peaks = [float(resonance.natural_frequencies(setup, "x")[0]) for setup in (first, second)]

        assert resonance.predict_shift(first, second, "x", peaks[0]) == pytest.approx(peaks[1] - peaks[0], rel=1e-6)

    def test_draws_broadcast(self, make_setup, motors):
        draws = 1 + 0.02 * np.random.default_rng(3).uniform(-1, 1, (500, 1))
        heavier = crossed(make_setup, motors, moving_mass=(0.35 * draws, 0.65 * draws))
        other = replace(heavier, motors=(replace(motors["P"], holding_torque=0.4),) * 2)
        shifts = resonance.predict_shift(heavier, other, "x", np.full((500, 1), 60.0))
        single = crossed(make_setup, motors, moving_mass=(0.35 * draws[7, 0], 0.65 * draws[7, 0]))
        alone = resonance.predict_shift(single, replace(single, motors=other.motors), "x", 60.0)

        assert shifts.shape == (500, 1)
        assert shifts[7, 0] == pytest.approx(float(alone), rel=1e-9)
        assert np.ptp(shifts) > 0

    def test_an_impossible_peak_has_no_shift(self, make_setup, motors):
        setup = crossed(make_setup, motors)

        assert math.isnan(resonance.predict_shift(setup, setup, "x", 200.0))
