"""What the page's own script needs to redraw the corridor for a reader's machine: every candidate's figures in SI."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from generator.models.motor import COPPER_COEFFICIENT
from generator.records.comparison import Comparison
from generator.records.hardware import ROOM_TEMPERATURE, Motor, Setup, Transmission
from generator.records.trial import ACCELERATION


def describe_machines(comparison: Comparison, setups: Mapping[str, Setup]) -> dict[str, Any]:
    """The candidates at nominal figures, and the move of the first acceleration trial as the one to start from.

    Parameters
    ----------
    comparison : Comparison
    setups : mapping of str to Setup
        By candidate, at nominal values.

    Returns
    -------
    dict
        JSON-ready but for rounding; axes and motor_map, which all candidates share, direction (its parts as the
        author wrote them), stroke [m] or None, copper (coefficient [1/K], room_temperature [K]), candidates.
    """
    first = next(iter(setups.values()))
    trials = sorted(comparison.trials, key=lambda trial: trial.measures != ACCELERATION)
    written = trials[0].direction_written if trials else {first.axes[0]: 1.0}
    return {
        "axes": first.axes,
        "motor_map": first.motor_map,
        "direction": [written.get(axis, 0.0) for axis in first.axes],
        "stroke": trials[0].stroke if trials else None,
        "copper": {"coefficient": COPPER_COEFFICIENT, "room_temperature": ROOM_TEMPERATURE},
        "candidates": [describe_setup(setup, comparison.candidate(name).name) for name, setup in setups.items()],
    }


def describe_setup(setup: Setup, name: str) -> dict[str, Any]:
    """One candidate's figures [SI]."""
    return {
        "id": setup.candidate,
        "name": name,
        "moving_mass": setup.moving_mass,
        "friction": setup.friction,
        "viscous": setup.viscous,
        "steady_force": setup.steady_force,
        "counts": setup.counts,
        "motors": [_motor(motor) for motor in setup.motors],
        "transmissions": [_transmission(transmission) for transmission in setup.transmissions],
        "supply": {"voltage": setup.supply.voltage, "source_resistance": setup.supply.source_resistance},
        "drive": {
            "current_peak": setup.drive.current_peak,
            "voltage_drop": setup.drive.voltage_drop,
            "sine_factor": setup.drive.sine_factor,
        },
    }


def _motor(motor: Motor) -> dict[str, Any]:
    return {
        "rotor_teeth": motor.rotor_teeth,
        "holding_torque": motor.holding_torque,
        "rated_current": motor.rated_current,
        "resistance": motor.resistance,
        "winding_temperature": motor.winding_temperature,
        "inductance": motor.inductance,
        "rotor_inertia": motor.rotor_inertia,
        "iron_drag": motor.iron_drag,
    }


def _transmission(transmission: Transmission) -> dict[str, Any]:
    return {
        "travel_per_turn": transmission.travel_per_turn,
        "teeth_per_turn": transmission.teeth_per_turn,
        "efficiency": transmission.efficiency,
        "back_efficiency": transmission.back_efficiency,
        "shaft_inertia": transmission.shaft_inertia,
        "drag_torque": transmission.drag_torque,
    }
