"""Names for people: inputs by their path, directions, trials and items, calls with candidates' names."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from generator.phrases import call_text, sentence_case
from generator.phrases import listed as listed

_INPUTS = {
    "supply.voltage": "Supply voltage",
    "supply.source_resistance": "Source resistance of the supply",
    "supply.capacitance": "Supply capacitance",
    "drive.peak_current": "Drive current, peak of the sine",
    "drive.rms_current": "Drive current, RMS",
    "drive.voltage_drop": "Voltage drop in the drive",
    "drive.voltage_limit": "Drive's stated voltage limit",
    "drive.sine_factor": "Wave shape of the drive’s voltage (k_v): fundamental, share of the supply’s",
    "drive.standstill_current": "Current at standstill, share of the run current",
    "motor.step_angle": "Step angle",
    "motor.holding_torque": "Holding torque, both phases on",
    "motor.rated_current": "Rated current per phase",
    "motor.resistance": "Phase resistance at 20 °C",
    "motor.inductance": "Phase inductance",
    "motor.rotor_inertia": "Rotor inertia",
    "motor.detent_torque": "Detent torque",
    "motor.iron_drag": "Iron loss as drag",
    "motor.mass": "Motor mass",
    "motor.winding_temperature": "Winding temperature",
    "transmission.belt_pitch": "Belt pitch",
    "transmission.pulley_teeth": "Pulley teeth",
    "transmission.screw_lead": "Screw lead",
    "transmission.travel_per_turn": "Travel per turn",
    "transmission.ratio": "Motor turns per pulley turn",
    "transmission.efficiency": "Efficiency of the transmission",
    "transmission.shaft_inertia": "Inertia on the motor shaft",
    "transmission.drag_torque": "Drag torque at a turning shaft",
    "transmission.belt_stiffness": "Stiffness of a motor's belt path",
    "moving_mass": "Moving mass",
    "friction": "Dry friction",
    "viscous": "Viscous friction",
    "steady_force": "Steady force",
    "travel": "Travel",
    "ambient": "Ambient temperature",
    "move.jerk": "Jerk of the move",
    "belt_tension.frequency": "Belt tension, frequency of the plucked span",
    "belt_tension.span": "Belt tension, length of the span",
}

DERIVED = {
    "rotor_teeth": ("Rotor teeth", "1"),
    "flux_linkage": ("Magnet flux linkage", "Wb"),
    "static_torque": ("Static peak torque at the drive's current", "N·m"),
    "time_constant": ("Electrical time constant L/R", "s"),
    "torque_stiffness": ("Torque stiffness", "N·m/rad"),
    "hot_resistance": ("Phase resistance at winding temperature", "ohm"),
    "shaft_inertia": ("All inertia on the motor shaft, load left out", "kg·m^2"),
    "travel_per_turn": ("Travel per motor turn", "m"),
    "available_voltage": ("Voltage left for a phase", "V"),
    "corner_speed": ("Tool speed where torque starts to fall", "m/s"),
    "rotor_frequency": ("Rotor's own frequency", "Hz"),
    "natural_frequency": ("Natural frequency of rotor and load", "Hz"),
    "winding_loss": ("Winding loss at standstill", "W"),
    "back_emf": ("Back-EMF per speed", "V·s/rad"),
}

_MAPS = {"crossed-belts": "crossed belts", "straight": "straight axes", "matrix": "axes by a stated matrix"}


def input_label(path: str) -> str:
    """``machine.axes.x.moving_mass`` → ``Moving mass, x``."""
    if path in _INPUTS:
        return _INPUTS[path]
    axis, motor = _AXIS.fullmatch(path), _MOTOR.fullmatch(path)
    if axis and axis[2] in _INPUTS:
        return f"{_INPUTS[axis[2]]}, {axis[1]}"
    if motor:
        return f"{input_label(motor[2])}, motor {motor[1]}"
    inner = path.removeprefix("machine.")
    return _INPUTS.get(inner) or inner.replace("_", " ").replace(".", ", ").capitalize()


def short_label(path: str) -> str:
    """The same without what tells how the figure is stated: ``Moving mass of x``, ``Holding torque``."""
    axis, motor = _AXIS.fullmatch(path), _MOTOR.fullmatch(path)
    if axis:
        return f"{short_label(axis[2])} of {axis[1]}"
    if motor:
        return f"{short_label(motor[2])} of motor {motor[1]}"
    return re.split("[,:]", input_label(path))[0]


_AXIS = re.compile(r"machine\.axes\.(\w+)\.(\w+)")
_MOTOR = re.compile(r"machine\.motors\.([^.]+)\.(.+)")


def machine_words(machine: Mapping[str, Any] | None) -> str:
    """``crossed belts``; empty where nothing is known."""
    if not machine:
        return ""
    name = str(machine.get("motor_map") or "")
    return _MAPS.get(name, name)


def item_titles(results: Mapping[str, Any]) -> dict[str, str]:
    """A title for every item of a comparison, by id."""
    titles = {item["id"]: sentence_case(item["what"]) for item in results.get("items") or ()}
    for row in (*(results.get("measurements") or ()), *(results.get("contrasts") or ())):
        titles.setdefault(row["item"], row["item"])
    return titles


def candidate_names(results: Mapping[str, Any]) -> dict[str, str]:
    """Candidates' names by id, in file order."""
    return {entry["id"]: entry.get("name") or entry["id"] for entry in results.get("candidates") or ()}


def call_words(row: Mapping[str, Any], names: Mapping[str, str]) -> str:
    """A contrast's call with the name of the candidate ahead, first letter large."""
    return sentence_case(call_text(row, names))


def counted(count: int, noun: str, plural: str = "") -> str:
    """``1 run``, ``3 runs``."""
    return f"{count} {noun if count == 1 else plural or noun + 's'}"
