"""Limits of the reference machine written out a second time: a scan of currents and one line of mechanics."""

from __future__ import annotations

import math

import numpy as np

START, ANY_TIMING = 0.7246113538, 0.4222730600
"""Equal-area limits of a sudden start and of the worst timing (roots of their equations, computed twice elsewhere)."""
MOTORS = {"p": (50, 0.5, 2.5, 2.5, 1.2, 1.5e-3), "q": (100, 0.44, 2.0, 2.0, 1.7, 3.2e-3)}
"""Teeth, holding torque [N·m], rated current [A], drive current [A], resistance [ohm], inductance [H]."""
RHO, INERTIA, DRAG, VOLTAGE = 0.04 / math.tau, 82e-7, 0.03, 48.0
MAP, MASS = np.array([[1.0, 1.0], [1.0, -1.0]]), np.diag([0.35, 0.65])


def pull_out(motor: str, speed_elec: float, derating: float = 1.0) -> float:
    """Largest torque over a fine scan of currents within both limits, the holding torque derated [N·m]."""
    teeth, holding, rated, peak, resistance, inductance = MOTORS[motor]
    flux = derating * holding / (math.sqrt(2) * teeth * rated)
    size = peak * np.linspace(0, 1, 400)[:, None]
    angle = np.linspace(0, math.pi, 2000)
    current_d, current_q = size * np.cos(angle), size * np.sin(angle)
    voltage_d = resistance * current_d - speed_elec * inductance * current_q
    voltage_q = resistance * current_q + speed_elec * (inductance * current_d + flux)
    allowed = np.hypot(voltage_d, voltage_q) <= VOLTAGE
    return float(teeth * flux * np.max(np.where(allowed, current_q, 0.0)))


def limit(
    motor: str,
    direction: tuple[float, float],
    speed: float,
    share: float = 1.0,
    drag: float = DRAG,
    derating: float = 1.0,
) -> float:
    """Acceleration at which the weaker of both motors is at a share of its pull-out torque [m/s²]."""
    belt = MAP @ np.array(direction)
    force = np.linalg.inv(MAP.T) @ MASS @ np.array(direction)
    found = []
    for ratio, pull in zip(belt, force, strict=True):
        torque = pull_out(motor, MOTORS[motor][0] * abs(ratio) * speed / RHO, derating)
        needed = abs(RHO * pull + INERTIA * ratio / RHO)
        held = drag if abs(ratio) > 1e-12 else 0.0
        found.append((share * torque - held) / needed)
    return min(found)


DIAGONAL = (math.sqrt(0.5), math.sqrt(0.5))
