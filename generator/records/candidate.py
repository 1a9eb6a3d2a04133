"""A candidate as its file gives it: leaves with owner, tolerance and source, and the set-up they make.

A leaf's owner says who shares its draw: ``common`` for a leaf inherited by every candidate, else the candidate's id.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from generator.records.hardware import Drive, Motor, Setup, Supply, Transmission, Value

COMMON = "common"


@dataclass(frozen=True)
class Leaf:
    """One stated or assumed figure: value [unit, SI], who owns it, how sure it is and where it came from.

    tolerance is a half-width when distribution is ``rectangular``, a standard deviation when ``normal``, the whole
    width of a uniform one from value to value + tolerance when ``one-sided``, and None when the figure is taken as
    exact. tolerance_relative says whether it is a share of the value or in unit.
    origin is ``file`` (written there) or ``assumed`` (a default that the page names).
    """

    owner: str
    path: str
    value: float
    unit: str
    tolerance: float | None = None
    tolerance_relative: bool = True
    distribution: str = "rectangular"
    tolerance_origin: str = "assumed"
    source: str | None = None
    origin: str = "file"

    @property
    def half_width(self) -> float:
        """Tolerance in the leaf's own unit; 0 where exact."""
        if self.tolerance is None:
            return 0.0
        return self.tolerance * abs(self.value) if self.tolerance_relative else self.tolerance


@dataclass(frozen=True)
class Item:
    """How the tested specimen came here, as ISO/IEC 17025 asks for the condition of the item."""

    obtained: str | None = None
    price: float | None = None
    currency: str | None = None
    price_date: str | None = None
    units_tested: int | None = None
    hours_run: float | None = None
    condition: str | None = None


@dataclass(frozen=True)
class Candidate:
    """One of the compared variants.

    leaves maps a dotted path (``motor.inductance``, ``machine.axes.x.moving_mass``, ``supply.voltage``,
    ``machine.motors.y.transmission.drag_torque``) to its Leaf, with ``drive.sine_factor`` (k_v) among them.
    facts holds what is not a number (wiring, profile, step_division, …) by the same paths.
    """

    id: str
    name: str
    axes: tuple[str, ...]
    motor_map: tuple[tuple[float, ...], ...]
    motor_map_name: str
    motor_names: tuple[str, ...]
    leaves: Mapping[str, Leaf]
    facts: Mapping[str, Any] = field(default_factory=dict)
    item: Item = Item()

    def setup(self, values: Mapping[str, Value] | None = None) -> Setup:
        """Join the leaves into a Setup; ``values`` replaces single leaves, by path, with a number or draws."""
        return _Joiner(self, values or {}).setup()


