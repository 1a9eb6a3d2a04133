"""Kinematics, mass and friction: what a straight move asks of each motor.

Belt (or nut) displacement of motor i per axis displacement is K, the motor map. A move runs along the unit tool
direction d with speed v and acceleration a, so motor i moves at u_i·v with u = K·d, and the force on its belt per
unit of acceleration is f = K⁻ᵀ·M·d. Steady forces and friction come as g = K⁻ᵀ·F. Knows no currents and no limits.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from generator.records.hardware import Setup, Transmission, Value

AT_REST = 1e-12
"""A motor whose belt moves less than this share of the tool's travel does not turn [1]."""


@dataclass(frozen=True)
class MotorLoad:
    """What a move asks of one motor; every Value broadcasts over draws and speeds.

    ratio: belt speed over tool speed, 0 where the motor rests [1]. radius: travel per radian of the shaft [m].
    inertial_force: belt force per tool acceleration [kg]. force: friction and steady forces on the belt [N].
    steady_force: the part of it that does not come from friction [N]. inertia: of all that turns with the shaft
    [kg·m²]. drag: torque against the turning shaft, bearing and iron [N·m]. efficiency, back_efficiency [1].
    """

    ratio: float
    radius: Value
    inertial_force: Value
    force: Value
    steady_force: Value
    inertia: Value
    drag: Value
    efficiency: Value
    back_efficiency: Value

    @property
    def turns(self) -> int:
        """Sense of rotation: 1, −1, or 0 where the motor rests."""
        return int(np.sign(self.ratio))


def belt_ratios(setup: Setup, direction: Sequence[float]) -> Any:
    """Belt speed of each motor over tool speed, u = K·d, shape (motors,) [1]; exactly 0 where a motor rests."""
    ratios = np.asarray(setup.motor_map, dtype=np.float64) @ np.asarray(direction, dtype=np.float64)
    return np.where(np.abs(ratios) < AT_REST, 0.0, ratios)


def shaft_radius(transmission: Transmission) -> Value:
    """Travel per radian of the motor shaft, ρ = p/2π [m/rad]."""
    return transmission.travel_per_turn / (2 * math.pi)


def shaft_inertia(setup: Setup, motor: int) -> Value:
    """Inertia of rotor and pulley, coupling or screw of motor number ``motor`` at its shaft [kg·m²]."""
    return setup.motors[motor].rotor_inertia + setup.transmissions[motor].shaft_inertia


def shaft_speeds(setup: Setup, direction: Sequence[float], speed: Value) -> list[Value]:
    """Speed of each motor's shaft, signed, at a tool speed [m/s]: ω_m = u·v/ρ [rad/s]."""
    radii = (shaft_radius(transmission) for transmission in setup.transmissions)
    return [ratio * speed / radius for ratio, radius in zip(belt_ratios(setup, direction), radii, strict=True)]


def electrical_speeds(setup: Setup, direction: Sequence[float], speed: Value) -> list[Value]:
    """Electrical speed of each motor at a tool speed [m/s]: ω = N_r·|ω_m| [rad/s]."""
    turning = shaft_speeds(setup, direction, speed)
    return [motor.rotor_teeth * np.abs(shaft) for motor, shaft in zip(setup.motors, turning, strict=True)]


def motor_loads(setup: Setup, direction: Sequence[float], speed: Value) -> tuple[MotorLoad, ...]:
    """What a move along ``direction`` (unit vector over the axes) at ``speed`` [m/s] asks of each motor.

    Friction of axis j is (C_j + c_j·|d_j|·v)·sign(d_j); a steady force on the carriage [N, positive along +axis] is
    carried by the drive, so it enters with its sign turned. Equal motors that share a load take equal parts of the
    force, each with its own inertia and drag.

    Assumes: rigid belts, straight lines, Coulomb and viscous friction. Source: d'Alembert's principle with virtual
    work over q = K·x; checked in tests/models/test_machine.py.
    """
    ratios = belt_ratios(setup, direction)
    per_axis = [_axis_forces(setup, axis, share, speed) for axis, share in enumerate(direction)]
    to_belts = np.linalg.inv(np.asarray(setup.motor_map, dtype=np.float64)).T
    loads = []
    for motor, shares in enumerate(to_belts / np.asarray(setup.counts, dtype=np.float64)[:, None]):
        inertial, friction, steady = (_weighted(shares, column) for column in zip(*per_axis, strict=True))
        loads.append(_motor_load(setup, motor, float(ratios[motor]), speed, (inertial, friction, steady)))
    return tuple(loads)


def torque_branch(load: MotorLoad, driving: Any) -> tuple[Value, Value]:
    """Torque of one motor as α·a + β, on the branch where it drives its load or (``driving`` false) is driven by it.

    α [N·m per m/s²] and β [N·m] of τ = ρ·F·η + J·(u/ρ)·a + sign(u)·T_drag, F = f·a + g; η = 1/efficiency where the
    motor drives, the back efficiency where the load does, 1 where the motor rests.
    """
    lever = load.radius * efficiency_factor(load, driving)
    per_acceleration = lever * load.inertial_force + load.inertia * (load.ratio / load.radius)
    return per_acceleration, lever * load.force + load.turns * load.drag


def efficiency_factor(load: MotorLoad, driving: Any) -> Value:
    """η of the torque equation [1] for a motor that drives its load, or is driven by it."""
    if load.turns == 0:
        return 1.0
    if isinstance(driving, bool | np.bool_):
        return 1 / load.efficiency if driving else load.back_efficiency
    return np.where(driving, 1 / load.efficiency, load.back_efficiency)


def motor_torque(load: MotorLoad, acceleration: Value) -> Value:
    """Torque that one motor must give at a tool acceleration [m/s², negative while braking], signed [N·m]."""
    driving = (load.inertial_force * acceleration + load.force) * load.ratio > 0
    per_acceleration, constant = torque_branch(load, driving)
    return per_acceleration * acceleration + constant


def _axis_forces(setup: Setup, axis: int, share: float, speed: Value) -> tuple[Value, Value, Value]:
    """What one axis needs: force per tool acceleration [kg], against friction [N], against its steady force [N]."""
    viscous = setup.viscous[axis]
    friction = setup.friction[axis] + (viscous * abs(share) * speed if np.any(viscous) else 0.0)
    return setup.moving_mass[axis] * share, friction * float(np.sign(share)), -setup.steady_force[axis]


def _weighted(shares: Sequence[float], values: Sequence[Value]) -> Value:
    """Sum of shares times values; a share of 0 leaves the shape alone."""
    total: Value = 0.0
    for share, value in zip(shares, values, strict=True):
        if share:
            total = total + share * value
    return total


def _motor_load(setup: Setup, motor: int, ratio: float, speed: Value, forces: tuple[Value, Value, Value]) -> MotorLoad:
    """Put one motor's load together from its share of (inertial, friction, steady) forces."""
    inertial, friction, steady = forces
    transmission, radius = setup.transmissions[motor], shaft_radius(setup.transmissions[motor])
    iron = setup.motors[motor].iron_drag
    drag = transmission.drag_torque + (iron * abs(ratio) * speed / radius if np.any(iron) else 0.0)
    return MotorLoad(
        ratio=ratio,
        radius=radius,
        inertial_force=inertial,
        force=friction + steady,
        steady_force=steady,
        inertia=shaft_inertia(setup, motor),
        drag=drag,
        efficiency=transmission.efficiency,
        back_efficiency=transmission.back_efficiency,
    )
