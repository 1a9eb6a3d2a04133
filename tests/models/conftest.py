"""Motors and machines that the model tests share: plausible figures, no product."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from generator.records.candidate import Candidate, Leaf
from generator.records.hardware import Drive, Motor, Setup, Supply, Transmission

DIAGONAL = (math.sqrt(0.5), math.sqrt(0.5))

MOTORS = {
    "P": Motor(50, math.radians(1.8), 0.50, 2.5, 1.2, 1.5e-3, 82e-7),
    "Q": Motor(100, math.radians(0.9), 0.44, 2.0, 1.7, 3.2e-3, 82e-7),
}


def crossed_belts(motor: Motor, current_peak: float, **changes: Any) -> Setup:
    """The reference machine: crossed belts, 20 teeth of 2 mm, 48 V; changes replace fields of the Setup."""
    setup = Setup(
        candidate="reference",
        axes=("x", "y"),
        motor_map=((1.0, 1.0), (1.0, -1.0)),
        moving_mass=(0.35, 0.65),
        friction=(0.0, 0.0),
        viscous=(0.0, 0.0),
        steady_force=(0.0, 0.0),
        travel=(None, None),
        motors=(motor, motor),
        transmissions=(Transmission("belt", 0.04, drag_torque=0.03),) * 2,
        counts=(1, 1),
        supply=Supply(48.0),
        drive=Drive(current_peak),
    )
    return replace(setup, **changes)


def single_axis(motor: Motor, current_peak: float, **changes: Any) -> Setup:
    """One axis, one motor, no friction unless ``changes`` brings it."""
    fields: dict[str, Any] = {
        "axes": ("x",),
        "motor_map": ((1.0,),),
        "moving_mass": (0.5,),
        "friction": (0.0,),
        "viscous": (0.0,),
        "steady_force": (0.0,),
        "travel": (None,),
        "motors": (motor,),
        "transmissions": (Transmission("belt", 0.04),),
        "counts": (1,),
    }
    return crossed_belts(motor, current_peak, **(fields | changes))


def machine_leaves(owner: str = "common") -> dict[str, Leaf]:
    """Leaves of the reference machine with motor P and the default tolerances."""
    rows = [
        ("motor.step_angle", math.radians(1.8), "rad", None),
        ("motor.holding_torque", 0.50, "N·m", 0.10),
        ("motor.rated_current", 2.5, "A", None),
        ("motor.resistance", 1.2, "ohm", 0.10),
        ("motor.inductance", 1.5e-3, "H", 0.20),
        ("motor.rotor_inertia", 82e-7, "kg·m²", 0.10),
        ("machine.axes.x.moving_mass", 0.35, "kg", 0.02),
        ("machine.axes.y.moving_mass", 0.65, "kg", 0.02),
        ("machine.transmission.belt_pitch", 2e-3, "m", None),
        ("machine.transmission.pulley_teeth", 20.0, "", None),
        ("machine.transmission.drag_torque", 0.03, "N·m", 0.30),
        ("supply.voltage", 48.0, "V", 0.02),
        ("drive.peak_current", 2.5, "A", 0.05),
    ]
    leaves = {path: Leaf(owner, path, value, unit, tolerance) for path, value, unit, tolerance in rows}
    sine = Leaf(owner, "drive.sine_factor", 1.0, "1", 4 / math.pi - 1, False, "one-sided", origin="assumed")
    return leaves | {sine.path: sine}


def reference_candidate(name: str, leaves: dict[str, Leaf], axes: tuple[str, ...] = ("x", "y")) -> Candidate:
    """A candidate on the crossed-belt machine."""
    return Candidate(name, name, axes, ((1.0, 1.0), (1.0, -1.0)), "crossed-belts", ("x", "y"), leaves)


@pytest.fixture
def motors() -> dict[str, Motor]:
    return MOTORS


@pytest.fixture
def make_setup() -> Callable[..., Setup]:
    return crossed_belts


@pytest.fixture
def make_axis() -> Callable[..., Setup]:
    return single_axis


@pytest.fixture
def make_candidate() -> Callable[..., Candidate]:
    return reference_candidate


@pytest.fixture
def make_leaves() -> Callable[..., dict[str, Leaf]]:
    return machine_leaves
