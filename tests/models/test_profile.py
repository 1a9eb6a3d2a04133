"""Commanded moves against the integrals of constant jerk and constant acceleration, done numerically."""

from __future__ import annotations

import numpy as np
import pytest

from generator.models.profile import LONGEST_CRUISE, REST_TIME, find_reachable, plan_moves


def one(speed: float, acceleration: float, stroke: float | None, jerk: float | None = None):
    return plan_moves(np.array([speed]), np.array([acceleration]), stroke, jerk)


@pytest.mark.parametrize(
    ("distance", "speed", "acceleration", "time"),
    [(0.100, 0.2, 1.0, 0.700), (0.040, 0.2, 1.0, 0.400), (0.300, 0.15, 3.0, 2.050)],
)
def test_trapezoid_takes_the_time_of_elementary_kinematics(distance, speed, acceleration, time):
    # 2·v/a + (D − v²/a)/v, computed by hand; the capped cruise is put back
    moves = one(speed, acceleration, distance)
    shortened = (distance - speed**2 / acceleration) / speed - moves.cruise_time[0]

    assert moves.duration[0] - REST_TIME + max(shortened, 0.0) == pytest.approx(time, rel=1e-12)
    assert moves.cruise_time[0] <= LONGEST_CRUISE


@pytest.mark.parametrize("jerk", [None, 200.0, 2000.0, 1e6])
def test_position_is_the_integral_of_a_limited_acceleration(jerk):
    moves = one(0.5, 20.0, 0.06, jerk)
    time = np.linspace(0.0, float(moves.duration[0]), 40001)
    way = np.array([moves.position(np.array([instant]))[0] for instant in time[::100]])
    velocity = np.gradient(way, time[::100])
    length = moves.speed[0] * (moves.ramp_time[0] + moves.cruise_time[0])

    assert abs(way[0]) < 1e-15
    assert way[-1] == pytest.approx(length, rel=1e-12)
    assert way[-1] <= 0.06 * (1 + 1e-12)
    assert velocity.max() == pytest.approx(0.5, rel=1e-6)
    assert np.abs(np.gradient(velocity, time[::100])).max() <= 20.0 * (1 + 1e-6)


def test_limited_jerk_agrees_with_four_numerical_integrations():
    speed, acceleration, jerk = 0.8, 30.0, 1500.0
    moves = one(speed, acceleration, None, jerk)
    rise, ramp = acceleration / jerk, speed / acceleration + acceleration / jerk
    time = np.linspace(0, ramp, 200001)
    jerks = np.where(time < rise, jerk, np.where(time > ramp - rise, -jerk, 0.0))
    step = time[1]
    speeds = np.cumsum(np.cumsum(jerks) * step) * step
    way = np.cumsum(speeds) * step

    assert moves.ramp_time[0] == pytest.approx(ramp, rel=1e-12)
    for index in (20000, 60000, 100000, 150000, 200000):
        assert moves.position(time[index : index + 1])[0] == pytest.approx(way[index], rel=1e-3, abs=1e-7)


def test_a_low_speed_never_reaches_the_acceleration():
    moves = one(0.05, 30.0, None, 1500.0)

    assert moves.acceleration[0] == pytest.approx(np.sqrt(0.05 * 1500))
    assert moves.ramp_time[0] == pytest.approx(2 * np.sqrt(0.05 / 1500))


def test_reach_needs_both_ramps_on_the_stroke():
    speed = np.array([0.2, 0.2, 0.2])
    moves = plan_moves(speed, np.array([0.99, 1.0, 1.01]), 0.04)

    assert find_reachable(moves).tolist() == [False, True, True]


def test_phases_follow_one_another():
    moves = one(0.2, 10.0, 0.01)
    ramp, cruise = moves.ramp_time[0], moves.cruise_time[0]
    instants = [ramp / 2, ramp + cruise / 2, 1.5 * ramp + cruise, 2 * ramp + cruise + 1e-3, 10.0]

    assert [int(moves.phase(np.array([t]))[0]) for t in instants] == [1, 2, 3, 4, 4]