class _Joiner:
    """Turns paths and values into the nested records of one Setup."""

    def __init__(self, candidate: Candidate, values: Mapping[str, Value]) -> None:
        self.candidate = candidate
        self.values = values

    def get(self, path: str) -> Value | None:
        if path in self.values:
            return self.values[path]
        leaf = self.candidate.leaves.get(path)
        return None if leaf is None else leaf.value

    def need(self, path: str) -> Value:
        value = self.get(path)
        if value is None:
            raise KeyError(path)
        return value

    def some(self, path: str, default: float = 0.0) -> Value:
        value = self.get(path)
        return default if value is None else value

    def nested(self, motor: str, path: str) -> Value | None:
        """A motor's own leaf where it has one, else the machine's."""
        own = self.get(f"machine.motors.{motor}.{path}")
        if own is not None:
            return own
        return self.get(path if path.startswith("motor.") else f"machine.{path}")

    def number(self, path: str) -> float | None:
        value = self.get(path)
        return None if value is None else float(value)

    def setup(self) -> Setup:
        c = self.candidate
        per_axis = {
            key: tuple(self.some(f"machine.axes.{axis}.{key}") for axis in c.axes)
            for key in ("moving_mass", "friction", "viscous", "steady_force")
        }
        return Setup(
            candidate=c.id,
            axes=c.axes,
            motor_map=c.motor_map,
            travel=tuple(self.number(f"machine.axes.{axis}.travel") for axis in c.axes),
            motors=tuple(self.motor(name) for name in c.motor_names),
            transmissions=tuple(self.transmission(name) for name in c.motor_names),
            counts=tuple(int(c.facts.get(f"machine.motors.{name}.count", 1)) for name in c.motor_names),
            supply=self.supply(),
            drive=self.drive(),
            jerk=self.number("move.jerk"),
            **per_axis,
        )

    def motor(self, name: str) -> Motor:
        values = {key: self.nested(name, f"motor.{key}") for key in _MOTOR_FIELDS}
        known: dict[str, Any] = {key: value for key, value in values.items() if value is not None}
        step_angle = float(known["step_angle"])
        return Motor(rotor_teeth=round(math.pi / 2 / step_angle), **known)

    def transmission(self, name: str) -> Transmission:
        def get(key: str) -> Value | None:
            return self.nested(name, f"transmission.{key}")

        ratio = get("ratio")
        ratio = 1.0 if ratio is None else ratio
        pitch, teeth, lead, travel = (get(key) if key in self.travel_keys(name) else None for key in _TRAVEL_KEYS)
        if pitch is not None and teeth is not None:
            kind, per_turn, teeth_per_turn = "belt", pitch * teeth / ratio, float(teeth / ratio)
        elif lead is not None:
            kind, per_turn, teeth_per_turn = "screw", lead / ratio, None
        elif travel is not None:
            kind, per_turn, teeth_per_turn = "travel", travel / ratio, None
        else:
            raise KeyError("machine.transmission")
        efficiency = get("efficiency")
        return Transmission(
            kind=kind,
            travel_per_turn=per_turn,
            efficiency=1.0 if efficiency is None else efficiency,
            back_efficiency=_back_efficiency(kind, efficiency),
            shaft_inertia=self._or_zero(get("shaft_inertia")),
            drag_torque=self._or_zero(get("drag_torque")),
            belt_stiffness=get("belt_stiffness"),
            teeth_per_turn=teeth_per_turn,
        )

    def travel_keys(self, name: str) -> tuple[str, ...]:
        """Keys that say how far this motor's turn goes: its own way of saying so puts the machine's out of force."""
        own = [key for key in _TRAVEL_KEYS if self.get(f"machine.motors.{name}.transmission.{key}") is not None]
        if not own:
            return _TRAVEL_KEYS
        return _TRAVEL_KEYS[:2] if own[0] in _TRAVEL_KEYS[:2] else (own[0],)

    @staticmethod
    def _or_zero(value: Value | None) -> Value:
        return 0.0 if value is None else value

    def supply(self) -> Supply:
        return Supply(
            voltage=self.need("supply.voltage"),
            source_resistance=self.some("supply.source_resistance"),
            capacitance=self.get("supply.capacitance"),
        )

    def drive(self) -> Drive:
        peak, rms = self.get("drive.peak_current"), self.get("drive.rms_current")
        if peak is None and rms is None:
            raise KeyError("drive.peak_current")
        division = self.candidate.facts.get("drive.step_division")
        return Drive(
            current_peak=peak if peak is not None else math.sqrt(2) * rms,  # type: ignore[operator]
            voltage_drop=self.some("drive.voltage_drop"),
            voltage_limit=self.number("drive.voltage_limit"),
            step_division=None if division is None else int(division),
            standstill_current=self.number("drive.standstill_current"),
            sine_factor=self.some("drive.sine_factor", 1.0),
        )


_TRAVEL_KEYS = ("belt_pitch", "pulley_teeth", "screw_lead", "travel_per_turn")

_MOTOR_FIELDS = (
    "step_angle",
    "holding_torque",
    "rated_current",
    "resistance",
    "inductance",
    "rotor_inertia",
    "detent_torque",
    "iron_drag",
    "winding_temperature",
)


def _back_efficiency(kind: str, efficiency: Value | None) -> Value:
    """Efficiency with the load driving: the same for a belt, max(0, 2 − 1/η) for a screw (approximate)."""
    if efficiency is None:
        return 1.0
    if kind != "screw":
        return efficiency
    back: Value = np.maximum(2.0 - 1.0 / efficiency, 0.0)
    return back
