"""Energy of a move and what it means at the bench: supply rise, heat of standing windings, run-out, induced voltage.

Figures for one nominal set-up, each with the assumption under which it holds; words beyond that belong to the pages.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from generator.models.machine import shaft_inertia, shaft_speeds
from generator.models.motor import back_emf, hot_resistance
from generator.records.findings import Caution
from generator.records.hardware import Motor, Setup, Value

ICE_POINT = 273.15
"""0 °C [K]."""
TOUCH_LIMIT = 60.0
"""Direct voltage that counts as safe to touch [V]: ES1 of IEC 62368-1 (value from memory)."""


def moving_energy(setup: Setup, direction: Sequence[float], speed: Value) -> Any:
    """Kinetic energy of a move, ½·dᵀM·d·v² + Σ½·J·ω_m² over all rotors [J].

    Parameters
    ----------
    setup : Setup
    direction : sequence of float
        Unit vector over the axes.
    speed : float or array [m/s]
    """
    masses = zip(setup.moving_mass, direction, strict=True)
    energy: Any = sum(0.5 * mass * (share * speed) ** 2 for mass, share in masses)
    for motor, shaft in enumerate(shaft_speeds(setup, direction, speed)):
        energy = energy + 0.5 * setup.counts[motor] * shaft_inertia(setup, motor) * np.square(shaft)
    return energy


def steady_work(setup: Setup, direction: Sequence[float], stroke: float) -> Any:
    """Work that steady forces (gravity on a vertical axis: m·g·h) do along a stroke [m]; 0 where they resist [J]."""
    along: Any = sum(force * share for force, share in zip(setup.steady_force, direction, strict=True))
    return np.maximum(along * stroke, 0.0)


def supply_peak(setup: Setup, energy: Value) -> Any:
    """Voltage of the supply after taking back an energy [J], √(V² + 2E/C) [V]; None without a capacitance.

    Assumes: a supply that cannot sink current, all the energy returned, no loss. Source: energy of a capacitor;
    checked in tests/models/test_energy.py.
    """
    if setup.supply.capacitance is None:
        return None
    return np.sqrt(np.square(setup.supply.voltage) + 2 * energy / setup.supply.capacitance)


def winding_loss(motor: Motor, current_peak: Value) -> Value:
    """Heat of one standing motor's two phases, R(T)·Î² [W] (Î/√2 each; current_peak [A] is the sine's peak)."""
    return hot_resistance(motor) * current_peak**2


def stopping_distance(speed: Value, deceleration: Value) -> Value:
    """Path to a stop at a constant deceleration [m/s²], v²/2a [m]."""
    return speed * speed / (2 * deceleration)


def induced_voltages(setup: Setup, direction: Sequence[float], speed: Value) -> list[Value]:
    """Amplitude of each motor's back-EMF when the machine is moved at a tool speed [m/s], powered or not [V]."""
    shafts = shaft_speeds(setup, direction, speed)
    return [back_emf(motor, shaft) for motor, shaft in zip(setup.motors, shafts, strict=True)]


def find_cautions(
    setup: Setup,
    direction: Sequence[float],
    speed: float,
    acceleration: float | None = None,
    stroke: float | None = None,
) -> tuple[Caution, ...]:
    """The figures to heed on one move of a nominal set-up.

    Parameters
    ----------
    setup : Setup
        Floats, no draws.
    direction : sequence of float
        Unit vector over the axes.
    speed : float [m/s]
        The fastest of the move.
    acceleration : float or None [m/s²]
        With which it stops; None leaves the stopping distance out.
    stroke : float or None [m]
        Path over which a steady force may do work; None: the longest travel along the move.

    Returns
    -------
    tuple of Caution
        Moving energy, supply peak beside the drive's limit and beside the touch limit, winding loss at full current,
        standstill loss where the drive lowers its current, induced voltage and, with an acceleration, stopping
        distance.
    """
    energy = float(moving_energy(setup, direction, speed))
    path = _longest_path(setup, direction) if stroke is None else stroke
    returned = energy + (float(steady_work(setup, direction, path)) if path is not None else 0.0)
    at = f"{1000 * speed:.4g} mm/s, the fastest speed"
    cautions = [
        Caution(setup.candidate, "moving energy", energy, "J", None, f"carriage and all rotors at {at}"),
        *_supply_cautions(setup, returned, path, at),
        *_loss_cautions(setup),
        _voltage_caution(setup, direction, speed, at),
    ]
    if acceleration is not None:
        distance = float(stopping_distance(speed, acceleration))
        assumes = "a constant deceleration equal to the acceleration, and the motors keep step"
        cautions.append(Caution(setup.candidate, "stopping distance", distance, "m", None, assumes))
    return tuple(cautions)


def _supply_cautions(setup: Setup, energy: float, path: float | None, at: str) -> list[Caution]:
    """The supply's peak beside the drive's limit and beside the touch limit."""
    peak = supply_peak(setup, energy)
    assumes = _supply_assumption(setup, path, at)
    value = None if peak is None else float(peak)
    limits = {"supply peak": setup.drive.voltage_limit, "touchable supply peak": TOUCH_LIMIT}
    return [Caution(setup.candidate, kind, value, "V", limit, assumes) for kind, limit in limits.items()]


def _supply_assumption(setup: Setup, path: float | None, at: str) -> str:
    """Under what the supply's peak holds, in words."""
    if setup.supply.capacitance is None:
        return "not computed: the supply's capacitance is not given"
    stop = f"one stop from {at}, into a supply that cannot take current back, without any loss"
    if not any(setup.steady_force):
        return stop
    if path is None:
        return f"{stop}; the steady force's work left out, as no travel is given"
    return f"{stop}; the steady force's work over the path included"


def _loss_cautions(setup: Setup) -> list[Caution]:
    """Heat of the hottest standing motor at full current, and at the lowered one where the drive lowers it."""
    loss = max(float(winding_loss(motor, setup.drive.current_peak)) for motor in setup.motors)
    hottest = max(setup.motors, key=lambda motor: float(winding_loss(motor, setup.drive.current_peak)))
    copper = f"two phases at Î/√2 each, copper at {float(hottest.winding_temperature) - ICE_POINT:.3g} °C"
    found = [Caution(setup.candidate, "winding loss", loss, "W", None, f"one motor standing at full current, {copper}")]
    share = setup.drive.standstill_current
    if share is not None:
        assumes = f"one motor standing, the drive's current lowered to {100 * share:.3g} %, {copper}"
        found.append(Caution(setup.candidate, "standstill loss", loss * share**2, "W", None, assumes))
    return found


def _voltage_caution(setup: Setup, direction: Sequence[float], speed: float, at: str) -> Caution:
    """The largest back-EMF of any motor beside the touch limit."""
    voltage = max(float(induced) for induced in induced_voltages(setup, direction, speed))
    assumes = f"the axes coasting, pushed or falling at {at}, windings open; amplitude of one phase"
    return Caution(setup.candidate, "induced voltage", voltage, "V", TOUCH_LIMIT, assumes)


def _longest_path(setup: Setup, direction: Sequence[float]) -> float | None:
    """Longest straight path along a direction that the travels allow [m]; None where one is not given."""
    moved = [(travel, abs(share)) for travel, share in zip(setup.travel, direction, strict=True) if share]
    if any(travel is None for travel, _ in moved):
        return None
    return min((travel / share for travel, share in moved if travel is not None), default=math.inf)
