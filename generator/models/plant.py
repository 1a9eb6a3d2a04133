"""Owns the numbers of a set-up that the time-domain model steps with, and the check that they can be stepped."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from generator.models.machine import belt_ratios, shaft_inertia, shaft_radius
from generator.models.motor import available_voltage, flux_linkage, hot_resistance
from generator.models.profile import Array
from generator.records.hardware import Motor, Setup, Transmission, Value

FRICTION_SPEED = 2e-3
"""Speed [m/s] over which dry friction changes its sign; it keeps the equations smooth."""

_MATRICES = ("to_axes", "inverse_inertia")


@dataclass(frozen=True)
class Plant:
    """A set-up as columns (motors, 1) or (axes, 1) and matrices; several joined hold a column per cell instead.

    Shafts: teeth, torque_constant N·λ [N·m/A] of one motor, count of motors on a shaft, current [A, peak],
    resistance [ohm], inductance [H], inertia [kg·m²], drag [N·m], iron [N·m·s/rad], radius [m/rad],
    gear [electrical rad per m of path], loss_driving = 1/η − 1 and loss_driven = 1 − η_back [1].
    Axes: mass [kg], friction [N], viscous [N·s/m], steady [N]. voltage [V].
    to_axes (axes, motors) turns shaft speeds into axis velocities, motor_map (motors, axes) axis positions into belt
    positions, inverse_inertia (motors, motors) torques into accelerations of a rigid machine.
    stiffness [N/m] of each belt, None for a rigid machine. frequency is the highest natural one [rad/s],
    friction_rate the fastest decay that dry friction gives near rest [1/s]; both and voltage are (1,), joined (cells,).
    """

    teeth: Array
    torque_constant: Array
    count: Array
    current: Array
    resistance: Array
    inductance: Array
    inertia: Array
    drag: Array
    iron: Array
    radius: Array
    gear: Array
    loss_driving: Array
    loss_driven: Array
    mass: Array
    friction: Array
    viscous: Array
    steady: Array
    voltage: Array
    to_axes: Array
    motor_map: Array
    inverse_inertia: Array
    stiffness: Array | None
    frequency: Array
    friction_rate: Array

    def take(self, chosen: NDArray[np.intp]) -> Plant:
        """The chosen cells of joined plants; a plant that serves all cells stays as it is."""
        if self.inverse_inertia.ndim == 2:
            return self
        kept = {name: values for name, values in self.figures().items() if name != "motor_map" and values is not None}
        return replace(self, **{name: np.ascontiguousarray(values[..., chosen]) for name, values in kept.items()})

    def figures(self) -> dict[str, Array | None]:
        """All fields by name."""
        return {field.name: getattr(self, field.name) for field in fields(self)}

    @cached_property
    def from_axes(self) -> Array:
        """Turns axis forces into shaft torques, (motors, axes), joined (motors, axes, cells)."""
        return np.swapaxes(self.to_axes, 0, 1)

    @cached_property
    def torque_factor(self) -> Array:
        """Torque of a shaft per sum of a phase's old and new current [N·m/A]."""
        return 0.5 * self.count * self.torque_constant

    @cached_property
    def shafts_resist(self) -> bool:
        """Whether any shaft meets drag or iron loss."""
        return bool(np.any(self.drag) or np.any(self.iron))

    @cached_property
    def loses(self) -> bool:
        """Whether any transmission loses a share of its load."""
        return bool(np.any(self.loss_driving) or np.any(self.loss_driven))

    @cached_property
    def axes_resist(self) -> bool:
        """Whether friction or a steady force acts on any axis."""
        return bool(np.any(self.friction) or np.any(self.viscous) or np.any(self.steady))

    @cached_property
    def load_share(self) -> Array:
        """Share of a shaft's own acceleration torque that the carriage takes on a rigid machine [1]."""
        diagonal = np.einsum("ii...->i...", self.inverse_inertia)
        return 1 - self.inertia * diagonal.reshape(len(self.inertia), -1)

    @property
    def static_torque(self) -> Array:
        """Peak static torque of each shaft [N·m]."""
        return self.count * self.torque_constant * self.current

    @property
    def shaft_load(self) -> Array:
        """Torque that holds the steady forces, per shaft [N·m]."""
        return -apply(self.from_axes, self.steady)


