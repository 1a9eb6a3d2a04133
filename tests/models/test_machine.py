"""Kinematics, mass and friction, against hand-worked machines, virtual work and textbook screws."""

from __future__ import annotations

import math

import numpy as np
import pytest

from generator.models import machine
from generator.records.candidate import _back_efficiency
from generator.records.hardware import Motor, Transmission

ROOT = math.sqrt(0.5)
DIAGONAL = (ROOT, ROOT)
MATRICES = {
    "straight": ((1.0, 0.0), (0.0, 1.0)),
    "crossed belts": ((1.0, 1.0), (1.0, -1.0)),
    "skew": ((1.0, 0.4), (-0.3, 1.7)),
}


def test_crossed_belts_at_45_degrees_turn_one_motor_alone(motors, make_setup):
    setup = make_setup(motors["P"], 2.5)
    assert machine.belt_ratios(setup, DIAGONAL) == pytest.approx([math.sqrt(2), 0.0], abs=0)
    assert machine.belt_ratios(setup, (1.0, 0.0)) == pytest.approx([1.0, 1.0])
    assert machine.electrical_speeds(setup, DIAGONAL, 1.0) == pytest.approx(
        [50 * math.sqrt(2) * 2 * math.pi / 0.04, 0.0]
    )


def test_resting_motor_carries_the_difference_of_the_masses(motors, make_setup):
    resting = machine.motor_loads(make_setup(motors["P"], 2.5), DIAGONAL, 0.5)[1]
    assert resting.turns == 0
    assert resting.inertial_force == pytest.approx((0.35 - 0.65) / (2 * math.sqrt(2)), rel=1e-12)
    radius = 0.04 / (2 * math.pi)
    assert machine.motor_torque(resting, 10.0) == pytest.approx(resting.inertial_force * 10.0 * radius)


def test_equal_masses_leave_the_resting_motor_alone(motors, make_setup):
    setup = make_setup(motors["P"], 2.5, moving_mass=(0.5, 0.5))
    assert machine.motor_loads(setup, DIAGONAL, 0.5)[1].inertial_force == pytest.approx(0.0, abs=1e-16)


def test_full_step_and_electrical_rates(motors, make_axis):
    # 40 mm per turn, 200 full steps per turn, 100 mm/s: 500 full steps/s, electrical frequency a quarter, 125 Hz
    setup = make_axis(motors["P"], 2.5)
    assert machine.shaft_speeds(setup, (1.0,), 0.1)[0] == pytest.approx(2 * math.pi * 2.5)
    assert machine.electrical_speeds(setup, (-1.0,), 0.1)[0] == pytest.approx(2 * math.pi * 125)


def test_reflected_inertia_and_inertia_matching(make_axis):
    # 20 teeth of 2 mm, 0.5 kg, 5.4e-6 kg·m², 0.3 N·m: 74.41715 m/s² (statics worked independently)
    motor = Motor(50, math.radians(1.8), 0.5, 2.5, 1.2, 1.5e-3, 5.4e-6)
    load = machine.motor_loads(make_axis(motor, 2.5), (1.0,), 0.0)[0]
    assert load.radius == pytest.approx(6.3661977e-3, rel=1e-7)
    assert load.radius**2 * 0.5 == pytest.approx(2.0264237e-5, rel=1e-7)
    per_acceleration, constant = machine.torque_branch(load, True)
    assert constant == 0.0
    assert 0.3 / per_acceleration == pytest.approx(74.41715, rel=1e-7)
    # the best radius is √(J/m): a little more or less asks for more torque
    best = math.sqrt(5.4e-6 / 0.5)
    assert best == pytest.approx(3.286335e-3, rel=1e-6)
    torques = []
    for radius in (0.99 * best, best, 1.01 * best):
        setup = make_axis(motor, 2.5, transmissions=(Transmission("travel", 2 * math.pi * radius),))
        torques.append(machine.motor_torque(machine.motor_loads(setup, (1.0,), 0.0)[0], 10.0))
    assert torques[1] < min(torques[0], torques[2])


