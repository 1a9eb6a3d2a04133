"""Predicted limits, against a table computed twice elsewhere, a search over τ(a), and bench experience."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from generator.models import envelope, machine
from generator.models.transient_limits import ANY_TIMING, START
from generator.records.hardware import Motor, Supply, Transmission

ROOT = math.sqrt(0.5)
DIAGONAL = (ROOT, ROOT)
X, Y = (1.0, 0.0), (0.0, 1.0)

# motor, current [A], speed [m/s], T_po at 45° [N·m], then the limits at 45°, along x and along y [m/s²]: computed
# independently of this project, twice
REFERENCE = [
    ("P", 2.5, 0.2, 0.35355, 79.451, 134.694, 96.380),
    ("P", 2.5, 0.5, 0.35355, 79.451, 134.694, 96.380),
    ("P", 2.5, 1.0, 0.34381, 77.058, 134.694, 96.380),
    ("P", 2.5, 1.5, 0.25749, 55.862, 126.716, 90.671),
    ("P", 2.5 * math.sqrt(2), 0.2, 0.50000, 115.412, 195.659, 140.003),
    ("P", 2.5 * math.sqrt(2), 0.5, 0.50000, 115.412, 195.659, 140.003),
    ("P", 2.5 * math.sqrt(2), 1.0, 0.38728, 87.732, 195.142, 139.633),
    ("P", 2.5 * math.sqrt(2), 1.5, 0.25854, 56.119, 139.554, 99.857),
    ("Q", 2.0, 0.2, 0.31113, 69.033, 117.032, 83.742),
    ("Q", 2.0, 0.5, 0.20624, 43.276, 108.793, 77.846),
    ("Q", 2.0, 1.0, 0.10320, 17.976, 48.254, 34.528),
    ("Q", 2.0, 1.5, 0.06881, 9.531, 28.019, 20.049),
]


@pytest.mark.parametrize(("name", "current", "speed", "torque", "diagonal", "along_x", "along_y"), REFERENCE)
def test_reference_table(name, current, speed, torque, diagonal, along_x, along_y, motors, make_setup):
    setup = make_setup(motors[name], current)
    assert envelope.pull_out_torques(setup, DIAGONAL, speed)[0] == pytest.approx(torque, abs=5.1e-6)
    for direction, limit in ((DIAGONAL, diagonal), (X, along_x), (Y, along_y)):
        assert envelope.limit_lines(setup, direction, speed).static == pytest.approx(limit, abs=5.1e-4)


@pytest.mark.parametrize(("name", "current", "speed"), [("P", 2.5, 2.817), ("Q", 2.0, 1.597)])
def test_reference_top_speed(name, current, speed, motors, make_setup):
    found = envelope.predict_speed_limit(make_setup(motors[name], current), DIAGONAL, stroke=0.30)["static"]
    assert found.limit == pytest.approx(speed, abs=5.1e-4)
    assert found.bound_by == "stroke"
    assert found.torque > found.stroke


def test_nominal_limits_are_their_formulas(motors, make_setup):
    # (T_po − T_drag)/(ρ·f + J·u/ρ) with everything written out
    setup = make_setup(motors["P"], 2.5)
    lever, ratio = 0.04 / (2 * math.pi), math.sqrt(2)
    per_acceleration = lever * 1.0 / (2 * math.sqrt(2)) + 82e-7 * ratio / lever
    torque = 0.5 / math.sqrt(2)
    lines = envelope.limit_lines(setup, DIAGONAL, 0.2)
    assert lines.static == pytest.approx((torque - 0.03) / per_acceleration, rel=1e-12)
    assert lines.start == pytest.approx((START * torque - 0.03) / per_acceleration, rel=1e-12)
    assert lines.any_timing == pytest.approx(ANY_TIMING * torque / per_acceleration, rel=1e-12)


def test_bench_experience(motors, make_setup):
    # common practice, no source: on crossed belts at 48 V, 48 mm motors lost steps at 45° at about 139 m/s² (1.8°) and
    # 41 m/s² (0.9°) at 0.5 m/s, 70 and 21.5 m/s² at 1 m/s, top speeds 1.8 and 1.2 m/s on a limited stroke. P and Q are
    # plausible motors, not those: the right order, and each ratio within a factor 2
    p, q = make_setup(motors["P"], 2.5), make_setup(motors["Q"], 2.0)
    predicted = [
        tuple(float(envelope.limit_lines(setup, DIAGONAL, speed).static) for setup in (p, q)) for speed in (0.5, 1.0)
    ]
    tops = (envelope.predict_speed_limit(setup, DIAGONAL, stroke=0.30)["static"].limit for setup in (p, q))
    for (first, second), (seen_first, seen_second) in zip(
        [*predicted, tuple(tops)], [(139.0, 41.0), (70.0, 21.5), (1.8, 1.2)], strict=True
    ):
        assert first > second
        assert 0.5 < (first / second) / (seen_first / seen_second) < 2


# --- against a search over τ(a) -----------------------------------------------------------------------------------


def random_setup(rng, motors, make_setup):
    """A machine with unequal everything: losses, friction, steady forces, a motor map of any shape."""
    matrix = [((1.0, 0.0), (0.0, 1.0)), ((1.0, 1.0), (1.0, -1.0)), ((1.0, 0.4), (-0.3, 1.7))][rng.integers(3)]
    efficiency = rng.uniform(0.3, 1.0, 2)
    back = rng.uniform(0.0, 1.0, 2) * efficiency
    return make_setup(
        motors["P"],
        2.5,
        motor_map=matrix,
        moving_mass=tuple(rng.uniform(0.1, 2.0, 2)),
        friction=tuple(rng.uniform(0.0, 6.0, 2)),
        viscous=tuple(rng.uniform(0.0, 5.0, 2)),
        steady_force=tuple(rng.uniform(-15.0, 15.0, 2) * rng.integers(0, 2, 2)),
        motors=(motors["P"], motors["Q"]),
        counts=(int(rng.integers(1, 3)), 1),
        transmissions=tuple(
            Transmission("belt", travel, eff, bck, 1e-6, drag)
            for travel, eff, bck, drag in zip(
                rng.uniform(0.01, 0.06, 2), efficiency, back, rng.uniform(0.0, 0.04, 2), strict=True
            )
        ),
    )


def searched_limit(setup, direction, speed, factor):
    """Largest a on a fine grid up to which every motor holds at both ends of the move, straight from τ(a)."""
    grid = np.linspace(0.0, 600.0, 60001)
    holds = np.ones(grid.shape, dtype=bool)
    pairs = zip(
        machine.motor_loads(setup, direction, speed),
        envelope.pull_out_torques(setup, direction, speed),
        strict=True,
    )
    for load, torque in pairs:
        for sign in (1.0, -1.0):
            holds &= np.abs(machine.motor_torque(load, sign * grid)) <= factor * torque
    return float(grid[np.argmin(holds)]) if not holds.all() else math.inf


def test_limits_against_a_search_over_acceleration(motors, make_setup):
    rng = np.random.default_rng(3)
    reached = 0
    for _ in range(300):
        setup = random_setup(rng, motors, make_setup)
        angle = rng.uniform(0, 2 * math.pi)
        direction, speed = (math.cos(angle), math.sin(angle)), rng.uniform(0.0, 1.0)
        for line, factor in (("static", 1.0), ("start", START)):
            found = float(envelope.predict_acceleration_limit(setup, direction, speed, line))
            searched = searched_limit(setup, direction, speed, factor)
            reached += 0 < searched < math.inf
            assert found == pytest.approx(searched, abs=0.0101) or (found > 600 and searched == math.inf)
    assert reached > 300


def test_descent_is_limited_by_its_stop(motors, make_axis):
    setup = make_axis(motors["P"], 2.5, steady_force=(-20.0,), moving_mass=(2.0,))
    lever = 0.04 / (2 * math.pi)
    per_acceleration = lever * 2.0 + 82e-7 / lever
    torque = 0.5 / math.sqrt(2)
    hardest = (torque - 20.0 * lever) / per_acceleration
    for direction in ((1.0,), (-1.0,)):
        assert envelope.limit_lines(setup, direction, 0.1).static == pytest.approx(hardest, rel=1e-12)
        undamped = (ANY_TIMING * torque - 20.0 * lever) / per_acceleration
        assert envelope.limit_lines(setup, direction, 0.1).any_timing == pytest.approx(undamped, rel=1e-12)


def test_load_too_heavy_to_hold_gives_no_acceleration(motors, make_axis):
    setup = make_axis(motors["P"], 2.5, steady_force=(-80.0,))
    lines = envelope.limit_lines(setup, (1.0,), 0.1)
    assert (float(lines.static), float(lines.start), float(lines.any_timing)) == (0.0, 0.0, 0.0)


def test_nothing_to_accelerate_is_unbounded(make_axis):
    weightless = Motor(50, math.radians(1.8), 0.5, 2.5, 1.2, 1.5e-3, 0.0)
    lines = envelope.limit_lines(make_axis(weightless, 2.5, moving_mass=(0.0,)), (1.0,), 0.1)
    assert np.isposinf([lines.static, lines.start, lines.any_timing]).all()


# --- shape, order, symmetry, scaling ------------------------------------------------------------------------------


def test_array_equals_scalar(motors, make_setup):
    rng = np.random.default_rng(4)
    draws = {"holding_torque": rng.uniform(0.4, 0.6, (50, 1)), "inductance": rng.uniform(1e-3, 2e-3, (50, 1))}
    masses, friction = rng.uniform(0.3, 0.4, (50, 1)), rng.uniform(0.0, 5.0, (50, 1))
    speeds = np.linspace(0.0, 2.5, 401)

    def setup(pick):
        motor = replace(motors["P"], **{key: pick(value) for key, value in draws.items()})
        return make_setup(
            motor, 2.5, moving_mass=(pick(masses), 0.65), friction=(pick(friction), 3.0), viscous=(0.0, 2.0)
        )

    many = envelope.limit_lines(setup(lambda value: value), (0.6, 0.8), speeds)
    assert many.static.shape == many.start.shape == many.any_timing.shape == (50, 401)
    for row, column in zip(rng.integers(0, 50, 60), rng.integers(0, 401, 60), strict=True):
        one = envelope.limit_lines(
            setup(lambda value, row=row: float(value[row, 0])), (0.6, 0.8), float(speeds[column])
        )
        for line in envelope.LINES:
            assert getattr(many, line)[row, column] == pytest.approx(float(getattr(one, line)), rel=1e-12)


def test_one_line_alone_is_the_same(motors, make_setup):
    setup, speeds = make_setup(motors["Q"], 2.0, friction=(2.0, 3.0)), np.linspace(0.0, 2.0, 21)
    lines = envelope.limit_lines(setup, DIAGONAL, speeds)
    for line in envelope.LINES:
        alone = envelope.predict_acceleration_limit(setup, DIAGONAL, speeds, line)
        assert np.array_equal(alone, getattr(lines, line))


def test_lines_keep_their_order_and_fall_with_speed(motors, make_setup):
    speeds = np.linspace(0.0, 3.0, 301)
    for name, current in (("P", 2.5), ("Q", 2.0)):
        lines = envelope.limit_lines(make_setup(motors[name], current, friction=(2.0, 3.0)), DIAGONAL, speeds)
        assert np.all(lines.any_timing <= lines.start) and np.all(lines.start <= lines.static)
        for line in envelope.LINES:
            assert np.all(np.diff(getattr(lines, line)) <= 1e-9)


def test_opposite_and_mirrored_directions_are_equal(motors, make_setup):
    setup = make_setup(motors["P"], 2.5, friction=(2.0, 3.0), viscous=(1.0, 0.5))
    speeds = np.linspace(0.0, 2.0, 11)
    first = envelope.limit_lines(setup, (0.6, 0.8), speeds).static
    for direction in ((-0.6, -0.8), (0.6, -0.8), (-0.6, 0.8)):
        assert envelope.limit_lines(setup, direction, speeds).static == pytest.approx(first, rel=1e-12)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.floats(0.2, 5.0), st.floats(0.05, 2.0))
def test_same_machine_at_another_scale(factor, speed):
    # k times the mass, inertia, friction and torque: the same accelerations
    from_one = single(1.0)
    from_many = single(factor)
    assert envelope.limit_lines(from_many, (1.0,), speed).static == pytest.approx(
        float(envelope.limit_lines(from_one, (1.0,), speed).static), rel=1e-9
    )


def single(factor):
    """One axis whose masses, friction and torque are multiplied, the torque by current at equal voltage room."""
    from generator.records.hardware import Drive, Setup

    motor = Motor(50, math.radians(1.8), 0.5, 2.5, 1.2 / factor, 1.5e-3 / factor, 82e-7 * factor)
    rated = replace(motor, holding_torque=0.5 * factor, rated_current=2.5 * factor)
    return Setup(
        "one",
        ("x",),
        ((1.0,),),
        (0.5 * factor,),
        (2.0 * factor,),
        (0.0,),
        (0.0,),
        (None,),
        (rated,),
        (Transmission("belt", 0.04, drag_torque=0.01 * factor),),
        (1,),
        Supply(48.0),
        Drive(2.5 * factor),
    )


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.sampled_from(["supply", "mass", "friction", "torque"]), st.floats(1.0, 2.0), st.floats(0.0, 2.0))
def test_what_helps_helps(what, factor, speed):
    setup = single(1.0)
    motor = setup.motors[0]
    changed = {
        "supply": lambda: replace(setup, supply=Supply(48.0 * factor)),
        "mass": lambda: replace(setup, moving_mass=(0.5 / factor,)),
        "friction": lambda: replace(setup, friction=(2.0 / factor,)),
        "torque": lambda: replace(setup, motors=(replace(motor, inductance=motor.inductance / factor),)),
    }[what]()
    before, after = (envelope.limit_lines(one, (1.0,), speed) for one in (setup, changed))
    for line in envelope.LINES:
        assert getattr(after, line) >= getattr(before, line) * (1 - 1e-12)


# --- top speed ----------------------------------------------------------------------------------------------------


def test_speed_limits_meet_their_conditions(motors, make_setup):
    setup = make_setup(motors["Q"], 2.0, friction=(2.0, 3.0))
    found = envelope.predict_speed_limit(setup, DIAGONAL, acceleration=11.0)
    free = envelope.predict_speed_limit(setup, DIAGONAL, stroke=0.3, hold_time=0.02)
    for line in envelope.LINES:
        at_limit = envelope.predict_acceleration_limit(setup, DIAGONAL, found[line].torque, line)
        assert at_limit == pytest.approx(11.0, rel=1e-11)
        assert found[line].stroke == math.inf
        assert found[line].bound_by == "torque"
        speed = free[line].stroke
        used = envelope.predict_acceleration_limit(setup, DIAGONAL, speed, line)
        assert speed * speed / used + 0.02 * speed == pytest.approx(0.3, rel=1e-11)
        last = free[line].torque
        assert envelope.predict_acceleration_limit(setup, DIAGONAL, 0.999 * last, line) > 0
        assert envelope.predict_acceleration_limit(setup, DIAGONAL, 1.001 * last, line) == 0


def test_speed_limits_of_draws_equal_those_of_single_setups(motors, make_setup):
    torques = np.linspace(0.25, 0.6, 9)[:, None]
    setup = make_setup(replace(motors["Q"], holding_torque=torques), 2.0)
    for acceleration in (None, 30.0, 75.0):
        many = envelope.predict_speed_limit(setup, DIAGONAL, acceleration, 0.1)
        for row in range(9):
            motor = replace(motors["Q"], holding_torque=float(torques[row, 0]))
            one = envelope.predict_speed_limit(make_setup(motor, 2.0), DIAGONAL, acceleration, 0.1)
            for line in envelope.LINES:
                assert many[line].limit.shape == (9, 1)
                assert many[line].limit[row, 0] == pytest.approx(float(one[line].limit), rel=1e-11)
                assert many[line].bound_by[row, 0] == str(one[line].bound_by)


def test_acceleration_out_of_reach_gives_no_speed(motors, make_setup):
    found = envelope.predict_speed_limit(make_setup(motors["P"], 2.5), DIAGONAL, acceleration=100.0, stroke=0.3)
    assert found["static"].torque == found["static"].limit == 0.0
    assert found["static"].bound_by == "torque"


def test_machine_without_friction_has_no_top_speed_of_its_own(motors, make_axis):
    # V·L > λ·R: the pull-out torque fades as 1/ω and never ends
    found = envelope.predict_speed_limit(make_axis(motors["P"], 2.5), (1.0,))
    assert found["static"].limit == math.inf
    stopped = envelope.predict_speed_limit(make_axis(motors["P"], 2.5), (1.0,), stroke=0.3)["static"]
    assert 0 < stopped.limit < math.inf and stopped.bound_by == "stroke"


def test_limited_jerk_takes_its_share_of_the_stroke(motors, make_setup):
    setup = make_setup(motors["Q"], 2.0, jerk=500.0)
    # v·(v/11 + 11/500) = 0.3 m: 5.5·(√(0.022² + 1.2/11) − 0.022) = 1.69962 m/s
    stated = envelope.predict_speed_limit(setup, DIAGONAL, acceleration=11.0, stroke=0.3)
    free = envelope.predict_speed_limit(setup, DIAGONAL, stroke=0.05, hold_time=0.02)
    straight = envelope.predict_speed_limit(replace(setup, jerk=None), DIAGONAL, stroke=0.05, hold_time=0.02)
    for line in envelope.LINES:
        assert stated[line].stroke == pytest.approx(1.69962, abs=5e-6)
        speed = free[line].stroke
        used = min(envelope.predict_acceleration_limit(setup, DIAGONAL, speed, line), math.sqrt(500.0 * speed))
        # both ramps with the acceleration that they reach, and 20 ms at top speed
        assert speed * (speed / used + used / 500.0 + 0.02) == pytest.approx(0.05, rel=1e-9)
        assert speed < 0.9 * straight[line].stroke


def test_longer_stroke_never_slows(motors, make_setup):
    setup = make_setup(motors["Q"], 2.0)
    speeds = [float(envelope.predict_speed_limit(setup, DIAGONAL, stroke=s)["static"].limit) for s in (0.05, 0.2, 1, 9)]
    assert speeds == sorted(speeds)


# --- why ----------------------------------------------------------------------------------------------------------


def test_corner_is_where_the_torque_begins_to_fall(motors, make_setup):
    setup = make_setup(motors["P"], 2.5)
    corner = float(envelope.corner_tool_speed(setup, DIAGONAL))
    full = 0.5 / math.sqrt(2)
    assert envelope.pull_out_torques(setup, DIAGONAL, 0.9999 * corner)[0] == pytest.approx(full, rel=1e-12)
    assert envelope.pull_out_torques(setup, DIAGONAL, 1.001 * corner)[0] < full * (1 - 1e-6)


def test_square_wave_lies_above_beyond_the_corner_only(motors, make_setup):
    setup = make_setup(motors["P"], 2.5)
    square = envelope.square_wave_setup(setup)
    corner = float(envelope.corner_tool_speed(setup, DIAGONAL))
    below, beyond = 0.95 * corner, 3 * corner
    assert envelope.limit_lines(square, DIAGONAL, below).static == envelope.limit_lines(setup, DIAGONAL, below).static
    ratio = (
        envelope.pull_out_torques(square, DIAGONAL, beyond)[0] / envelope.pull_out_torques(setup, DIAGONAL, beyond)[0]
    )
    assert 1.2 < ratio < 1.4  # near 4/π


def test_a_ramp_is_told_in_swings_of_the_rotor(make_setup, motors):
    # one straight axis without friction: small swings about a held place have (1/2π)√(N_r·T_0/(J + m·ρ²))
    straight = {"motor_map": ((1.0, 0.0), (0.0, 1.0)), "transmissions": (Transmission("belt", 0.04),) * 2}
    setup = make_setup(motors["P"], 2.5, **straight)
    inertia = 82e-7 + 0.35 * (0.04 / math.tau) ** 2
    period = math.tau / math.sqrt(50 * 0.5 / math.sqrt(2) / inertia)

    assert envelope.ramp_swings(setup, X, 0.5, 50.0) == pytest.approx(0.01 / period, rel=1e-9)
    # with 1000 m/s³ it never reaches 50 m/s² and lasts 2·√(0.5/1000) = 44.7214 ms
    slow = replace(setup, jerk=1000.0)
    assert envelope.ramp_swings(slow, X, 0.5, 50.0) == pytest.approx(0.0447214 / period, rel=1e-6)
