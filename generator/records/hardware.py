"""What a candidate is made of, in SI: motor, transmission, machine, supply, drive, and the set-up that joins them.

A numeric field is a ``Value``: one float (the nominal figure) or a float array of draws. Formulas in ``models/``
broadcast over it, so one call serves the nominal value and every Monte Carlo draw. Never computes, never reads.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Value: TypeAlias = "float | NDArray[np.float64]"

ROOM_TEMPERATURE = 293.15
"""20 °C in kelvin: the temperature at which a stated resistance holds (IEC 60028)."""


@dataclass(frozen=True)
class Motor:
    """A two-phase hybrid stepping motor.

    Units: step_angle [rad], holding_torque [N·m] with both phases at rated_current [A per phase],
    resistance [ohm per phase at 20 °C], inductance [H per phase], rotor_inertia [kg·m²], detent_torque [N·m],
    iron_drag [N·m·s/rad], winding_temperature [K].
    """

    rotor_teeth: int
    step_angle: float
    holding_torque: Value
    rated_current: Value
    resistance: Value
    inductance: Value
    rotor_inertia: Value
    detent_torque: Value = 0.0
    iron_drag: Value = 0.0
    winding_temperature: Value = ROOM_TEMPERATURE


@dataclass(frozen=True)
class Transmission:
    """From motor shaft to carriage.

    kind is ``belt``, ``screw`` or ``travel``; travel_per_turn [m per motor turn, ratio already applied],
    efficiency and back_efficiency [1] (motor drives the load, load drives the motor), shaft_inertia [kg·m²],
    drag_torque [N·m at a turning shaft], belt_stiffness [N/m of this motor's whole belt path] or None,
    pulley_teeth [teeth per motor turn, ratio applied] or None for a screw.
    """

    kind: str
    travel_per_turn: Value
    efficiency: Value = 1.0
    back_efficiency: Value = 1.0
    shaft_inertia: Value = 0.0
    drag_torque: Value = 0.0
    belt_stiffness: Value | None = None
    teeth_per_turn: float | None = None


@dataclass(frozen=True)
class Supply:
    """voltage [V], source_resistance [ohm], capacitance [F] or None."""

    voltage: Value
    source_resistance: Value = 0.0
    capacitance: Value | None = None


@dataclass(frozen=True)
class Drive:
    """current_peak [A, peak of the sine], voltage_drop [V], voltage_limit [V] or None, sine_factor k_v [1]."""

    current_peak: Value
    voltage_drop: Value = 0.0
    voltage_limit: float | None = None
    step_division: int | None = None
    standstill_current: float | None = None
    sine_factor: Value = 1.0


@dataclass(frozen=True)
class Setup:
    """One candidate's machine, ready for the models. Tuples run over axes or over motors (rows of motor_map).

    axes: names in the order x, y, z. motor_map[i][j]: belt displacement of motor i per displacement of axis j.
    moving_mass [kg], friction [N], viscous [N·s/m], steady_force [N, positive along +axis], travel [m or None]:
    per axis. motors, transmissions, counts (equal motors that share the load): per motor.
    jerk [m/s³] or None for a trapezoid.
    """

    candidate: str
    axes: tuple[str, ...]
    motor_map: tuple[tuple[float, ...], ...]
    moving_mass: tuple[Value, ...]
    friction: tuple[Value, ...]
    viscous: tuple[Value, ...]
    steady_force: tuple[Value, ...]
    travel: tuple[float | None, ...]
    motors: tuple[Motor, ...]
    transmissions: tuple[Transmission, ...]
    counts: tuple[int, ...]
    supply: Supply
    drive: Drive
    jerk: float | None = None