@pytest.mark.parametrize("name", MATRICES)
@pytest.mark.parametrize("degrees", [0.0, 30.0, 45.0, 100.0, 215.0])
def test_virtual_work(name, degrees, motors, make_setup):
    # what the motors give, Σ τ·ω, is what the masses, frictions and steady forces take (d'Alembert, virtual work)
    setup = make_setup(
        motors["P"],
        2.5,
        motor_map=MATRICES[name],
        friction=(2.0, 3.0),
        viscous=(4.0, 1.0),
        steady_force=(-1.5, 0.7),
        motors=(motors["P"], motors["Q"]),
        transmissions=(Transmission("belt", 0.04, drag_torque=0.02), Transmission("belt", 0.03, shaft_inertia=2e-6)),
    )
    direction = np.array([math.cos(math.radians(degrees)), math.sin(math.radians(degrees))])
    speed, acceleration = 0.7, 12.0
    loads = machine.motor_loads(setup, tuple(direction), speed)
    torques = np.array([machine.motor_torque(load, acceleration) for load in loads])
    shafts = np.array(machine.shaft_speeds(setup, tuple(direction), speed))
    masses, inertias = np.array(setup.moving_mass), np.array([82e-7, 82e-7 + 2e-6])
    radii = np.array([0.04, 0.03]) / (2 * math.pi)
    kinetic = direction @ (masses * direction) * speed * acceleration
    turning = inertias @ (shafts * np.array(machine.belt_ratios(setup, direction)) * acceleration / radii)
    friction = np.array([2.0, 3.0]) @ np.abs(direction) * speed + np.array([4.0, 1.0]) @ direction**2 * speed**2
    steady = -np.array([-1.5, 0.7]) @ direction * speed
    drag = 0.02 * abs(shafts[0])
    assert torques @ shafts == pytest.approx(kinetic + turning + friction + steady + drag, rel=1e-12)


def test_mirrored_directions_ask_for_mirrored_torques(motors, make_setup):
    setup = make_setup(motors["P"], 2.5, friction=(2.0, 3.0))
    for direction in ((1.0, 0.0), (0.6, 0.8), DIAGONAL):
        forth = [machine.motor_torque(load, 9.0) for load in machine.motor_loads(setup, direction, 0.3)]
        back = [
            machine.motor_torque(load, 9.0) for load in machine.motor_loads(setup, (-direction[0], -direction[1]), 0.3)
        ]
        assert back == pytest.approx([-torque for torque in forth], rel=1e-12)


def test_efficiency_counts_against_the_motor_that_drives_and_for_the_one_that_is_driven(motors, make_axis):
    transmission = Transmission("screw", 0.008, efficiency=0.5, back_efficiency=0.25)
    setup = make_axis(motors["P"], 2.5, transmissions=(transmission,))
    load = machine.motor_loads(setup, (1.0,), 0.1)[0]
    lever = 0.008 / (2 * math.pi)
    rotor = 82e-7 / lever
    assert machine.motor_torque(load, 10.0) == pytest.approx(10 * (0.5 * lever / 0.5 + rotor))
    assert machine.motor_torque(load, -10.0) == pytest.approx(-10 * (0.5 * lever * 0.25 + rotor))


def test_steady_force_is_lifted_by_the_motor_and_lowers_itself(motors, make_axis):
    # a 0.5 kg head on a vertical axis: steady force −4.9 N along +axis
    setup = make_axis(motors["P"], 2.5, steady_force=(-4.9,))
    lever = 0.04 / (2 * math.pi)
    up, down = (machine.motor_loads(setup, (sign,), 0.1)[0] for sign in (1.0, -1.0))
    assert machine.motor_torque(up, 0.0) == pytest.approx(4.9 * lever)
    assert machine.motor_torque(down, 0.0) == pytest.approx(4.9 * lever)  # still held up while going down
    assert up.force == up.steady_force == pytest.approx(4.9)
    assert up.turns == 1 and down.turns == -1


def test_equal_motors_share_the_load_and_keep_their_own_inertia(motors, make_axis):
    one = machine.motor_loads(make_axis(motors["P"], 2.5, friction=(3.0,)), (1.0,), 0.1)[0]
    two = machine.motor_loads(make_axis(motors["P"], 2.5, friction=(3.0,), counts=(2,)), (1.0,), 0.1)[0]
    assert two.inertial_force == pytest.approx(one.inertial_force / 2)
    assert two.force == pytest.approx(one.force / 2)
    assert two.inertia == one.inertia


