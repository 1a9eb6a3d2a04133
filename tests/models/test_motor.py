"""Motor constants and pull-out torque, against the textbook formula, a scan, an optimiser and a drive library."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from generator.models import motor as model
from generator.records.hardware import Drive, Motor, Supply

WINDING = Motor(50, math.radians(1.8), 0.5, 0.02 * 100 / math.sqrt(2), 1.5, 3e-3, 54e-7)
"""N_r 50, λ 5 mWb, R 1.5 ohm, L 3 mH: the invented test machine of the tables below."""

# Voltage-fed pull-out torque at V = 24 V, N_r·λ·(V/|Z| − ω·λ·R/|Z|²): Acarnley, Stepping Motors, chapter 5 (from
# memory); the figures computed independently of this project. Full steps per second, N·m.
VOLTAGE_FED = {
    0: 4.000000,
    100: 3.696972,
    500: 1.959359,
    1000: 1.092831,
    2000: 0.564031,
    5000: 0.227715,
    10000: 0.114010,
    20000: 0.057024,
}
# With |i| ≤ 2 A added: exact intersection of both circles, computed independently. rad/s, N·m.
BOTH_LIMITS = {
    100.0: 0.500000,
    2812.7827: 0.500000,
    3000.0: 0.4956330,
    3500.0: 0.4629999,
    4000.0: 0.4234058,
    5000.0: 0.3525186,
    6000.0: 0.2974852,
    8000.0: 0.2235728,
    16000.0: 0.1119309,
}

HUGE = 1e6


def random_motors(count: int) -> list[tuple[Motor, float, float, float]]:
    """Motors with current [A], voltage [V] and electrical speed [rad/s], most of them about the corner."""
    rng = np.random.default_rng(20)
    found = []
    for _ in range(count):
        torque, rated, resistance = 10 ** rng.uniform([-1.3, -0.5, -0.5], [0.6, 0.8, 1.2])
        inductance = resistance * 10 ** rng.uniform(-3.7, -2.3)
        motor = Motor(50, math.radians(1.8), torque, rated, resistance, inductance, 1e-5)
        current, voltage = rated * rng.uniform(0.3, 1.6), 10 ** rng.uniform(0.9, 2.0)
        corner = float(model.corner_speed(motor, current, voltage)) or 1000.0
        found.append((motor, current, voltage, corner * 10 ** rng.uniform(-0.1, 0.5)))
    return found


def test_flux_linkage_gives_the_holding_torque_back(motors):
    # holding torque is stated with both phases at rated current: a vector √2 times as long as one phase's
    for motor in motors.values():
        both_phases = math.sqrt(2) * motor.rated_current
        assert motor.rotor_teeth * model.flux_linkage(motor) * both_phases == pytest.approx(motor.holding_torque)
        one_phase = model.torque_constant(motor) * motor.rated_current
        assert math.sqrt(2) * one_phase == pytest.approx(motor.holding_torque)  # Acarnley, chapter 4 (from memory)


def test_constants_worked_by_hand(motors):
    motor = motors["P"]
    assert model.flux_linkage(motor) == pytest.approx(2.828427125e-3, rel=1e-9)
    assert model.static_torque(motor, 2.5) == pytest.approx(0.3535533906, rel=1e-9)
    assert model.time_constant(motor) == pytest.approx(1.25e-3)
    assert model.back_emf(motor, -10.0) == pytest.approx(1.4142135624)


@pytest.mark.parametrize(("celsius", "ratio"), [(20, 1.0), (25, 1.01965), (60, 1.1572), (80, 1.2358), (100, 1.3144)])
def test_copper_resistance(celsius, ratio):
    # IEC 60028: 0.00393 per kelvin at 20 °C
    hot = Motor(50, math.radians(1.8), 0.5, 2.5, 1.0, 1e-3, 1e-5, winding_temperature=celsius + 273.15)
    assert model.hot_resistance(hot) == pytest.approx(ratio, rel=1e-9)


def test_copper_resistance_of_a_published_example():
    # 0.1 ohm at 20 °C is 0.11179 ohm at 50 °C (cabledatasheet.com, citing IEC 60028)
    hot = Motor(50, math.radians(1.8), 0.5, 2.5, 0.1, 1e-3, 1e-5, winding_temperature=323.15)
    assert model.hot_resistance(hot) == pytest.approx(0.11179, abs=1e-8)


@pytest.mark.parametrize(("inertia", "hertz"), [(5.4e-6, 306.294), (1e-5, 225.079), (5e-5, 100.658)])
def test_natural_frequency(inertia, hertz):
    # f = √(N_r·T/J)/2π with N_r·T = 20 N·m/rad: Acarnley, chapter 4 (from memory), figures computed independently
    motor = Motor(50, math.radians(1.8), 0.4 * math.sqrt(2), 1.0, 1.0, 1e-3, inertia)
    assert model.torque_stiffness(motor, 1.0) == pytest.approx(20.0)
    assert model.natural_frequency(motor, 1.0, inertia) == pytest.approx(hertz, abs=5e-4)
    softened = model.natural_frequency(motor, 1.0, inertia, load_share=0.25)
    assert softened / model.natural_frequency(motor, 1.0, inertia) == pytest.approx(0.983995, abs=1e-6)


def test_available_voltage_never_falls_below_zero():
    assert model.available_voltage(Supply(36.0, 0.1), Drive(1.4, 0.8)) == pytest.approx(36 - 0.14 - 0.8)
    assert model.available_voltage(Supply(36.0, 0.1), Drive(1.4, 0.8, sine_factor=4 / math.pi)) == pytest.approx(
        (36 - 0.14 - 0.8) * 4 / math.pi
    )
    assert model.available_voltage(Supply(2.0, 1.0), Drive(5.0)) == 0.0


@pytest.mark.parametrize(("full_steps", "torque"), VOLTAGE_FED.items())
def test_pull_out_torque_of_the_textbook(full_steps, torque):
    speed = 2 * math.pi * full_steps / 4
    assert model.pull_out_torque(WINDING, HUGE, 24.0, speed) == pytest.approx(torque, abs=6e-7)


@pytest.mark.parametrize(("speed", "torque"), BOTH_LIMITS.items())
def test_pull_out_torque_with_both_limits(speed, torque):
    assert model.pull_out_torque(WINDING, 2.0, 24.0, speed) == pytest.approx(torque, abs=6e-8)


def test_smaller_of_two_curves_is_not_the_envelope():
    # where the single limits cross, the smaller of both is 8.95 % too high (computed independently)
    naive = min(0.5, float(model.pull_out_torque(WINDING, HUGE, 24.0, 3553.0)))
    assert naive == pytest.approx(0.499915, abs=1e-6)
    assert model.pull_out_torque(WINDING, 2.0, 24.0, 3553.0) == pytest.approx(0.458860, abs=1e-6)


def test_corner_speed():
    # |(R·I + ω·λ) + jωL·I| = V at 2812.7827 rad/s (computed independently)
    assert model.corner_speed(WINDING, 2.0, 24.0) == pytest.approx(2812.7827, abs=5e-5)
    assert model.corner_speed(WINDING, 20.0, 24.0) == 0.0


def feasible(motor, current, voltage, speed, i_d, i_q):
    """The two limits, written as the machine's equations have them."""
    flux = motor.holding_torque / (math.sqrt(2) * motor.rotor_teeth * motor.rated_current)
    vector = i_d + 1j * i_q
    terminal = (motor.resistance + 1j * speed * motor.inductance) * vector + 1j * speed * flux
    return (np.abs(vector) <= current) & (np.abs(terminal) <= voltage)


