"""The time-domain step against textbook relations: small swings, energy, pull-out, the equal-area limit."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from generator.models import stall
from generator.models.motor import pull_out_torque
from generator.models.plant import build_plant
from generator.models.simulation import advance, command_currents, set_pace, start_state
from generator.models.transient_limits import START
from generator.records.hardware import Drive, Supply, Transmission

SOURCE = Supply(1e7)
"""A voltage so high that the drive is an ideal current source."""
DAMPING = 150.0
"""Of the load ramp's swings [N·s/m]."""
RAMP_TIME = 0.4


def commanded(plant, way):
    """Commanded currents of one step [A], at a way (cells,) [m]."""
    return command_currents(plant, way[None])[0]


def rotor_inertia_at_shaft(setup):
    """All that turns with the shaft of a one-axis machine, by hand [kg·m²]."""
    radius = setup.transmissions[0].travel_per_turn / (2 * math.pi)
    return setup.motors[0].rotor_inertia + setup.moving_mass[0] * radius**2


def static_torque(setup):
    motor = setup.motors[0]
    return motor.holding_torque * setup.drive.current_peak / (math.sqrt(2) * motor.rated_current)


def test_small_swings_have_the_textbook_frequency(make_axis, motors):
    # f = (1/2π)·√(N_r·T_0/J): Acarnley, Stepping Motors, chapter 4; value from memory, relation computed here
    setup = make_axis(motors["P"], 2.5, supply=SOURCE)
    plant, step = build_plant(setup, (1.0,), elastic=False), 5e-6
    state, pace = start_state(plant, 1), set_pace(plant, np.array([step]))
    state.angle += 0.02 / 50
    angles = []
    for _ in range(40000):
        advance(plant, state, pace, commanded(plant, np.zeros(1)))
        angles.append(state.angle[0, 0])
    rises = np.flatnonzero((np.array(angles)[:-1] < 0) & (np.array(angles)[1:] >= 0))
    frequency = (len(rises) - 1) / ((rises[-1] - rises[0]) * step)
    expected = math.sqrt(50 * static_torque(setup) / rotor_inertia_at_shaft(setup)) / (2 * math.pi)

    assert len(rises) > 15
    assert frequency == pytest.approx(expected, rel=2e-3)
    assert max(np.abs(angles[-2000:])) == pytest.approx(0.02 / 50, rel=0.01)  # nothing damps it


@pytest.mark.parametrize("stiffness", [None, 3e4])
def test_energy_balances_in_a_run_without_loss(make_axis, motors, stiffness):
    # ∫v·i dt = change of ½L·i² + ½J·ω² + ½m·ẋ² + ½k·stretch²; resistance as good as none
    motor = replace(motors["P"], resistance=1e-6)
    setup = make_axis(motor, 2.5, transmissions=(Transmission("belt", 0.04, belt_stiffness=stiffness),))
    plant = build_plant(setup, (1.0,), elastic=stiffness is not None)
    steps, step = 4000, 1e-5
    state, pace = start_state(plant, 1), set_pace(plant, np.array([step]))
    fed, largest = 0.0, 0.0
    start = stored_energy(plant, state, setup)
    for number in range(1, steps + 1):
        before, middle = state.current.copy(), state.angle + 0.5 * step * state.speed
        speed = state.speed.copy()
        advance(plant, state, pace, commanded(plant, np.array([10.0 * (number * step) ** 2])))
        electrical = 50 * middle
        emf = plant.torque_constant * speed * np.array([-np.sin(electrical), np.cos(electrical)])
        voltage = emf + plant.inductance * (state.current - before) / step
        assert np.abs(voltage).max() <= 48.0 * (1 + 1e-4)
        fed += float((voltage * (state.current + before) / 2).sum()) * step
        largest = max(largest, abs(stored_energy(plant, state, setup) - start))

    assert largest > 0.1
    assert fed == pytest.approx(stored_energy(plant, state, setup) - start, abs=2e-3 * largest)


def stored_energy(plant, state, setup):
    """Energy in windings, rotor, carriage and belt [J], by hand."""
    windings = 0.5 * setup.motors[0].inductance * float((state.current**2).sum())
    if plant.stiffness is None:
        return windings + 0.5 * rotor_inertia_at_shaft(setup) * float(state.speed[0, 0]) ** 2
    radius = setup.transmissions[0].travel_per_turn / (2 * math.pi)
    stretch = radius * float(state.angle[0, 0]) - float(state.position[0, 0])
    carriage = 0.5 * setup.moving_mass[0] * float(state.velocity[0, 0]) ** 2
    rotor = 0.5 * setup.motors[0].rotor_inertia * float(state.speed[0, 0]) ** 2
    return windings + rotor + carriage + 0.5 * setup.transmissions[0].belt_stiffness * stretch**2


