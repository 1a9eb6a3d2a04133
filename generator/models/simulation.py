"""Owns the step of the time-domain model: motors, their currents and the carriage, many moves side by side.

Per phase L·di/dt = v − R·i − e with e_a = −N·λ·ω·sin(N·θ) and e_b = N·λ·ω·cos(N·θ); torque N·λ·(−i_a·sin + i_b·cos).
The regulator is ideal: a phase carries its commanded current wherever ±V can hold it there, else it gets the whole ±V.
Never chooses moves and never judges them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from generator.models.plant import FRICTION_SPEED, Plant, apply
from generator.models.profile import REST_TIME, Array, Moves

BLOCK = 16
"""Steps of one length, between two looks at which moves are finished or lost."""
STEP_ANGLE = 0.1
"""Electrical angle that a command or a rotor may cover in one step [rad]."""


@dataclass
class State:
    """What a step changes, for moves side by side.

    angle [rad], speed [rad/s] and load [N·m, what the machine asked of a shaft at the last step] are (motors, cells);
    current [A] is (2, motors, cells); position [m] and velocity [m/s] of the carriage on its belts are (axes, cells).
    """

    angle: Array
    speed: Array
    load: Array
    current: Array
    position: Array
    velocity: Array

    def take(self, chosen: NDArray[np.intp] | slice) -> State:
        """The chosen cells only."""
        return State(*(np.ascontiguousarray(values[..., chosen]) for values in vars(self).values()))


@dataclass(frozen=True)
class Pace:
    """Step length [s] (cells,), and per phase the decay exp(−R·h/L), gain (1 − decay)/R and reach V·gain [A]."""

    step: Array
    decay: Array
    gain: Array
    reach: Array


def slowest_step(plant: Plant) -> Array:
    """Longest step [s] at rest: 1/20 of the fastest swing's radian, 1/10 of L/R, half the decay of dry friction."""
    electric = 0.1 * (plant.inductance / plant.resistance).min(axis=0)
    friction = 0.5 / np.maximum(plant.friction_rate, 1e-9)
    return np.minimum(np.minimum(0.05 / plant.frequency, electric), friction)


def choose_step(plant: Plant, moves: Moves, time: Array, shaft_speed: Array) -> Array:
    """Step of the next block [s], (cells,): neither the command nor a rotor covers more than STEP_ANGLE in it.

    time [s] (cells,) and shaft_speed [rad/s] (motors, cells) are those at the block's start.
    """
    slowest = slowest_step(plant)
    rise = moves.acceleration * (BLOCK * slowest)
    command = np.abs(plant.gear).max(axis=0) * np.minimum(moves.speed_bound(time) + rise, moves.speed)
    rotor = (plant.teeth * np.abs(shaft_speed)).max(axis=0)
    step = np.minimum(slowest, STEP_ANGLE / np.maximum(command, rotor))
    return np.minimum(step, (moves.duration - time) / BLOCK)


def estimate_steps(plant: Plant, moves: Moves) -> Array:
    """Steps that moves will take if no rotor runs away, (cells,)."""
    slowest = slowest_step(plant)
    per_length = np.abs(plant.gear).max(axis=0) / STEP_ANGLE
    slow = np.minimum(moves.speed, 1 / (per_length * slowest))  # up to here the step stays at its longest
    ramp = slow / moves.acceleration / slowest + per_length * (moves.speed**2 - slow**2) / (2 * moves.acceleration)
    cruise = moves.cruise_time * np.maximum(per_length * moves.speed, 1 / slowest)
    return 2 * ramp + cruise + REST_TIME / slowest


def set_pace(plant: Plant, step: Array) -> Pace:
    """Prepare what a phase does within a step of given length [s] (cells,)."""
    gain = -np.expm1(-plant.resistance / plant.inductance * step) / plant.resistance
    return Pace(step, 1 - plant.resistance * gain, gain, plant.voltage * gain)


def start_state(plant: Plant, cells: int) -> State:
    """Everything at rest, phase a at full current, the shafts where they hold the steady forces."""
    load = plant.shaft_load
    angle = -np.arcsin(load / plant.static_torque) / plant.teeth
    belts = plant.radius * angle
    if plant.stiffness is not None:
        belts = belts - load / plant.radius / plant.stiffness
    current = np.zeros((2, len(angle), cells))
    current[0] = plant.current
    still = np.zeros((len(angle), cells))
    position = np.linalg.solve(plant.motor_map, belts) + np.zeros((len(plant.mass), cells))
    return State(angle + still, still.copy(), load + still, current, position, np.zeros_like(position))


def command_currents(plant: Plant, way: Array) -> Array:
    """Commanded phase currents Î·(cos, sin) [A], (steps, 2, motors, cells), for ways [m] (steps, cells)."""
    wanted = np.zeros((len(way), 2, len(plant.gear), way.shape[-1]))
    known: list[tuple[Array, tuple[NDArray[np.float32], NDArray[np.float32]]]] = []
    for motor, (gear, current) in enumerate(zip(plant.gear, plant.current, strict=True)):
        if not np.any(gear):
            wanted[:, 0, motor] = current
            continue
        size = np.abs(gear)
        pair = next((pair for other, pair in known if np.array_equal(size, other)), None)
        if pair is None:
            pair = _sine_cosine(size * way)
            known.append((size, pair))
        np.multiply(pair[1], current, out=wanted[:, 0, motor], dtype=np.float64)
        np.multiply(pair[0], np.copysign(current, gear), out=wanted[:, 1, motor], dtype=np.float64)
    return wanted