def scanned_current(motor, current, voltage, speed):
    """Largest i_q ≥ 0 [A] on a grid over the current plane that closes in on its best point."""
    steps = np.linspace(-1.0, 1.0, 401)
    best, half = 0j, current
    for _ in range(20):
        i_d, i_q = best.real + half * steps[None, :], best.imag + half * steps[:, None]
        height = np.where(feasible(motor, current, voltage, speed, i_d, i_q), i_q, -np.inf)
        row, column = np.unravel_index(np.argmax(height), height.shape)
        if np.isfinite(height[row, column]):
            best = complex(i_d[0, column], i_q[row, 0])
        half /= 1.6
    return max(0.0, best.imag)


def test_pull_out_torque_against_a_scan_of_the_current_plane():
    cases = [*random_motors(24), *((WINDING, 2.0, 24.0, speed) for speed in BOTH_LIMITS)]
    for motor, current, voltage, speed in cases:
        scanned = scanned_current(motor, current, voltage, speed)
        found = model.pull_out_torque(motor, current, voltage, speed) / model.torque_constant(motor)
        assert scanned <= found * (1 + 1e-12)
        assert found == pytest.approx(scanned, abs=1e-4 * current)


def optimised_current(motor, current, voltage, speed):
    """Largest i_q [A] that a general constrained optimiser finds from several starts; None where it finds none."""
    from scipy.optimize import minimize

    flux = motor.holding_torque / (math.sqrt(2) * motor.rotor_teeth * motor.rated_current)
    impedance = motor.resistance + 1j * speed * motor.inductance

    def room(x):
        vector = current * (x[0] + 1j * x[1])
        terminal = impedance * vector + 1j * speed * flux
        return [1 - x[0] ** 2 - x[1] ** 2, (voltage**2 - abs(terminal) ** 2) / (voltage * abs(impedance) * current)]

    shorted = -1j * speed * flux / impedance / current
    found = []
    for begin in (shorted, shorted / 2, -0.5 + 0.1j, 0.5j):
        limits = {"type": "ineq", "fun": room}
        best = minimize(lambda x: -x[1], [begin.real, begin.imag], constraints=limits, options={"ftol": 1e-12})
        if best.success and min(room(best.x)) > -1e-9:
            found.append(float(best.x[1]) * current)
    return max(found, default=None)