def test_an_acceleration_alone_is_lost_at_the_equal_area_limit(make_axis, motors):
    # 0.7246113538: equal-area criterion (Kimbark, Power System Stability, vol. I; value computed, source from memory)
    setup = make_axis(motors["P"], 2.5, supply=SOURCE)
    plant = build_plant(setup, (1.0,), elastic=False)
    radius = setup.transmissions[0].travel_per_turn / (2 * math.pi)
    shares = np.linspace(0.70, 0.75, 51)
    accelerations = shares * static_torque(setup) / (rotor_inertia_at_shaft(setup) / radius)
    step = 5e-6
    state, pace = start_state(plant, len(shares)), set_pace(plant, np.full(len(shares), step))
    lost = np.zeros(len(shares), dtype=bool)
    for number in range(1, 8001):
        way = accelerations * (number * step) ** 2 / 2
        advance(plant, state, pace, commanded(plant, way))
        lost |= (plant.gear * way - plant.teeth * state.angle)[0] > 1.5 * math.pi
    first = shares[np.flatnonzero(lost)[0]]

    assert np.all(lost[shares > first])
    assert first == pytest.approx(0.7246113538, rel=0.01)
    assert pytest.approx(0.7246113538, abs=1e-10) == START


@pytest.mark.parametrize("supply", [12.0, 24.0])
def test_a_slow_load_ramp_pulls_out_between_sine_and_square_wave(make_axis, motors, supply):
    """A shaft at constant speed under a load that creeps up.

    An ideal drive makes at least the sine's torque and at most the square wave's, whose fundamental is 4/π of it.
    At the corner of both limits its clipped current falls a little short: 0.95 of the closed form there.
    """
    setup = make_axis(motors["P"], 2.5, supply=Supply(supply), drive=Drive(2.5), viscous=(DAMPING,))
    plant, speeds = build_plant(setup, (1.0,), elastic=False), np.linspace(0.2, 1.3, 12)
    slowest, fastest = (
        pull_out_torque(motors["P"], 2.5, factor * supply, 50 * speeds / plant.radius[0, 0])
        for factor in (1.0, 4 / math.pi)
    )
    measured = plant.radius[0, 0] * pull_out_by_ramp(plant, speeds, slowest, 1.05 * fastest)

    assert np.all(measured > 0.95 * slowest)
    assert np.all(measured < 1.02 * fastest)
    assert np.any(measured > 1.1 * slowest)


def pull_out_by_ramp(plant, speeds, lowest, highest):
    """Largest load force [N] at which a shaft at each path speed still follows.

    Load torques rise from 0.9·lowest to highest; damping acts on the speed relative to the commanded one, so that it
    stills the swings and adds no load.
    """
    step = np.minimum(2e-5, 0.1 / (plant.gear[0, 0] * speeds))
    state, pace = start_state(plant, len(speeds)), set_pace(plant, step)
    state.speed[:] = speeds / plant.radius
    follows, held = np.ones(len(speeds), dtype=bool), np.zeros(len(speeds))
    for number in range(1, int(RAMP_TIME / step.min())):
        time = number * step
        risen = np.clip(time / RAMP_TIME * 1.2 - 0.2, 0.0, 1.0)
        force = (0.9 * lowest + risen * (highest - 0.9 * lowest)) / plant.radius[0, 0] * np.minimum(time / 0.02, 1.0)
        loaded = replace(plant, steady=(DAMPING * speeds - force)[None, :])
        advance(loaded, state, pace, commanded(plant, speeds * time))
        follows &= np.abs(plant.gear * speeds * time - plant.teeth * state.angle)[0] < 1.5 * math.pi
        held = np.where(follows, np.maximum(held, force), held)
    return held


def test_a_steady_force_hangs_on_the_shaft_from_the_start(make_axis, motors):
    # a hanging axis: at rest the lag is asin(F·r/T_0) and nothing swings
    setup = make_axis(motors["P"], 2.5, steady_force=(-15.0,))
    plant = build_plant(setup, (1.0,), elastic=False)
    state, pace = start_state(plant, 1), set_pace(plant, np.array([1e-5]))
    first = float(state.angle[0, 0])
    for _ in range(2000):
        advance(plant, state, pace, commanded(plant, np.zeros(1)))
    radius = setup.transmissions[0].travel_per_turn / (2 * math.pi)

    assert -50 * first == pytest.approx(math.asin(15.0 * radius / static_torque(setup)), rel=1e-12)
    assert float(state.angle[0, 0]) == pytest.approx(first, rel=1e-6)


def test_two_motors_on_one_axis_carry_twice(make_axis, motors):
    # equal motors that share a load are one motor of twice the torque and inertia
    twin = make_axis(motors["P"], 2.5, counts=(2,), moving_mass=(1.0,), friction=(3.0,))
    single = make_axis(motors["P"], 2.5, moving_mass=(0.5,), friction=(1.5,))
    first, second = (stall.trace_move(setup, (1.0,), 0.8, 40.0, 0.1) for setup in (twin, single))

    assert np.allclose(first.angle, second.angle, rtol=0, atol=1e-9)


def test_a_stiffer_and_stiffer_belt_becomes_a_rigid_machine(make_setup, motors):
    rigid = make_setup(motors["P"], 2.5, friction=(2.0, 2.0))
    plain = stall.trace_move(rigid, (1.0, 0.0), 0.4, 20.0, 0.03, refine=2)
    away = []
    for stiffness in (1e6, 1e7):
        belts = tuple(replace(t, belt_stiffness=stiffness) for t in rigid.transmissions)
        stiff = stall.trace_move(replace(rigid, transmissions=belts), (1.0, 0.0), 0.4, 20.0, 0.03)
        away.append(np.abs(50 * (np.interp(plain.time, stiff.time, stiff.angle[0]) - plain.angle[0])).max())

    assert away[1] < 0.15
    assert away[1] < 0.3 * away[0]
