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
from generator.models.ramps import ramp_peak, stopping_distance
from generator.records.findings import Caution
from generator.records.hardware import Motor, Setup, Value

TOUCH_LIMIT = 60.0
"""Direct voltage that counts as safe to touch when dry [V]: ES1 of IEC 62368-1 (value from memory)."""
ALTERNATING_LIMIT = 42.4
"""Peak of an alternating voltage up to which it is safety extra-low [V]: IEC 60335-1, as quoted in IEC 62282-5-1."""
GRAVITY = 9.80665
"""Standard gravity [m/s²]: ISO 80000-3."""


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
    """Work that steady forces return over a stroke [m], there or back: m·g·h for a vertical axis [J]."""
    along: Any = sum(force * share for force, share in zip(setup.steady_force, direction, strict=True))
    return np.abs(along * stroke)


def supply_peak(setup: Setup, energy: Value) -> Any:
    """Voltage of the supply after taking back an energy [J], √(V² + 2E/C) [V]; None without a capacitance.

    Assumes: a supply that cannot sink current, all the energy returned, no loss. Source: energy of a capacitor;
    checked in tests/models/test_energy.py.
    """
    if setup.supply.capacitance is None:
        return None
    return np.sqrt(np.square(setup.supply.voltage) + 2 * energy / setup.supply.capacitance)


def find_rail_speed(setup: Setup, direction: Sequence[float], path: float | None = None) -> float | None:
    """Speed from which one stop may lift the supply above what the drive bears [m/s].

    Parameters
    ----------
    setup : Setup
        Floats, no draws.
    direction : sequence of float
        Unit vector over the axes.
    path : float or None
        Over which a steady force may do work on the way that it helps [m]; None leaves it out.

    Returns
    -------
    float or None
        0 where the supply or the steady force alone does it; None where the supply's capacitance or the drive's
        limit is not given, or nothing moves.

    Assumes: as ``supply_peak``, solved for the speed of ``moving_energy``.
    """
    supply, limit = setup.supply, setup.drive.voltage_limit
    each = float(moving_energy(setup, direction, 1.0))
    if supply.capacitance is None or limit is None or not each:
        return None
    room = float(supply.capacitance) * (float(limit) ** 2 - float(supply.voltage) ** 2) / 2
    room -= float(steady_work(setup, direction, path)) if path is not None else 0.0
    return math.sqrt(max(room, 0.0) / each)


def winding_loss(motor: Motor, current_peak: Value) -> Value:
    """Heat of one standing motor's two phases, R(T)·Î² [W] (Î/√2 each; current_peak [A] is the sine's peak)."""
    return hot_resistance(motor) * current_peak**2


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
    """The figures to heed on one move of a nominal set-up, out and back.

    Parameters
    ----------
    setup : Setup
        Floats, no draws.
    direction : sequence of float
        Unit vector over the axes.
    speed : float [m/s]
        The fastest of the move.
    acceleration : float or None [m/s²]
        With which it stops, with the set-up's jerk; None leaves the stopping distance out.
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
    path = find_path(setup, direction, stroke)
    moving = "carriage and all rotors at the fastest speed"
    cautions = [
        Caution(setup.candidate, "moving energy", energy, "J", None, moving, {"speed": speed}),
        *_supply_cautions(setup, direction, speed, energy, path),
        *_loss_cautions(setup),
        _voltage_caution(setup, direction, speed),
    ]
    if acceleration is not None:
        cautions.append(_stop_caution(setup, speed, acceleration))
    return tuple(cautions)


def find_falling(setup: Setup) -> tuple[Caution, ...]:
    """The axes of a nominal set-up that a steady force moves once their motors let go, with that force [N].

    Assumes: nothing else holds them, neither friction nor a screw that does not turn back.
    """
    assumes = (
        "block or lower this axis before you cut its power or reach under it: the force moves it once its motors lose "
        "power or steps. Friction, or a screw that may hold it, is not counted on"
    )
    return tuple(
        Caution(setup.candidate, "steady force", abs(force), "N", None, assumes, {"mass": abs(force) / GRAVITY}, axis)
        for axis, force in zip(setup.axes, map(float, setup.steady_force), strict=True)
        if force
    )


def _supply_cautions(
    setup: Setup, direction: Sequence[float], speed: float, energy: float, path: float | None
) -> list[Caution]:
    """The supply's peak beside the drive's limit and beside the touch limit."""
    value, assumes, at = _stop_into_supply(setup, direction, speed, energy, path)
    limits = {"supply peak": setup.drive.voltage_limit, "touchable supply peak": TOUCH_LIMIT}
    return [Caution(setup.candidate, kind, value, "V", limit, assumes, at) for kind, limit in limits.items()]


def _stop_into_supply(
    setup: Setup, direction: Sequence[float], speed: float, energy: float, path: float | None
) -> tuple[float | None, str, dict[str, float]]:
    """The supply's peak after one stop of a move there and back [V], under what it holds, and at which figures."""
    if setup.supply.capacitance is None:
        return None, "not computed: the supply's capacitance is not given", {}
    stop = "one stop from the fastest speed, into a supply that cannot take current back, without any loss"
    at = {"speed": speed}
    if not float(steady_work(setup, direction, 1.0)):
        return float(supply_peak(setup, energy)), stop, at
    if path is None:
        left_out = f"{stop}; the steady force's work left out, as no travel is given"
        return float(supply_peak(setup, energy)), left_out, at
    returned = energy + float(steady_work(setup, direction, path))
    helped = f"{stop}; the steady force's work over the path included, on the way that it helps"
    return float(supply_peak(setup, returned)), helped, {**at, "path": path}