def test_pull_out_torque_against_a_general_optimiser():
    met = 0
    for motor, current, voltage, speed in random_motors(80):
        expected = optimised_current(motor, current, voltage, speed)
        met += expected is not None
        torque = max(0.0, expected or 0.0) * model.torque_constant(motor)
        assert model.pull_out_torque(motor, current, voltage, speed) == pytest.approx(torque, rel=2e-6, abs=1e-9)
    assert met > 50  # the others have no current within both limits


def library_torque(angle: float, speed_mech: float) -> float:
    """Settled torque of the library's synchronous machine at a load angle, scaled to two phases [N·m]."""
    from motulator.drive.model import SynchronousMachine
    from scipy.integrate import solve_ivp

    pars = SimpleNamespace(n_p=50, R_s=1.5, L_d=3e-3, L_q=3e-3, L_s=3e-3, psi_f=5e-3)
    machine = SynchronousMachine(pars)
    machine.inp.w_M = speed_mech
    voltage = 24.0 * np.exp(1j * angle)

    def slope(_time, state):
        # rotor coordinates: the library's own turning frame held still, its flux equation left as it is
        machine.state.psi_s, machine.state.exp_j_theta_m = complex(state[0], state[1]), complex(1)
        machine.inp.u_ss = voltage
        machine.set_outputs(None)
        flux = machine.rhs()[0]
        return [flux.real, flux.imag]

    end = solve_ivp(slope, (0.0, 0.06), [5e-3, 0.0], method="DOP853", rtol=1e-10, atol=1e-13).y[:, -1]
    machine.state.psi_s = complex(end[0], end[1])
    return 2 / 3 * float(machine.tau_M)


@pytest.mark.parametrize("speed_mech", [1.0, 10.0, 20.0, 40.0, 80.0])
def test_pull_out_torque_against_a_machine_drive_library(speed_mech):
    # motulator 0.5.0 (MIT): peak-valued three-phase vectors, so a two-phase machine has two thirds of its torque
    best = math.pi / 2 + math.atan(50 * speed_mech * 3e-3 / 1.5)
    angles = best + np.radians([-6.0, -3.0, 0.0, 3.0, 6.0])
    torques = [library_torque(angle, speed_mech) for angle in angles]
    square, slope, height = np.polyfit(angles - best, torques, 2)
    assert square < 0
    top = height - slope**2 / (4 * square)
    assert model.pull_out_torque(WINDING, HUGE, 24.0, 50 * speed_mech) == pytest.approx(top, rel=1e-4)


def test_standstill_is_ohms_law(motors):
    motor = motors["P"]
    constant = model.torque_constant(motor)
    assert model.pull_out_torque(motor, 2.5, 48.0, 0.0) == pytest.approx(constant * 2.5, rel=1e-12)
    assert model.pull_out_torque(motor, 2.5, 1.2, 0.0) == pytest.approx(constant * 1.0, rel=1e-12)
    assert model.pull_out_torque(motor, 2.5, 0.0, 0.0) == 0.0