def advance(plant: Plant, state: State, pace: Pace, wanted: Array) -> None:
    """Carry a state over one step, in place.

    Parameters
    ----------
    plant : Plant
    state : State
    pace : Pace
        Step length [s] and what a phase does in it.
    wanted : array (2, motors, cells)
        Commanded currents at the end of the step [A]; overwritten.

    Drift half a step, currents exactly for the back-EMF at mid-step, kick by the mean current's torque, drift.
    """
    half = 0.5 * pace.step
    state.angle += half * state.speed
    sine_cosine = _directions(plant.teeth * state.angle)
    emf = plant.torque_constant * state.speed * sine_cosine
    parts = _regulate(state, pace, emf, wanted) * sine_cosine
    torque = parts[0] + parts[1]
    torque *= plant.torque_factor
    if plant.stiffness is None:
        _kick_rigid(plant, state, pace.step, torque)
    else:
        _kick_elastic(plant, state, pace.step, torque)
        state.position += half * state.velocity
    state.angle += half * state.speed


def advance_block(plant: Plant, moves: Moves, state: State, time: Array, step: Array) -> Iterator[Array]:
    """Carry moves over BLOCK steps of given length [s] from time [s], both (cells,); yields the way after each."""
    pace = set_pace(plant, step)
    ways = moves.position(time + np.arange(1, BLOCK + 1)[:, None] * step)
    for way, wanted in zip(ways, command_currents(plant, ways), strict=True):
        advance(plant, state, pace, wanted)
        yield way


def _sine_cosine(angle: Array) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Sine and cosine of any angle [rad], to 2e-7: in single precision within one turn, a third of the time."""
    turns = angle * (1 / math.tau)
    turns -= np.rint(turns)
    turns *= math.tau
    within = turns.astype(np.float32)
    return np.sin(within), np.cos(within)


def _directions(electrical: Array) -> Array:
    """(−sin, cos) of the electrical angle, (2, motors, cells)."""
    both = np.empty((2, *electrical.shape))
    both[0], both[1] = _sine_cosine(electrical)
    np.negative(both[0], out=both[0])
    return both


def _regulate(state: State, pace: Pace, emf: Array, wanted: Array) -> Array:
    """Bring each phase as near to its command as ±V allows; the sum of old and new current [A]."""
    unfed = state.current * pace.decay
    unfed -= emf * pace.gain
    np.maximum(wanted, unfed - pace.reach, out=wanted)
    np.minimum(wanted, unfed + pace.reach, out=wanted)
    both = state.current + wanted
    state.current = wanted
    return both


def _shaft_drag(plant: Plant, state: State) -> Array:
    """Torque of drag and iron loss at the shafts [N·m], (motors, cells)."""
    return plant.drag * _sense(plant, state) + plant.iron * state.speed


def _sense(plant: Plant, state: State) -> Array:
    """Sense of rotation of each shaft, smooth through rest [1]."""
    return np.tanh(state.speed * (plant.radius / FRICTION_SPEED))


def _loss_slope(plant: Plant, state: State, sense: Array) -> Array:
    """Torque lost in a transmission per torque that passes it, signed [1]."""
    loss = np.where(state.load * state.speed > 0, plant.loss_driving, plant.loss_driven)
    return loss * sense * np.sign(state.load)


def _axis_drag(plant: Plant, velocity: Array) -> Array:
    """Force that the axes' friction and steady forces oppose to a motion [N], (axes, cells)."""
    return plant.friction * np.tanh(velocity / FRICTION_SPEED) + plant.viscous * velocity - plant.steady


def _kick_rigid(plant: Plant, state: State, step: Array, torque: Array) -> None:
    """Change the speeds of a machine without stretch."""
    if plant.shafts_resist:
        torque -= _shaft_drag(plant, state)
    net = torque
    if plant.axes_resist:
        net = torque - apply(plant.from_axes, _axis_drag(plant, apply(plant.to_axes, state.speed)))
    gained = apply(plant.inverse_inertia, net)
    if plant.loses:
        gained = _pay_losses(plant, state, torque, net)
    state.speed += step * gained


def _pay_losses(plant: Plant, state: State, torque: Array, net: Array) -> Array:
    """Accelerations of shafts [rad/s²] whose load and loss hang on one another: two Newton steps from the last load.

    For one motor the first is exact, unless the load changes its sign.
    """
    sense = _sense(plant, state)
    for _ in range(2):
        slope = _loss_slope(plant, state, sense)
        loss = slope * state.load
        implied = torque - loss - plant.inertia * apply(plant.inverse_inertia, net - loss)
        state.load = state.load + (implied - state.load) / (1 + plant.load_share * slope)
    return apply(plant.inverse_inertia, net - _loss_slope(plant, state, sense) * state.load)


def _kick_elastic(plant: Plant, state: State, step: Array, torque: Array) -> None:
    """Change the speeds of shafts and carriage, which meet in the stretch of the belts."""
    assert plant.stiffness is not None
    state.position += 0.5 * step * state.velocity
    force = plant.stiffness * (plant.radius * state.angle - plant.motor_map @ state.position)
    state.load = plant.radius * force
    torque -= _shaft_drag(plant, state) + state.load
    if plant.loses:
        torque -= _loss_slope(plant, state, _sense(plant, state)) * state.load
    pull = plant.motor_map.T @ force - _axis_drag(plant, state.velocity)
    state.speed += step * torque / plant.inertia
    state.velocity += step * pull / plant.mass