def _column(values: Iterable[Value]) -> Array:
    return np.array([float(value) for value in values]).reshape(-1, 1)


def build_plant(setup: Setup, direction: tuple[float, ...], elastic: bool) -> Plant:
    """Turn a set-up at its nominal values into a plant for moves along a direction (unit vector over the axes)."""
    motors, transmissions = setup.motors, setup.transmissions
    count = _column(setup.counts)
    motor_map = np.array(setup.motor_map, dtype=np.float64)
    radius = _column(map(shaft_radius, transmissions))
    teeth = _column(m.rotor_teeth for m in motors)
    inertia = count * _column(shaft_inertia(setup, number) for number in range(len(motors)))
    mass = _column(setup.moving_mass)
    to_axes = np.linalg.inv(motor_map) * radius.T
    whole = np.diag(inertia[:, 0]) + to_axes.T @ (mass * to_axes)
    stiffness = count * _column(t.belt_stiffness or 0.0 for t in transmissions) if elastic else None
    plant = Plant(
        teeth=teeth,
        torque_constant=teeth * _column(flux_linkage(m) for m in motors),
        count=count,
        current=_column(setup.drive.current_peak for _ in motors),
        resistance=_column(hot_resistance(m) for m in motors),
        inductance=_column(m.inductance for m in motors),
        inertia=inertia,
        drag=count * _column(t.drag_torque for t in transmissions),
        iron=count * _column(m.iron_drag for m in motors),
        radius=radius,
        gear=teeth / radius * _column(belt_ratios(setup, direction)),
        loss_driving=_column(1 / t.efficiency - 1 for t in transmissions),
        loss_driven=_column(1 - t.back_efficiency for t in transmissions),
        mass=mass,
        friction=_column(setup.friction),
        viscous=_column(setup.viscous),
        steady=_column(setup.steady_force),
        voltage=np.atleast_1d(available_voltage(setup.supply, replace(setup.drive, sine_factor=1.0))),
        to_axes=to_axes,
        motor_map=motor_map,
        inverse_inertia=np.asarray(np.linalg.inv(whole), dtype=np.float64),
        stiffness=stiffness,
        frequency=np.zeros(1),
        friction_rate=np.zeros(1),
    )
    rates = np.array([_highest_frequency(plant)]), np.array([_friction_rate(plant)])
    return replace(plant, frequency=rates[0], friction_rate=rates[1])


def join_plants(plants: Sequence[Plant], cells: Sequence[int]) -> Plant:
    """Several machines of one motor map side by side, each for a number of cells; one alone stays as it is."""
    if len(plants) == 1:
        return plants[0]
    joined = {}
    for field in fields(Plant):
        values = [getattr(plant, field.name) for plant in plants]
        whole = field.name == "motor_map" or values[0] is None
        joined[field.name] = values[0] if whole else _join_field(field.name, values, cells)
    return Plant(**joined)


def _join_field(name: str, values: Sequence[Array], cells: Sequence[int]) -> Array:
    """Each plant's column repeated for its cells; a matrix gets the cells as its last axis."""
    wide = [value[..., None] if name in _MATRICES else value for value in values]
    return np.concatenate([np.repeat(*part, axis=-1) for part in zip(wide, cells, strict=True)], axis=-1)


def apply(matrix: Array, values: Array) -> Array:
    """Matrix times columns (n, cells) [any unit], one matrix for all cells or one each; the same bits either way."""
    wide = matrix[..., None] if matrix.ndim == 2 else matrix
    total: Array = wide[:, 0] * values[0]
    for column in range(1, len(values)):
        total += wide[:, column] * values[column]
    return total


