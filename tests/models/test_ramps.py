"""Ramps against kinematics worked by hand, an integration in small steps, and the moves that the simulation makes."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from generator.models import ramps
from generator.models.profile import find_reachable, plan_moves

SPEED, STROKE = st.floats(0.01, 5.0), st.floats(1e-3, 2.0)
ACCELERATION, JERK = st.floats(0.1, 500.0), st.one_of(st.none(), st.floats(1.0, 1e6))


def simulated(speed: float, acceleration: float, jerk: float | None, stroke: float | None = None):
    """The move as the simulation plans it."""
    return plan_moves(np.array([speed]), np.array([acceleration]), stroke, jerk)


def test_stroke_by_hand() -> None:
    # v²/a = 0.25/50 = 5 mm; with 20 ms at 0.5 m/s another 10 mm
    assert ramps.stroke_needed(0.5, 50.0) == pytest.approx(0.005)
    assert ramps.stroke_needed(0.5, 50.0, 0.02) == pytest.approx(0.015)


def test_a_ramp_that_never_reaches_its_acceleration() -> None:
    # 0.3 m/s with 1000 m/s³: √300 = 17.3205 m/s² at most, after √0.0003 s = 17.3205 ms of rising and as much of falling
    assert ramps.ramp_peak(0.3, 1000.0) == pytest.approx(17.3205, abs=5e-5)
    for acceleration in (17.3206, 28.0, 500.0):
        assert ramps.ramp_time(0.3, acceleration, 1000.0) == pytest.approx(0.0346410, abs=5e-8)
        assert ramps.stroke_needed(0.3, acceleration, jerk=1000.0) == pytest.approx(0.0103923, abs=5e-8)
        assert ramps.stopping_distance(0.3, acceleration, 1000.0) == pytest.approx(0.00519615, abs=5e-9)
    # at 10 m/s² it is reached: 0.03 + 0.01 s
    assert ramps.ramp_time(0.3, 10.0, 1000.0) == pytest.approx(0.04)


@pytest.mark.parametrize(("speed", "slowing", "path"), [(0.2, 1.0, 0.020), (0.15, 3.0, 0.00375), (0.1, 0.5, 0.010)])
def test_stopping_distance(speed: float, slowing: float, path: float) -> None:
    # v²/2a, worked by hand
    assert ramps.stopping_distance(speed, slowing) == pytest.approx(path, rel=1e-12)


@pytest.mark.parametrize(("speed", "acceleration", "jerk"), [(0.5, 20.0, 2000.0), (0.5, 50.0, 2000.0)])
def test_ramps_with_limited_jerk_as_integrated(speed: float, acceleration: float, jerk: float) -> None:
    """Jerk up, hold, jerk down until the speed is reached, integrated in small steps."""
    peak = min(acceleration, math.sqrt(speed * jerk))
    times = peak / jerk, speed / peak - peak / jerk
    step = 1e-6
    time = np.arange(0, 2 * times[0] + times[1], step)
    rate = np.minimum(np.minimum(jerk * time, peak), jerk * (2 * times[0] + times[1] - time))
    reached = np.cumsum(rate) * step
    way = reached.sum() * step

    assert reached[-1] == pytest.approx(speed, rel=1e-3)
    assert ramps.stopping_distance(speed, acceleration, jerk) == pytest.approx(way, rel=1e-3)
    assert ramps.stroke_needed(speed, acceleration, jerk=jerk) == pytest.approx(2 * way, rel=1e-3)


@settings(max_examples=200, deadline=None, derandomize=True)
@given(SPEED, ACCELERATION, JERK)
def test_ramps_are_those_of_the_simulated_moves(speed: float, acceleration: float, jerk: float | None) -> None:
    moves = simulated(speed, acceleration, jerk)

    assert ramps.ramp_time(speed, acceleration, jerk) == pytest.approx(moves.ramp_time[0], rel=1e-12)
    assert ramps.stopping_distance(speed, acceleration, jerk) == pytest.approx(moves.ramp_length[0], rel=1e-12)
    assert ramps.stroke_needed(speed, acceleration, 0.1, jerk) == pytest.approx(
        2 * moves.ramp_length[0] + 0.1 * speed, rel=1e-12
    )
    if jerk is not None:
        assert moves.acceleration[0] <= ramps.ramp_peak(speed, jerk) * (1 + 1e-12)


@settings(max_examples=200, deadline=None, derandomize=True)
@given(STROKE, SPEED, ACCELERATION, JERK)
def test_what_a_stroke_reaches_is_what_the_simulation_reaches(
    stroke: float, speed: float, acceleration: float, jerk: float | None
) -> None:
    fastest = ramps.stroke_speed(acceleration, stroke, jerk=jerk)
    for share, reaches in ((1 - 1e-6, True), (1 + 1e-6, False)):
        assert find_reachable(simulated(share * fastest, acceleration, jerk, stroke))[0] == reaches
    gentlest = ramps.lowest_acceleration(speed, stroke, jerk=jerk)
    if gentlest == math.inf:
        assert not find_reachable(simulated(speed, 1e9, jerk, stroke))[0]
    else:
        assert find_reachable(simulated(speed, gentlest * (1 + 1e-6), jerk, stroke))[0]
        assert not find_reachable(simulated(speed, gentlest * (1 - 1e-6), jerk, stroke))[0]


def test_stated_acceleration_on_a_stroke() -> None:
    # v_S = (a/2)(√(t² + 4S/a) − t), and a move at that speed uses the stroke up
    for hold in (0.0, 0.05, 0.4):
        speed = ramps.stroke_speed(10.0, 0.3, hold)
        assert speed == pytest.approx(5.0 * (math.sqrt(hold**2 + 0.12) - hold), rel=1e-12)
        assert ramps.stroke_needed(speed, 10.0, hold) == pytest.approx(0.3, rel=1e-12)
        assert ramps.lowest_acceleration(speed, 0.3, hold) == pytest.approx(10.0, rel=1e-9)
    # a triangular move of 40 mm at 1 m/s² peaks at 0.2 m/s and takes 0.4 s (kinematics worked by hand)
    assert ramps.stroke_speed(1.0, 0.04) == pytest.approx(0.2)
    assert ramps.lowest_acceleration(1.0, 0.3, 0.4) == math.inf


@pytest.mark.parametrize(("hold", "jerk"), [(0.0, 1000.0), (0.05, 1000.0), (0.4, 20.0), (0.05, 1e-15)])
def test_stated_acceleration_on_a_stroke_with_limited_jerk(hold: float, jerk: float) -> None:
    speed = ramps.stroke_speed(10.0, 0.3, hold, jerk)

    assert ramps.stroke_needed(speed, 10.0, hold, jerk) == pytest.approx(0.3, rel=1e-9)


def test_limited_jerk_without_a_root_finder() -> None:
    # where a is never reached, 2·v·√(v/j) = S: 10 mm with 1000 m/s³ let no move pass (0.005²·1000)^⅓ = 0.292402 m/s
    assert ramps.stroke_speed(500.0, 0.01, jerk=1000.0) == pytest.approx(0.292402, abs=5e-7)
    assert ramps.lowest_acceleration(0.2924, 0.01, jerk=1000.0) == pytest.approx(17.1, abs=0.1)
    assert ramps.lowest_acceleration(0.2925, 0.01, jerk=1000.0) == math.inf
    # and where it is, v/a + a/j = S/v: 0.3/12 + 0.012 = 0.037 s
    assert ramps.lowest_acceleration(0.3, 0.3 * 0.037, jerk=1000.0) == pytest.approx(12.0)


def test_time_of_moves() -> None:
    # 0.5 m/s at 50 m/s²: ramps of 10 ms and 2.5 mm each; the other 95 mm of 100 mm take 190 ms
    assert ramps.move_time(0.1, 0.5, 50.0) == pytest.approx(0.02 + 0.19)
    # with 10 000 m/s³ each ramp takes 5 ms longer and 1.25 mm more: 92.5 mm are left
    assert ramps.move_time(0.1, 0.5, 50.0, 10000.0) == pytest.approx(0.03 + 0.185)


def test_arrays_and_floats_agree() -> None:
    speeds, limits = np.linspace(0.0, 1.0, 5), np.linspace(10.0, 50.0, 5)
    for jerk in (None, 300.0):
        many = ramps.stroke_needed(speeds, limits, 0.1, jerk)
        assert many == pytest.approx(
            [ramps.stroke_needed(v, a, 0.1, jerk) for v, a in zip(speeds, limits, strict=True)]
        )