def test_discs_that_do_not_meet_give_no_torque(motors):
    # back-EMF 2.83 V at 1000 rad/s against 0.5 V and 0.1 A through 1.9 ohm
    assert model.pull_out_torque(motors["P"], 0.1, 0.5, 1000.0) == 0.0


def test_very_low_inductance_follows_the_resistive_line():
    # L → 0: i_q = (V − ωλ)/R, down to nothing at the speed whose back-EMF is V
    motor = Motor(50, math.radians(1.8), 0.5, 2.5, 1.2, 1e-12, 1e-5)
    flux = model.flux_linkage(motor)
    for share in (0.9, 0.95, 0.99):
        torque = model.pull_out_torque(motor, 100.0, 48.0, share * 48.0 / flux)
        assert torque == pytest.approx(50 * flux * (1 - share) * 48.0 / 1.2, rel=1e-6)
    assert model.pull_out_torque(motor, 100.0, 48.0, 1.001 * 48.0 / flux) == 0.0


def test_array_equals_scalar():
    cases = random_motors(60)
    keys = ("holding_torque", "rated_current", "resistance", "inductance")
    columns = {key: np.array([[getattr(case[0], key)] for case in cases]) for key in keys}
    motor = Motor(50, math.radians(1.8), rotor_inertia=1e-5, **columns)
    current, voltage = (np.array([[case[k]] for case in cases]) for k in (1, 2))
    speeds = np.geomspace(1.0, 3e4, 700)
    many = model.pull_out_torque(motor, current, voltage, speeds)
    assert many.shape == (60, 700)
    rng = np.random.default_rng(1)
    for row, column in zip(rng.integers(0, 60, 200), rng.integers(0, 700, 200), strict=True):
        one = model.pull_out_torque(cases[row][0], cases[row][1], cases[row][2], speeds[column])
        assert many[row, column] == pytest.approx(float(one), rel=1e-13, abs=1e-300)


wide = {"min_value": -6.0, "max_value": 6.0}


@settings(max_examples=200, deadline=None, derandomize=True)
@given(st.tuples(*(st.floats(**wide) for _ in range(6))), st.booleans())
def test_never_nan_never_beyond_the_current(exponents, standing):
    torque, rated, resistance, inductance, current, voltage = (10.0**exponent for exponent in exponents)
    motor = Motor(50, math.radians(1.8), torque, rated, resistance, inductance * 1e-3, 1e-5)
    speeds = np.zeros(4) if standing else np.geomspace(1e-3, 1e7, 400)
    found = model.pull_out_torque(motor, current, voltage, speeds)
    assert np.all(np.isfinite(found)) and np.all(found >= 0)
    top = model.static_torque(motor, min(current, voltage / resistance))
    assert np.all(found <= top * (1 + 1e-9))
    assert np.all(np.diff(found) <= top * 1e-9)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.integers(0, 399), st.floats(1.0, 3.0))
def test_more_voltage_or_current_never_hurts(index, factor):
    motor, current, voltage, speed = ALL[index]
    torque = model.pull_out_torque(motor, current, voltage, speed)
    assert model.pull_out_torque(motor, current, factor * voltage, speed) >= torque * (1 - 1e-12)
    assert model.pull_out_torque(motor, factor * current, voltage, speed) >= torque * (1 - 1e-12)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.integers(0, 399), st.floats(0.1, 10.0))
def test_voltage_speed_and_resistance_scale_together(index, factor):
    # v = (R + jωL)·i + jωλ: k times the voltage, speed and resistance leave the currents as they are
    motor, current, voltage, speed = ALL[index]
    stiffer = Motor(
        50,
        motor.step_angle,
        motor.holding_torque,
        motor.rated_current,
        factor * motor.resistance,
        motor.inductance,
        motor.rotor_inertia,
    )
    expected = model.pull_out_torque(motor, current, voltage, speed)
    scaled = model.pull_out_torque(stiffer, current, factor * voltage, factor * speed)
    assert scaled == pytest.approx(expected, rel=1e-9, abs=1e-9 * model.static_torque(motor, current))


ALL = random_motors(400)