def _highest_frequency(plant: Plant) -> float:
    """Highest natural frequency [rad/s] with every motor at its static stiffness."""
    spring = np.diag((plant.teeth * plant.static_torque)[:, 0])
    if plant.stiffness is None:
        return math.sqrt(np.linalg.eigvals(plant.inverse_inertia @ spring).real.max())
    shafts, belts = plant.radius * np.eye(len(plant.radius)), plant.motor_map
    stretch = np.hstack((shafts, -belts))
    joined = stretch.T @ (plant.stiffness * stretch)
    joined[: len(shafts), : len(shafts)] += spring
    inertia = np.vstack((plant.inertia, plant.mass))
    return math.sqrt(np.linalg.eigvals(joined / inertia).real.max())


def _friction_rate(plant: Plant) -> float:
    """Fastest decay [1/s] of a speed near rest under dry friction, drag and viscous friction."""
    axes = plant.friction / FRICTION_SPEED + plant.viscous
    shafts = np.diag((plant.drag * plant.radius / FRICTION_SPEED + plant.iron)[:, 0])
    if plant.stiffness is not None:
        return float(max((axes / plant.mass).max(), (np.diag(shafts) / plant.inertia[:, 0]).max()))
    whole = shafts + plant.to_axes.T @ (axes * plant.to_axes)
    return float(np.linalg.eigvals(plant.inverse_inertia @ whole).real.max())


_Check = tuple[str, Callable[[Motor, Transmission], Value]]
_POSITIVE: tuple[_Check, ...] = (
    ("holding torque", lambda motor, _: motor.holding_torque),
    ("rated current", lambda motor, _: motor.rated_current),
    ("inductance", lambda motor, _: motor.inductance),
    ("resistance", lambda motor, _: hot_resistance(motor)),
    ("inertia at the shaft", lambda motor, transmission: motor.rotor_inertia + transmission.shaft_inertia),
    ("travel per turn", lambda _, transmission: transmission.travel_per_turn),
    ("efficiency", lambda _, transmission: transmission.efficiency),
)


def check_plant(setup: Setup) -> str | None:
    """Say why a set-up cannot be simulated, in one sentence; None where it can."""
    for number, (motor, transmission) in enumerate(zip(setup.motors, setup.transmissions, strict=True)):
        for name, get in _POSITIVE:
            value = get(motor, transmission)
            if not (math.isfinite(value) and value > 0):
                return f"Not simulated: the {name} of motor {number + 1} must be above zero, it is {value:g}."
    for axis, mass in zip(setup.axes, setup.moving_mass, strict=True):
        if not (math.isfinite(mass) and mass > 0):
            return f"Not simulated: the moving mass of axis {axis} must be above zero, it is {mass:g}."
    if not setup.drive.current_peak > 0:
        return f"Not simulated: the drive current must be above zero, it is {setup.drive.current_peak:g} A."
    if not float(available_voltage(setup.supply, setup.drive)) > 0:
        return "Not simulated: the supply leaves no voltage for the motors."
    if abs(np.linalg.det(np.array(setup.motor_map, dtype=np.float64))) < 1e-12:
        return "Not simulated: the motor map cannot be inverted."
    return _check_load(setup)


def _check_load(setup: Setup) -> str | None:
    """Say whether the steady forces are too large to be held at rest."""
    plant = build_plant(setup, (0.0,) * len(setup.axes), elastic=False)
    if np.any(np.abs(plant.shaft_load) >= plant.static_torque):
        return "Not simulated: the steady force is larger than the motors hold at rest."
    return None


def is_elastic(setup: Setup) -> bool:
    """Tell whether every belt has a stiffness, so that the machine can be simulated on springs."""
    return all(t.belt_stiffness is not None for t in setup.transmissions)