def test_iron_drag_grows_with_speed_on_turning_motors_only(make_setup):
    motor = Motor(50, math.radians(1.8), 0.5, 2.5, 1.2, 1.5e-3, 82e-7, iron_drag=1e-4)
    loads = machine.motor_loads(make_setup(motor, 2.5), DIAGONAL, 1.0)
    shaft = math.sqrt(2) / (0.04 / (2 * math.pi))
    assert machine.motor_torque(loads[0], 0.0) == pytest.approx(0.03 + 1e-4 * shaft)
    assert machine.motor_torque(loads[1], 0.0) == 0.0


def test_ideal_screw_force():
    # F = 2π·η·T/l: 0.1 N·m on a lead of 8 mm without loss pushes 78.53982 N
    assert 0.1 / machine.shaft_radius(Transmission("screw", 0.008)) == pytest.approx(78.53982, rel=1e-7)


def thread_efficiency(lead, mean_diameter, friction):
    """Of a square thread that lifts its load: tan λ/tan(λ + φ), Shigley's Mechanical Engineering Design, chapter 8."""
    slope = lead / (math.pi * mean_diameter)
    return slope / math.tan(math.atan(slope) + math.atan(friction))


def test_power_screw_of_the_textbook():
    # Shigley's Mechanical Engineering Design, Example 8-1 (26.18 N·m, 0.311; printed values from memory): 6.4 kN,
    # mean diameter 30 mm, lead 8 mm, friction 0.08 in thread and collar of 40 mm
    efficiency = thread_efficiency(8e-3, 30e-3, 0.08)
    ideal = 6400 * machine.shaft_radius(Transmission("screw", 8e-3))
    collar = 0.08 * 6400 * 40e-3 / 2
    assert efficiency == pytest.approx(0.511311, abs=5e-7)
    assert ideal / efficiency == pytest.approx(15.936955, abs=5e-7)
    assert ideal / efficiency + collar == pytest.approx(26.18, abs=5e-3)
    assert ideal / (ideal / efficiency + collar) == pytest.approx(0.311, abs=5e-4)
    assert math.degrees(math.atan(8 / (math.pi * 30))) == pytest.approx(4.851787, abs=1e-6)


def test_screw_that_just_locks_itself_wastes_more_than_half():
    # at f = tan λ the efficiency is (1 − tan²φ)/2, and the load can no longer drive: 2 − 1/η is then below 0
    friction = 0.1
    efficiency = thread_efficiency(math.pi * 7e-3 * friction, 7e-3, friction)
    assert efficiency == pytest.approx((1 - friction**2) / 2, rel=1e-12)
    assert _back_efficiency("screw", efficiency) == 0.0


def test_a_loaded_screw_drives_back_about_as_its_thread_does():
    # exact: tan(λ − φ)/tan λ; 2 − 1/η lies 2·tan²φ·(1 + tan²λ)/(1 − tan²φ·tan²λ) below it (worked by hand)
    lead, friction = 8e-3, 0.1
    slope = lead / (math.pi * 7e-3)
    exact = math.tan(math.atan(slope) - math.atan(friction)) / slope
    below = 2 * friction**2 * (1 + slope**2) / (1 - (friction * slope) ** 2)
    assert _back_efficiency("screw", thread_efficiency(lead, 7e-3, friction)) == pytest.approx(exact - below)


def test_array_equals_scalar(motors, make_setup):
    speeds = np.linspace(0.0, 2.0, 7)
    masses = np.array([[0.3], [0.35], [0.4]])
    many = make_setup(motors["P"], 2.5, moving_mass=(masses, 0.65), friction=(2.0, 3.0), viscous=(4.0, 0.0))
    loads = machine.motor_loads(many, (0.6, 0.8), speeds)
    for row, mass in enumerate(masses[:, 0]):
        for column, speed in enumerate(speeds):
            one = make_setup(motors["P"], 2.5, moving_mass=(mass, 0.65), friction=(2.0, 3.0), viscous=(4.0, 0.0))
            for load, single in zip(loads, machine.motor_loads(one, (0.6, 0.8), speed), strict=True):
                torques = np.broadcast_to(machine.motor_torque(load, 5.0), (3, 7))
                assert torques[row, column] == pytest.approx(float(machine.motor_torque(single, 5.0)), rel=1e-13)