def _loss_cautions(setup: Setup) -> list[Caution]:
    """Heat of the hottest standing motor at full current, and at the lowered one where the drive lowers it."""
    hottest = max(setup.motors, key=lambda motor: float(winding_loss(motor, setup.drive.current_peak)))
    loss = float(winding_loss(hottest, setup.drive.current_peak))
    copper = {"winding_temperature": float(hottest.winding_temperature)}
    assumes = "one motor standing at full current, two phases at Î/√2 each"
    found = [Caution(setup.candidate, "winding loss", loss, "W", None, assumes, copper)]
    share = setup.drive.standstill_current
    if share is not None:
        assumes = "one motor standing at the current to which the drive lowers it"
        at = {"current_share": share, **copper}
        found.append(Caution(setup.candidate, "standstill loss", loss * share**2, "W", None, assumes, at))
    return found


def _voltage_caution(setup: Setup, direction: Sequence[float], speed: float) -> Caution:
    """The largest back-EMF of any motor, a peak, beside the limit of alternating voltage."""
    voltage = max(float(induced) for induced in induced_voltages(setup, direction, speed))
    assumes = "the axes coasting, pushed or falling at the fastest speed, windings open; amplitude of one phase"
    return Caution(setup.candidate, "induced voltage", voltage, "V", ALTERNATING_LIMIT, assumes, {"speed": speed})


def _stop_caution(setup: Setup, speed: float, acceleration: float) -> Caution:
    """The way of a stop that keeps step, with as much of the acceleration as the jerk lets a ramp reach."""
    distance, at = float(stopping_distance(speed, acceleration, setup.jerk)), {"deceleration": acceleration}
    assumes = "a constant deceleration equal to the acceleration, and the motors keep step"
    if setup.jerk is not None:
        assumes = "a ramp down with the acceleration and the jerk of the ramp up, and the motors keep step"
        at = {"deceleration": min(acceleration, float(ramp_peak(speed, setup.jerk))), "jerk": setup.jerk}
    return Caution(setup.candidate, "stopping distance", distance, "m", None, assumes, {"speed": speed, **at})


def find_path(setup: Setup, direction: Sequence[float], stroke: float | None) -> float | None:
    """The stroke [m], else the longest straight path along a direction that the travels allow; None where unknown."""
    if stroke is not None:
        return stroke
    moved = [(travel, abs(share)) for travel, share in zip(setup.travel, direction, strict=True) if share]
    if any(travel is None for travel, _ in moved):
        return None
    return min((travel / share for travel, share in moved if travel is not None), default=math.inf)
